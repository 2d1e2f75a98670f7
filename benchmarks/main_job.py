"""How long the main job takes, beside a named reference in the same run.

    python benchmarks/main_job.py            everything
    python benchmarks/main_job.py --quick    without the hundredfold rig

The reference is a headless office suite that recalculates and exports a patch workbook of 32
inputs: what the same person does today. Where it is not installed the ratios are left out.
Figures are medians; nothing here fails on a slow machine.
"""

import argparse
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import textwrap
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from openpyxl import Workbook

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from benchmarks.scale import write

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "src" / "rigproof" / "demo"
OFFICE = ("soffice", "libreoffice")


def main() -> None:
    """Measure and print a table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true", help="leave the hundredfold rig out")
    quick = asked.parse_args().quick
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        print(
            f"Python {platform.python_version()}, {os.cpu_count()} processors, {platform.machine()}"
        )
        office_s = office_seconds(folder)
        show("office suite: 32-input workbook recalculated and exported", office_s)
        checks(folder, office_s, quick=quick)
        books(folder)
        imports()


def show(what: str, seconds: float | None, note: str = "") -> None:
    """One line of the table."""
    figure = "not installed" if seconds is None else f"{seconds * 1000:9.1f} ms"
    print(f"{what:66} {figure:>13}  {note}")


def whole(command: Sequence[str], *, times: int = 5, code: int | None = None) -> float:
    """Median wall time of a whole process, warm disk."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    taken = []
    for number in range(times + 1):
        start = time.perf_counter()
        done = subprocess.run(command, capture_output=True, env=environment, check=False)
        if code is not None and done.returncode != code:
            raise SystemExit(f"{' '.join(command)}: {done.stderr.decode()}")
        if number:  # the first one warms the disk
            taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def inside(script: str) -> list[float]:
    """Seconds that a Python script prints, one a line, run in a process of its own."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)],
        capture_output=True,
        text=True,
        check=True,
        env=environment,
    )
    return [float(line) for line in done.stdout.split()]


def office_seconds(folder: Path) -> float | None:
    """The reference, or None where no office suite is installed."""
    suite = next((found for name in OFFICE if (found := shutil.which(name))), None)
    if suite is None:
        return None
    book = folder / "patch.xlsx"
    workbook(book)
    profile = f"-env:UserInstallation=file://{folder}/profile"
    command = [
        suite,
        profile,
        "--headless",
        "--convert-to",
        "pdf",
        "--outdir",
        str(folder),
        str(book),
    ]
    return whole(command, times=3, code=0)


def workbook(path: Path) -> None:
    """A patch of 32 inputs as people keep it: an input list, look-ups, sums, a matrix of sends."""
    book = Workbook()
    inputs = book.active
    assert inputs is not None
    inputs.title = "Inputs"
    inputs.append(["No.", "Source", "Socket", "Channel", "48 V", "Gain"])
    for number in range(1, 33):
        inputs.append(
            [
                number,
                f"Source {number}",
                f"A{number}",
                f"=A{number + 1}",
                "x" * (number % 2),
                number,
            ]
        )
    sends = book.create_sheet("Sends")
    sends.append(["Source", *(f"Mix {n}" for n in range(1, 9)), "Most"])
    for number in range(2, 34):
        look = f"=VLOOKUP({number - 1},Inputs!A:F,2,FALSE)"
        levels = [f"=-MOD({number}*{mix},18)" for mix in range(1, 9)]
        sends.append([look, *levels, f"=MAX(B{number}:I{number})"])
    book.save(path)


_IN_PROCESS = """
    import resource, time
    from pathlib import Path
    from statistics import median
    from rigproof.checks.verdict import check
    from rigproof.rigfile.load import load
    path = Path({path!r})
    text = (path / "rig.yaml").read_text("utf-8")
    def taken():
        start = time.perf_counter()
        check(load(path))
        return time.perf_counter() - start
    print(taken())
    print(median(taken() for _ in range(5)))
    changed = []
    for number in range({times}):
        (path / "rig.yaml").write_text(text + f"# version {{number}}\\n", "utf-8")
        changed.append(taken())
    print(median(changed))
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def checks(folder: Path, office_s: float | None, *, quick: bool) -> None:
    """The verdict on the demo, and on the demo many times over."""
    once = whole([sys.executable, "-m", "rigproof", "check", str(DEMO)], code=1)
    ratio = f"{once / office_s:.2f} of the office suite" if office_s else ""
    show("check, demo, whole process", once, ratio)
    base = 0.0
    for copies in (1, 10) if quick else (1, 10, 100):
        rig = folder / f"times-{copies}"
        write(DEMO, rig, copies)
        first, again, changed, megabytes = inside(
            _IN_PROCESS.format(path=str(rig), times=9 // copies + 1)
        )
        base = base or changed
        note = f"{changed / base:.1f} times the demo, {megabytes:.0f} MB" if copies > 1 else ""
        show(f"check in one process, {copies} x the demo, first", first)
        show(f"check in one process, {copies} x the demo, again, nothing changed", again)
        show(f"check in one process, {copies} x the demo, again, a line changed", changed, note)
        if copies > 1:
            check = [sys.executable, "-m", "rigproof", "check", str(rig)]
            show(f"check, {copies} x the demo, whole process", whole(check, times=1, code=1))


_BOOK = """
    import resource, time
    from pathlib import Path
    from rigproof.checks.verdict import check
    from rigproof.rigfile.load import load, parse
    from rigproof.rigfile.library import own_types
    from rigproof.showbook import book
    folder = Path({path!r})
    book(check(load(folder)))
    text = (folder / "rig.yaml").read_bytes()
    taken = []
    for number in range(5):
        changed = text.replace(b"name: Fiddle,", f"name: Fiddle {{number}},".encode())
        start = time.perf_counter()
        book(check(parse(changed, "rig.yaml", *own_types(folder))))
        taken.append(time.perf_counter() - start)
    print(sorted(taken)[2])
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def books(folder: Path) -> None:
    """The show book of the demo, cold and with one name changed."""
    target = folder / "book.pdf"
    command = [sys.executable, "-m", "rigproof", "book", str(DEMO), "-o", str(target)]
    show("show book, demo, whole process", whole(command, times=3, code=1))  # it has findings
    again, megabytes = inside(_BOOK.format(path=str(DEMO)))
    show("show book, demo, one name changed, same process", again, f"{megabytes:.0f} MB at most")


def imports() -> None:
    """What importing the package costs beyond the bare interpreter."""
    run: Callable[[str], float] = lambda code: whole([sys.executable, "-c", code], times=9)  # noqa: E731
    show("import rigproof, beyond the bare interpreter", run("import rigproof") - run("pass"))


if __name__ == "__main__":
    main()
