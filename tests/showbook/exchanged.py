"""Rigs handed to other programs: the whole ones, and one full of hostile text and secrets."""

import json
from functools import cache
from typing import Any

from rigproof.checks.rule import look
from rigproof.checks.verdict import Verdict, check
from rigproof.rig import Rig
from rigproof.rigfile.load import load, parse
from rigproof.showbook.edition import Edition, Reader
from rigproof.showbook.exchange import Listing, listings
from rigproof.showbook.exchange.whole import plain
from rigproof.showbook.exchange.workbook import workbook
from rigproof.showbook.papers import Order, for_reader
from tests.bands import WHOLE


@cache
def ordered(name: str, reader: Reader = "band", language: str = "en") -> Order:
    edition = Edition(reader=reader, language="de" if language == "de" else "en")
    return Order(verdict=check(load(WHOLE[name])), edition=edition)


def quick(rig: Rig, language: str = "en") -> Order:
    """An order for a rig that no rule looked at: lists need none."""
    verdict = Verdict((), (look(rig),), (), 0)
    return Order(verdict=verdict, edition=Edition(language="de" if language == "de" else "en"))


def made(order: Order) -> bytes:
    papers = (paper for paper in for_reader(order.edition.reader) if not paper.drawn)
    sheets_ = (sheet for paper in papers for sheet in paper.sheets(order))
    return workbook(order, listings(order), sheets_).xlsx


def inputs(order: Order) -> Listing:
    return next(one for one in listings(order) if one.id == "inputs")


# --- hostile text -------------------------------------------------------------------------------

HOSTILE = (
    '=HYPERLINK("http://bad.example","x")',
    "+1+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1:A9)",
    "'=1+1",
    "a;=1+1",
    'quote " and , comma',
    "<b>&amp;</b>]]><!--",
    "{{7*7}} ${7} #eval(1) $x^2$",
    "%%d %%c ^J \\U+0041 \\M+1",
    '&L&"Arial"&24 foot',
    "_x0041_",
    "\u202egnirts\u202c \u05d0\u05d1 \u0627\u0644",
    "e" + "\u0301" * 40,
    "👩‍👩‍👧‍👦🥁",
    "../../etc/passwd",
    "C:\\con\\nul.txt",
    "CON",
    "two\nlines\tand a tab",
    "long " + "x" * 9_900,
)
SECRETS = {
    "phone": "+00 555 9911",
    "mail": "secret@bad.example",
    "serial": "SER-7781",
    "price": 77_123.0,
    "password": "hunter-9913",
}


def hostile_rig() -> Rig:
    """The trio with every free text replaced, and a secret in every place for one."""
    rig = load(WHOLE["trio"])
    stated = plain(rig.file)
    texts = iter(HOSTILE * 200)

    def poison(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: poison(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [poison(one, key) for one in value]
        if key in ("name", "plays", "stand", "note", "alternative", "line", "colour"):
            return next(texts)[: 190 if key == "name" else 9_990]
        if key == "label":
            return next(texts)[:64]
        return value

    document: Any = poison(stated)
    document["rig"]["note"] = HOSTILE[-1]
    document["rig"]["band"] = '&L&"Arial"&24 foot'
    for number, source in enumerate(document["sources"]):
        source["name"] = HOSTILE[number % len(HOSTILE)]
    for number, person in enumerate(document["people"]):
        person["name"] = HOSTILE[-1 - number]
        person["phone"] = SECRETS["phone"]
    for gear in document["gear"]:
        gear["serial"], gear["price_eur"] = SECRETS["serial"], SECRETS["price"]
    document.setdefault("control", {})["password"] = SECRETS["password"]
    for venue in document.get("venues", []):
        venue["phone"] = SECRETS["phone"]
    return parse(json.dumps(document, ensure_ascii=False).encode(), types=dict(rig.types))


@cache
def hostile(reader: Reader = "band") -> Order:
    return Order(verdict=check(hostile_rig()), edition=Edition(reader=reader))
