"""`python -m rigproof`: the same program as the `rigproof` command."""

import sys

from rigproof.cli import main

if __name__ == "__main__":
    sys.exit(main())
