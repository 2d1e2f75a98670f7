"""The command line: read what was asked, call one function below, show the answer."""

import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code: 0 clean, 1 findings, 2 it could not run."""
    words = list(sys.argv[1:] if argv is None else argv)
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
