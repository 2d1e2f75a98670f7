"""A German set of papers speaks German: no English sentence of ours is left on any of them."""

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from textwrap import dedent

import msgspec
import pytest
from msgspec.structs import replace

from rigproof.checks.catalogue import rules
from rigproof.checks.rule import look
from rigproof.checks.verdict import check
from rigproof.rigfile.load import load
from rigproof.showbook import cover, judged, numbers
from rigproof.showbook.binding import set_out
from rigproof.showbook.edition import Edition, head
from rigproof.showbook.papers import PAPERS, Order
from rigproof.wording.phrases import subject, subjects
from rigproof.wording.sentences import FOLDER, said_in, sentences
from tests.bands import WHOLE
from tests.checks.looking import example_rig

GERMAN = Edition(language="de", measures="imperial")
# Set by hand from the very names and figures of other papers, and slow to lay out.
DRAWN = frozenset({"signal-flow", "whole-flow"})
# Words that hold an English sentence together and are no German ones.
ENGLISH = frozenset(
    """and are at by cannot for from has have is needs no not of that the to where which with
    """.split()  # noqa: SIM905 (one word under the other would fill the page)
)
QUOTED = re.compile("\u201e[^\u201c]*\u201c")  # a key of the rig file, say
WORD = re.compile(r"[^\W_][\w.’'/-]*")
# What is no sentence: drawings, identifiers of rules, names of templates.
NO_TEXT = frozenset({"svg", "rule", "id", "form", "kind", "look", "file"})


def texts(data: object, key: str = "") -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, Mapping):
        for name, one in data.items():
            if name not in NO_TEXT:
                yield from texts(one, name)
    elif isinstance(data, Sequence):
        for one in data:
            yield from texts(one, key)


def words(text: str) -> list[str]:
    return [word.rstrip(".'’") for word in WORD.findall(QUOTED.sub("", text))]


@cache
def known() -> Mapping[str, str]:
    """Every text without places that the catalogue has, by its English, where German differs."""
    found = dict(sentences("de"))
    for name in subjects():
        for said in subject(name).values():
            english, german = said["en"], said["de"]
            if isinstance(english, str) and isinstance(german, str):
                found[english] = german
    return {e: g for e, g in found.items() if "{" not in e and g != e and " " in e}


def faults(said: Iterator[str], users: str) -> list[str]:
    """Texts that are English and of which no part is the user's.

    A word of the list is let pass where it stands in the user's own file beside the same neighbour.
    """
    own = set(pairwise(words(users)))
    found = []
    for text in dict.fromkeys(said):
        row = words(text)
        english = {
            number
            for number, word in enumerate(row)
            if word in ENGLISH and not own & set(pairwise(row[max(0, number - 1) : number + 2]))
        }
        if english or (text in known() and text not in users):
            found.append(text)
    return found


def users_of(folder: Path) -> str:
    return " ".join(path.read_text(encoding="utf-8") for path in sorted(folder.rglob("*.yaml")))


@pytest.mark.parametrize("name", ["demo", "trio"])
def test_no_paper_holds_an_english_sentence(name: str) -> None:
    verdict = check(load(WHOLE[name]))
    order, rig = Order(verdict=verdict, edition=GERMAN), verdict.view.rig
    papers: dict[str, object] = {
        paper.id: msgspec.to_builtins(
            [set_out(sheet) for sheet in paper.sheets(order)], enc_hook=GERMAN.letters
        )
        for paper in PAPERS
        if paper.id not in DRAWN
    }
    papers |= {
        "head": head(rig, GERMAN),
        "cover": cover.page(verdict, GERMAN),
        "findings": judged.findings(rig, verdict, GERMAN),
        "planned": judged.planned(verdict, GERMAN),
        "unseen": judged.unseen(rig, verdict, GERMAN, (), ()),
        "numbers": numbers.chapters(verdict.view, GERMAN),
    }
    users = users_of(WHOLE[name])
    left = {paper: faults(texts(data), users) for paper, data in papers.items()}
    assert {paper: found for paper, found in left.items() if found} == {}
    assert sum(1 for data in papers.values() for _ in texts(data)) > 1500


def test_a_box_without_a_name_is_called_by_its_german_type_beside_its_label() -> None:
    rig = load(WHOLE["demo"])
    gear = tuple(replace(one, name="") for one in rig.file.gear)
    nameless = replace(rig, file=replace(rig.file, gear=gear))
    order = Order(verdict=check(nameless), edition=GERMAN)
    said = {
        paper.id: " ".join(
            texts(
                msgspec.to_builtins(
                    [set_out(sheet) for sheet in paper.sheets(order)], enc_hook=GERMAN.letters
                )
            )
        )
        for paper in PAPERS
        if paper.id in {"patch", "network", "failures", "person"}
    }
    assert "Netzfilter mit Frontleuchten [PWR] ans Netz" in said["patch"]
    assert "Router mit WLAN im Rack [NET]" in said["network"]
    english = re.compile(r"Mains filter with|Headphone amplifier|Stage box \[|Router with")
    for text in said.values():
        assert "Kopfhörerverstärker [HA]" in text or "Stagebox [SB]" in text
        assert not english.search(text)


# Rules that still do. A new rule may stand here until it is put into German; the list only shrinks.
SPEAK_ENGLISH: frozenset[str] = frozenset()


def test_no_rule_speaks_english_to_german_readers() -> None:
    found: dict[str, list[str]] = {}
    for rule in rules():
        example = dedent(rule.parts["Fails"])
        for finding in rule.findings(look(example_rig(example))):
            told = (finding.says, finding.fix, finding.figure, *finding.path)
            left = faults((said_in("de", text) for text in told), example)
            found.setdefault(rule.id, []).extend(left)
    assert len(found) == len(rules())
    assert {rule for rule, left in found.items() if left} == SPEAK_ENGLISH


def test_figures_have_their_commas_and_english_has_its_points() -> None:
    view = look(load(WHOLE["trio"]))
    point, comma = re.compile(r"\d\.\d"), re.compile(r"\d,\d")
    address = re.compile(r"\d+\.\d+\.\d+|\bhttp|\d{4}\.\d{2}|CFR 1910.95|H\.870")
    german = list(texts(numbers.chapters(view, Edition(language="de"))))
    english = list(texts(numbers.chapters(view, Edition())))
    assert [t for t in german if point.search(t) and not address.search(t)] == []
    assert sum(bool(comma.search(t)) for t in german) > 200
    assert sum(bool(point.search(t)) for t in english) > 200


def test_feet_and_pounds_where_they_are_asked_for() -> None:
    view = look(load(WHOLE["trio"]))
    metric, imperial = (
        {
            chapter["title"]: chapter
            for chapter in numbers.chapters(view, Edition(measures=measures))
        }
        for measures in ("metric", "imperial")
    )
    units = re.compile(r"\b(?:kg|m|mm)\b")
    for title in ("Weight and lifting", "Leads"):
        assert any(units.search(text) for text in texts(metric[title]))
        told = [text for text in texts(imperial[title]) if units.search(text)]
        # Named by those who wrote them: the hands of the lifting equation, plugs of 25 mm.
        assert [text for text in told if "castors stand" not in text] == []


@pytest.mark.parametrize(
    ("text", "users", "faulty"),
    [
        ("The mix of Ana is too loud.", "", True),
        ("Mix: the tea urn", "shared_with: [the tea urn]", False),
        ("Kabel to-house", "", False),
        ("Rack on, house off", "", True),
        ("Der Mix von Ana ist zu laut.", "", False),
    ],
)
def test_a_planted_english_sentence_is_found(text: str, users: str, faulty: bool) -> None:
    assert bool(faults(iter([text]), users)) is faulty


def test_the_catalogue_of_sentences_is_there() -> None:
    assert len(sentences("de")) > 1000
    assert FOLDER.is_dir()
