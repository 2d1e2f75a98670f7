"""The command line: read what was asked, call one function below, show the answer."""

import gc
import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code: 0 clean, 1 findings, 2 it could not run."""
    if argv is None:
        return _as_process(sys.argv[1:])
    words = list(argv)
    try:
        if words in (["--version"], ["-V"]):  # asked by scripts: before anything is loaded
            from rigproof import __version__

            print(f"rigproof {__version__}")
            return 0
        from rigproof.cli.run import run

        return run(words)
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


def _as_process(words: Sequence[str]) -> int:
    """Run the one command of a process.

    What it builds stays until the end and then goes with the process: to walk it for garbage on
    the way and once more at the door would cost a tenth of a check.
    """
    gc.disable()
    try:
        return main(words)
    finally:
        gc.freeze()
