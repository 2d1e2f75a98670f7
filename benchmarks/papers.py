"""How long the whole set of papers takes, beside a named reference in the same run.

    python benchmarks/papers.py            everything
    python benchmarks/papers.py --quick    without the tenfold rig

The set is what `rigproof papers --all` prints: show book, single papers of the band, labels, pocket
book, workbook of all lists and papers. The reference is a headless office suite that prints that
very workbook to PDF: the same content by the tool that people use today. Where it is not installed
the ratios are left out. Nothing here fails on a slow machine.
"""

import argparse
import os
import platform
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from benchmarks.main_job import DEMO, OFFICE, inside, show, whole
from benchmarks.scale import write

ONE_BY_ONE = ("book", "papers", "labels", "pocket", "export")

# Each round as it is typed: seconds and seconds of processor, first in a fresh process without any
# layouts remembered, then again with nothing changed, then with one name changed; the most memory
# used after the first and after the last.
_PROCESS = """
    import time
    start = time.perf_counter(), time.process_time()
    import io, resource
    from contextlib import redirect_stdout, redirect_stderr
    from pathlib import Path
    from rigproof.cli import main
    folder, out = Path({folder!r}), Path({out!r})
    words = {{
        "all": ["papers", folder, "--all", "-o", out],
        "book": ["book", folder, "-o", out / "show-book.pdf"],
        "papers": ["papers", folder, "-o", out / "papers-band.pdf"],
        "labels": ["labels", folder, "-o", out / "labels.pdf"],
        "pocket": ["pocket", folder, "-o", out / "pocket-book.html"],
        "export": ["export", folder, "--as", "xlsx", "-o", out / "rig-band.xlsx"],
    }}
    rig = folder / "rig.yaml"
    text = rig.read_text("utf-8")
    def once(start):
        for name in {commands!r}:
            said = io.StringIO()
            with redirect_stdout(said), redirect_stderr(said):
                code = main([str(word) for word in words[name]])
            if code not in (0, 1):
                raise SystemExit(said.getvalue())
        print(time.perf_counter() - start[0])
        print(time.process_time() - start[1])
    once(start)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    once((time.perf_counter(), time.process_time()))
    rig.write_text(text.replace("name: Fiddle,", "name: Fiddle two,"), "utf-8")
    once((time.perf_counter(), time.process_time()))
    rig.write_text(text, "utf-8")
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


class Rounds(NamedTuple):
    """Three rounds in one process: cold, warm and with one name changed; megabytes."""

    cold: float
    cold_cpu: float
    megabytes: float
    warm: float
    warm_cpu: float
    changed: float
    changed_cpu: float
    most: float


def main() -> None:
    """Measure and print a table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true", help="leave the tenfold rig out")
    quick = asked.parse_args().quick
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        print(
            f"Python {platform.python_version()}, {os.cpu_count()} processors, {platform.machine()}"
        )
        one = measured(folder, 1, ("all",))
        office = office_seconds(folder, folder / "out-1" / "rig-band.xlsx")
        show("office suite: the same workbook printed to PDF", office)
        table("1 x the demo", one, office)
        apart = measured(folder, 1, ONE_BY_ONE)
        table("1 x the demo, five commands in one process", apart, office)
        if not quick:
            ten = measured(folder, 10, ("all",))
            table("10 x the demo", ten, None)
            cold, cpu = ten.cold / one.cold, ten.cold_cpu / one.cold_cpu
            print(f"10 x the demo, first: {cold:.1f} times the demo, {cpu:.1f} on the processor")


def measured(folder: Path, copies: int, commands: Sequence[str]) -> Rounds:
    """The figures of a rig that is so many times the demo."""
    rig, out = folder / f"times-{copies}-{len(commands)}", folder / f"out-{copies}"
    write(DEMO, rig, copies)
    out.mkdir(exist_ok=True)
    script = _PROCESS.format(folder=str(rig), out=str(out), commands=tuple(commands))
    return Rounds(*inside(script))


def table(size: str, found: Rounds, office: float | None) -> None:
    """The lines of one rig."""
    rounds = (
        ("first, no layouts remembered", found.cold, found.cold_cpu, found.megabytes),
        ("again, nothing changed", found.warm, found.warm_cpu, None),
        ("again, one name changed", found.changed, found.changed_cpu, found.most),
    )
    for what, seconds, cpu, most in rounds:
        beside = f"{seconds / office:.2f} of the office suite, " if office else ""
        memory = f", {most:.0f} MB" if most else ""
        show(f"the whole set, {size}, {what}", seconds, f"{beside}{cpu:.1f} s of processor{memory}")


def office_seconds(folder: Path, book: Path) -> float | None:
    """The reference, or None where no office suite is installed."""
    suite = next((found for name in OFFICE if (found := shutil.which(name))), None)
    if suite is None:
        return None
    command = [suite, f"-env:UserInstallation=file://{folder}/profile", "--headless"]
    command += ["--convert-to", "pdf", "--outdir", str(folder), str(book)]
    return whole(command, times=1, code=0)


if __name__ == "__main__":
    main()
