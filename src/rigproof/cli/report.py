"""The report of a failure that is ours: for those who mend the program, out of people's sight."""

import os
import platform
import tempfile
import traceback
from collections.abc import Sequence

from rigproof import __version__


def write_report(error: BaseException, words: Sequence[str]) -> str:
    """Write what went wrong into a new file; its path, or nothing where none can be written."""
    text = "\n".join(
        [
            f"Rigproof {__version__}, Python {platform.python_version()}, {platform.platform()}",
            f"rigproof {' '.join(words)}",
            "",
            *traceback.format_exception(error),
        ]
    )
    try:
        number, path = tempfile.mkstemp(prefix="rigproof-report-", suffix=".txt", text=True)
        with os.fdopen(number, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(text)
    except OSError:
        return ""
    return path
