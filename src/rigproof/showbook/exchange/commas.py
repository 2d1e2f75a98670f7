"""Lists as comma-separated text that a spreadsheet opens and cannot run.

RFC 4180: commas, CRLF, every field in quotes that needs them. A byte order mark tells spreadsheets
that the letters are UTF-8. Figures have a decimal point in every language.

A spreadsheet takes a field that begins with = + - @ for a formula. Such a text gets an apostrophe
before it, and so does a text that begins with apostrophes before one of these signs, so that the
reader can take exactly one away again. The same is done inside a text behind ; tab | " and line
ends, because a spreadsheet that splits at another sign than the comma begins a new field there.
"""

import csv
from io import StringIO

from rigproof.rigfile.intake.apostrophes import defused
from rigproof.showbook.exchange.listing import Listing, Value

BOM = "\ufeff"


def commas(listing: Listing) -> bytes:
    """A list as a file: a line of headings, then a line for each row."""
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([defused(heading.text) for heading in listing.headings])
    for row in listing.rows:
        writer.writerow([_field(value) for value in listing.values(row)])
    return (BOM + text.getvalue()).encode("utf-8", "replace")


def _field(value: Value) -> str | int | float:
    if value is None:
        return ""
    if isinstance(value, float):
        return int(value) if value.is_integer() else value
    return defused(value) if isinstance(value, str) else value
