"""How long the whole set of papers takes, beside a named reference in the same run.

    python benchmarks/papers.py            everything
    python benchmarks/papers.py --quick    without the tenfold rig

The set: show book, single papers of the band, labels, pocket book, workbook of all lists and
papers. The reference is a headless office suite that prints that very workbook to PDF: the same
content by the tool that people use today. Where it is not installed the ratios are left out.
Nothing here fails on a slow machine.
"""

import argparse
import os
import platform
import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from benchmarks.main_job import DEMO, OFFICE, inside, show, whole
from benchmarks.scale import write

SET = ("book", "papers", "labels", "pocket", "export")

# Each command as it is typed, one after the other in one process: seconds of each, first in a
# fresh process without any layouts remembered, then again with nothing changed, then with one name
# changed; the most memory used after the first and the third.
_PROCESS = """
    import io, resource, time
    from contextlib import redirect_stdout, redirect_stderr
    from pathlib import Path
    from rigproof.cli import main
    folder, out = Path({folder!r}), Path({out!r})
    words = {{
        "book": ["book", folder, "-o", out / "book.pdf"],
        "papers": ["papers", folder, "-o", out / "papers.pdf"],
        "labels": ["labels", folder, "-o", out / "labels.pdf"],
        "pocket": ["pocket", folder, "-o", out / "pocket.html"],
        "export": ["export", folder, "--as", "xlsx", "-o", out / "rig.xlsx"],
    }}
    rig = folder / "rig.yaml"
    text = rig.read_text("utf-8")
    def once():
        for name in {commands!r}:
            start = time.perf_counter()
            said = io.StringIO()
            with redirect_stdout(said), redirect_stderr(said):
                code = main([str(word) for word in words[name]])
            if code not in (0, 1):
                raise SystemExit(said.getvalue())
            print(time.perf_counter() - start)
    once()
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    once()
    rig.write_text(text.replace("name: Fiddle,", "name: Fiddle two,"), "utf-8")
    once()
    rig.write_text(text, "utf-8")
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


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
        one = measured(folder, 1)
        office = office_seconds(folder, folder / "out-1" / "rig.xlsx")
        show("office suite: the same workbook printed to PDF", office)
        table(one, office)
        if not quick:
            ten = measured(folder, 10)
            table(ten, None, ten["cold"] / one["cold"])


def measured(folder: Path, copies: int) -> dict[str, float]:
    """The figures of a rig that is so many times the demo."""
    rig, out = folder / f"times-{copies}", folder / f"out-{copies}"
    write(DEMO, rig, copies)
    out.mkdir()
    script = _PROCESS.format(started=0, folder=str(rig), out=str(out), commands=SET)
    *seconds, most = inside(script)
    first, rest = seconds[: len(SET)], seconds[len(SET) + 1 :]
    found = dict(zip(SET, first, strict=True))
    cold, warm, changed = sum(first), sum(rest[: len(SET)]), sum(rest[len(SET) :])
    return found | {
        "copies": copies,
        "cold": cold,
        "warm": warm,
        "changed": changed,
        "megabytes": seconds[len(SET)],
        "most": most,
    }


def table(found: dict[str, float], office: float | None, times: float | None = None) -> None:
    """The lines of one rig."""
    size = f"{found['copies']:.0f} x the demo"
    for name in SET:
        show(f"{name}, {size}, first", found[name])
    beside = f"{found['cold'] / office:.2f} of the office suite" if office else ""
    note = f"{times:.1f} times the demo" if times else beside
    note += f", {found['megabytes']:.0f} MB"
    show(f"the whole set, {size}, first, no layouts remembered", found["cold"], note)
    warm = f"{found['warm'] / office:.2f} of the office suite" if office else ""
    show(f"the whole set, {size}, again, nothing changed", found["warm"], warm)
    changed = f"{found['changed'] / office:.2f} of the office suite, " if office else ""
    most = f"{changed}{found['most']:.0f} MB after three times"
    show(f"the whole set, {size}, again, one name changed", found["changed"], most)


def office_seconds(folder: Path, book: Path) -> float | None:
    """The reference, or None where no office suite is installed."""
    suite = next((found for name in OFFICE if (found := shutil.which(name))), None)
    if suite is None:
        return None
    command = [suite, f"-env:UserInstallation=file://{folder}/profile", "--headless"]
    command += ["--convert-to", "pdf", "--outdir", str(folder), str(book)]
    return whole(command, times=3, code=0)


if __name__ == "__main__":
    main()
