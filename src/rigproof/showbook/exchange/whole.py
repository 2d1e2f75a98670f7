"""The whole rig as one document for other programs: as completed, with its lists and findings.

`rig` has the form of a rig file, so it can be read as one. A stranger gets the lists that are for
them and nothing else.
"""

import json
from collections.abc import Mapping
from typing import Any, Literal

import msgspec

from rigproof import __version__
from rigproof.checks.catalogue import rules
from rigproof.checks.rule import Finding, Severity
from rigproof.checks.scope import unseen
from rigproof.rig import GearType, RigFile
from rigproof.rig.entry import Entry
from rigproof.rig.quantity import Quantity
from rigproof.rig.ref import BankRef, Numbers
from rigproof.rigfile import schema
from rigproof.showbook.edition import Edition, Reader, head
from rigproof.showbook.exchange.listing import Listing, Row, listings
from rigproof.showbook.papers import Order
from rigproof.wording.phrases import Language
from rigproof.wording.sentences import sentence

# The form of the document; it changes when a reader of the old form would be misled.
FORM: Literal[1] = 1
TITLE = "A rig for other programs"


class Head(msgspec.Struct, frozen=True, kw_only=True):
    """Whose rig, which version, until when, whom to call."""

    name: str
    band: str
    version: str
    date: str
    valid_until: str
    call: str


class ListHeading(msgspec.Struct, frozen=True, kw_only=True):
    """A column: the key of its values in each row, its title, the unit of its figures."""

    key: str
    title: str
    unit: str


class List(msgspec.Struct, frozen=True, kw_only=True):
    """One list. In a row stands what is known; a key that is missing has no value."""

    id: str
    title: str
    headings: tuple[ListHeading, ...]
    rows: tuple[dict[str, str | int | float], ...]


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that the rules found; where a figure is beside its limit, both."""

    rule: str
    severity: Severity
    says: str
    fix: str
    file: str
    line: int
    column: int
    path: tuple[str, ...]
    found: float | None
    limit: float | None
    unit: str
    show: str


class FilledIn(msgspec.Struct, frozen=True, kw_only=True, rename={"for_": "for"}):
    """What the rig file leaves out and was planned, and why so."""

    for_: str
    planned: str
    because: str


class Whole(msgspec.Struct, frozen=True, kw_only=True, rename={"for_": "for"}):
    """A rig as Rigproof hands it to other programs.

    `rig`, `types`, `findings`, `planned` and `not_looked_at` are the band's alone; for all other
    readers they are null.
    """

    rigproof: str
    form: Literal[1]
    for_: Reader
    language: Language
    about: Head
    lists: tuple[List, ...]
    rig: RigFile | None
    types: tuple[GearType, ...] | None
    findings: tuple[Found, ...] | None
    planned: tuple[FilledIn, ...] | None
    not_looked_at: tuple[str, ...] | None


# Parts that are published already, in files beside this one.
_ELSEWHERE = {
    "#/$defs/RigFile": "rig.schema.json",
    "#/$defs/GearType": "gear.schema.json#/$defs/GearType",
}
_OWN = frozenset({"Head", "List", "ListHeading", "Found", "FilledIn"})


def whole_schema() -> dict[str, Any]:
    """The schema of the document; rig and gear types are as the schemas beside it say."""
    made = schema.document(Whole, TITLE)
    made["$defs"] = {name: part for name, part in made["$defs"].items() if name in _OWN}
    text = schema.text(made)
    for here, there in _ELSEWHERE.items():
        text = text.replace(f'"{here}"', f'"{there}"')
    found: dict[str, Any] = json.loads(text)
    return found


def whole(order: Order) -> bytes:
    """The document of a rig, the same bytes for the same rig."""
    rig, verdict, private = order.rig, order.verdict, order.edition.private
    top = head(rig, order.edition)
    document: dict[str, object] = {
        "rigproof": __version__,
        "form": FORM,
        "for": order.edition.reader,
        "language": order.edition.language,
        "about": {
            "name": rig.about.name,
            "band": rig.about.band,
            **{key: top[key] for key in ("version", "date", "valid_until", "call")},
        },
        "lists": [_list(one) for one in listings(order)],
        "rig": plain(rig.file) if private else None,
        "types": [plain(rig.types[name]) for name in sorted(rig.types)] if private else None,
        "findings": [_told(one, order.edition) for one in verdict.findings] if private else None,
        "planned": [
            {"for": one.subject, "planned": one.planned, "because": one.because}
            for one in order.view.plan.reasons
        ]
        if private
        else None,
        "not_looked_at": unseen(rules(), order.edition.language) if private else None,
    }
    return (
        msgspec.json.format(msgspec.json.encode(document, enc_hook=order.edition.letters), indent=1)
        + b"\n"
    )


def _told(finding: Finding, edition: Edition) -> Mapping[str, object]:
    """A finding as programs read it, its words in the language of the document."""
    return finding.data | {
        "says": edition.tell(finding.says),
        "fix": edition.tell(finding.fix),
        "path": [edition.tell(place) for place in finding.path],
        "unit": edition.tell(sentence(finding.unit)),
    }


def _list(listing: Listing) -> Mapping[str, object]:
    return {
        "id": listing.id,
        "title": listing.title,
        "headings": msgspec.to_builtins(listing.headings),
        "rows": [_stated(row, listing) for row in listing.rows],
    }


def _stated(row: Row, listing: Listing) -> Row:
    """What of a row is known, without the columns that are not for this reader."""
    return {
        heading.key: value
        for heading in listing.headings
        if (value := row.get(heading.key)) is not None
    }


def plain(value: object) -> object:
    """An entry as its file would state it: no places, nothing that nobody wrote."""
    if isinstance(value, Entry):
        keys = zip(value.__struct_fields__, value.__struct_encode_fields__, strict=True)
        parts = {key: getattr(value, field) for field, key in keys if field != "where"}
        return {key: plain(part) for key, part in parts.items() if part not in (None, (), "")}
    if isinstance(value, tuple):
        return [plain(part) for part in value]
    if isinstance(value, Quantity):
        stated = {"value": float(value), "from": value.provenance}
        more = {"date": value.date, "note": value.note}
        return stated | {key: text for key, text in more.items() if text}
    return str(value) if isinstance(value, BankRef | Numbers) else value
