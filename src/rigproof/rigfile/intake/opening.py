"""Any file that somebody calls a spreadsheet: told by what is in it, not by its name."""

from pathlib import Path

from rigproof.rigfile.intake import separated, xlsx
from rigproof.rigfile.intake.cells import Grid, Unreadable

LARGEST_BYTES = 32_000_000
MOST_LETTERS = 10_000_000
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def opened(path: Path) -> tuple[Grid, ...]:
    """The sheets of a file; a plain table is one sheet.

    Raises:
        Unreadable: what is wrong, and what to do.
    """
    found = _sheets(_bytes(path), path.stem)
    if not any(grid.cells for grid in found):
        raise Unreadable("it is empty.", "Is this the right file?")
    texts = [v for grid in found for v in grid.cells.values() if isinstance(v, str)]
    # One long text may stand in thousands of cells of a workbook and be stored once.
    if sum(map(len, texts)) > MOST_LETTERS:
        raise Unreadable(
            f"its cells hold more than {MOST_LETTERS // 1_000_000} million letters.",
            "Is this the right file?",
        )
    return found


def _bytes(path: Path) -> bytes:
    try:
        if not path.is_file():  # a pipe would be waited for without end
            there = path.exists()
            raise Unreadable(
                "this is not a file." if there else "there is no such file.",
                "Name a file: XLSX or CSV." if there else "Check the name.",
            )
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        why = error.strerror or "no reason given"
        raise Unreadable(
            f"it cannot be read: {why.lower()}.", "Check its permissions, and who has it open."
        ) from error
    if len(raw) > LARGEST_BYTES:
        raise Unreadable(
            f"it has more than {LARGEST_BYTES // 1_000_000} MB; no input list has.",
            "Take the pictures out, or save the one sheet as CSV.",
        )
    return raw


def _sheets(raw: bytes, name: str) -> tuple[Grid, ...]:
    if raw.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return xlsx.sheets(raw)
    if raw.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in raw:
            raise Unreadable(
                "it is protected by a password.", "Save it without one, then import that."
            )
        raise Unreadable("it is a workbook of the old kind (XLS).", "Save it as XLSX.")
    start = raw[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith(b"%pdf"):
        raise Unreadable("it is a PDF.", "Import the spreadsheet that it was made from.")
    if start.startswith((b"<", b"{\\rtf", b"\x89png", b"\xff\xd8")):
        raise Unreadable("it is no spreadsheet, whatever its name says.", "Save it as XLSX or CSV.")
    return (separated.plain_table(raw, name),)
