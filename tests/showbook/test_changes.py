"""What a change means on stage and in other people's hands."""

from functools import cache

import pytest

from rigproof.checks.verdict import Verdict, check
from rigproof.rig import Rig, RigFile
from rigproof.rigfile import library
from rigproof.rigfile.edit import Add, Edit, Rename, Set, apply
from rigproof.rigfile.load import load, parse
from rigproof.showbook import layered
from rigproof.showbook.changes import Changes, changes, headline, section_name
from rigproof.showbook.edition import READERS, Edition
from rigproof.showbook.papers import PAPERS, Order, Sheet
from tests.bands import WHOLE

# Those that name sources, places and people in words; the rest would only take time.
QUICK = ("hand-off", "input-list", "line-check", "patch", "person", "hearing")


@cache
def rig(name: str) -> Rig:
    return load(WHOLE[name])


@cache
def judged(name: str) -> Verdict:
    return check(rig(name))


def edited(name: str, *edits: Edit) -> Rig:
    text = (WHOLE[name] / "rig.yaml").read_text(encoding="utf-8")
    types, _ = library.own_types(WHOLE[name])
    return parse(apply(text, edits).encode(), types=types)


def between(name: str, after: Rig) -> Changes:
    return changes(judged(name), Order(verdict=check(after)), QUICK)


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_nothing_changed_is_nothing_told(name: str) -> None:
    papers = () if name == "trio" else QUICK
    found = changes(judged(name), Order(verdict=judged(name)), papers)
    assert not found
    assert found.kept > 0


NEW_PLAYER = (
    Add("people", {"id": "newcomer", "name": "Newcomer", "plays": "organ", "part": "keys"}),
    Add(
        "sources",
        {
            "id": "pump-organ",
            "name": "Organ",
            "family": "keys",
            "player": "newcomer",
            "stereo": True,
            "di": "di-passive-stereo",
            "connector": "jack-ts-f",
        },
    ),
    Add(
        "sources",
        {
            "id": "newcomer-voice",
            "name": "Newcomer voice",
            "family": "voices",
            "player": "newcomer",
            "mic": "mic-vocal-dynamic",
        },
    ),
)


@cache
def with_newcomer(name: str) -> Changes:
    return between(name, edited(name, *NEW_PLAYER))


@pytest.mark.parametrize("name", ["demo", "trio", "twelve"])
def test_a_new_keyboard_player_moves_no_number_of_ours(name: str) -> None:
    """A sceptic's question: which numbers move? The right answer: none."""
    found = with_newcomer(name)
    assert {one.id for one in found.entries} == {"newcomer", "pump-organ", "newcomer-voice"}
    ours = [m for night in found.nights for m in night.moves if m.spot.what != "house"]
    assert ours == []
    # A house that has a line for everything keeps its numbers too; one with too few must drop some.
    short = {hand.venue.id for view in found.after.views for hand in view.hand_offs if hand.dropped}
    theirs = {m.spot.venue for night in found.nights for m in night.moves}
    assert theirs <= short
    said = headline(Edition(), found)
    assert said.startswith("No ")
    assert "has moved" in said
    added = {move.lane.source for night in found.nights for move in night.added}
    assert "pump-organ" in added


def test_the_pages_that_name_a_source_are_wrong_and_no_others() -> None:
    found = between("demo", edited("demo", Set("sources/fiddle/name", "Viola")))
    wrong = {page.paper for page in found.pages if page.what == "wrong"}
    assert {"input-list", "line-check"} <= wrong
    assert all(page.what == "wrong" for page in found.pages)
    lines = next(page for page in found.pages if page.paper == "input-list")
    assert "house" in lines.readers
    # Labels that bear its short form stay; the legends write it out.
    assert {label.kind for label in found.labels.to_print} == {"legends", "cards"}
    ours = [move for night in found.nights for move in night.moves]
    assert ours == []


@pytest.mark.parametrize(
    ("edit", "wrong"),
    [
        (Set("sources/fiddle/name", "Viola"), []),  # the drawings bear the short form
        (Set("sources/fiddle/label", "Vla"), ["signal-flow", "whole-flow"]),
        (Set("patch/fiddle/plug", "split-b.in.15"), ["signal-flow", "whole-flow"]),
    ],
)
def test_drawings_are_compared_without_laying_them_out(
    monkeypatch: pytest.MonkeyPatch, edit: Edit, wrong: list[str]
) -> None:
    monkeypatch.setattr(layered, "ask", None)
    order = Order(verdict=check(edited("demo", edit)))
    found = changes(judged("demo"), order, ("signal-flow", "whole-flow"))
    assert [(page.paper, page.readers) for page in found.pages] == [(p, ("band",)) for p in wrong]


def test_a_page_for_a_new_person_is_new_and_of_one_who_left_void() -> None:
    # A person without anything else would be on no other page than her own.
    with_one = edited("demo", Add("people", {"id": "zita", "name": "Zita", "plays": "dances"}))
    found = between("demo", with_one)
    assert ("person", "new") in {(page.paper, page.what) for page in found.pages}
    back = changes(check(with_one), Order(verdict=judged("demo")), QUICK)
    assert ("person", "void") in {(page.paper, page.what) for page in back.pages}
    assert {label.id for label in back.labels.gone} == {"card-person-zita"}


def test_what_moves_is_told_with_both_places() -> None:
    found = between(
        "demo",
        edited("demo", Set("patch/fiddle/plug", "split-b.in.15"), Set("patch/fiddle/channel", 36)),
    )
    moves = {(m.name, m.spot.what): (m.before, m.after) for m in found.nights[0].moves}
    assert moves["Fiddle", "socket"] == ("split-b.in.3", "split-b.in.15")
    assert moves["Fiddle", "channel"] == ("19", "36")
    assert "have moved" in headline(Edition(), found)


def test_a_renamed_box_or_source_moves_nothing() -> None:
    found = between(
        "demo", edited("demo", Rename("gear/split-a", "front"), Rename("sources/kick", "bd"))
    )
    assert found.nights == ()
    assert {(one.before, one.id) for one in found.entries} == {("split-a", "front"), ("kick", "bd")}
    assert not found.pages
    assert found.labels.to_print == ()
    assert found.labels.gone == ()


def test_another_version_number_alone_spoils_no_page_but_what_quotes_it() -> None:
    found = between("demo", edited("demo", Set("rig/version", "9"), Set("rig/date", "2027-05-01")))
    assert [one.section for one in found.entries] == ["rig"]
    assert found.nights == ()
    assert found.labels.to_print == ()
    assert not {page.paper for page in found.pages} & {"input-list", "patch", "line-check"}


def test_sums_before_and_after() -> None:
    found = with_newcomer("demo")
    sums = {one.what: (one.before, one.after) for one in found.figures}
    free_before, free_after = sums["free_channels"]
    assert free_before is not None
    assert free_after is not None
    assert free_before - free_after == 3


def test_every_section_of_a_rig_file_has_a_name_in_every_language() -> None:
    for section in (*RigFile.__struct_fields__, "types"):
        if section not in {"where", "format"}:
            assert section_name(Edition(), section)
            assert section_name(Edition(language="de"), section)


# --- the sheet ---


def sheets(reader: str, after: Rig, *, language: str = "en") -> list[Sheet]:
    edition = Edition(reader=reader, language=language)  # type: ignore[arg-type]
    order = Order(verdict=check(after), edition=edition, earlier=rig("trio"))
    paper = next(paper for paper in PAPERS if paper.id == "changes")
    return list(paper.sheets(order)) if reader in paper.readers else []


def test_no_sheet_without_an_earlier_version_and_none_without_a_change() -> None:
    paper = next(paper for paper in PAPERS if paper.id == "changes")
    assert list(paper.sheets(Order(verdict=judged("trio")))) == []
    assert list(paper.sheets(Order(verdict=judged("trio"), earlier=rig("trio")))) == []


def test_each_reader_learns_what_is_his(monkeypatch: pytest.MonkeyPatch) -> None:
    from rigproof.showbook.changes import hands

    monkeypatch.setattr(hands, "PAPERS", tuple(p for p in PAPERS if p.id in QUICK))
    after = edited(
        "trio",
        Set("people/wren/phone", "+00 555 9999"),
        Set("gear/amp/serial", "own 7777"),
        Set("gear/amp/price_eur", 4321),
        *NEW_PLAYER,
    )
    said = {reader: str(sheets(reader, after)) for reader in READERS}
    assert said["shop"] == "[]"
    for private in ("9999", "7777", "4321", "4,321"):
        assert private not in said["house"]
        assert private not in said["deputy"]
    assert "+00 555 9999" in said["band"]
    assert "Organ L" in said["deputy"]
    theirs = [sheet.id.removeprefix("changes-") for sheet in sheets("house", after)]
    assert theirs
    assert set(theirs) <= set(after.venues)
    german = str(sheets("band", after, language="de"))
    assert "In der Rig-Datei" in german
    assert "dazu" in german or "neu" in german
