"""Spreadsheets to rigs: each cell has one fate, messy ones are understood, hostile ones refused."""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigproof.rig import Rig
from rigproof.rigfile.intake.apostrophes import defused, restored
from rigproof.rigfile.intake.cells import Grid, Value
from rigproof.rigfile.intake.entering import merged, numbers_stay
from rigproof.rigfile.intake.opening import opened
from rigproof.rigfile.intake.sources import Understood
from rigproof.rigfile.intake.understanding import understood
from rigproof.rigfile.load import parse
from tests.cli.conftest import SMALL
from tests.rigfile.sheets import fate, grid, one, rig_of

# --- every cell is accounted for ----------------------------------------------------------------

WORDS = st.sampled_from(
    ["Ch", "Source", "Mic", "48V", "Player", "Stand", "Notes", "Kanal", "Quelle", "Mix", "Aux",
     "Kick", "OH L", "OH R", "Keys L/R", "Vox 1-3", "spare", "DRUMS", "x", "-", "DI", "Ana",
     "=1+1", "7-8", "CH 3", "12", "a\nb", " pad ", "\u202eabc", "🥁", "e\u0301", "A1"]
)  # fmt: skip
VALUES = st.one_of(
    WORDS,
    st.integers(-3, 40),
    st.floats(allow_nan=False, allow_infinity=False, width=16),
    st.booleans(),
    st.text(min_size=1, max_size=12).filter(lambda text: bool(text.strip())),
)
GRIDS = st.builds(
    lambda cells, merged, hidden: Grid(
        name="S",
        cells=cells,
        merged=tuple((t, left, t + h, left + w) for t, left, h, w in merged),
        hidden_rows=hidden,
    ),
    st.dictionaries(st.tuples(st.integers(1, 14), st.integers(1, 9)), VALUES, max_size=60),
    st.lists(
        st.tuples(st.integers(1, 14), st.integers(1, 9), st.integers(0, 4), st.integers(0, 4)),
        max_size=3,
    ),
    st.frozensets(st.integers(1, 14), max_size=3),
)


def tidy(text: str) -> str:
    return " ".join("".join(s if s.isprintable() else " " for s in text).split())


def everything_kept(found: Understood, rig: Rig) -> str:
    """All that the new rig says, as one text."""
    parts: list[str] = [rig.about.note]
    parts += [person.name for person in rig.file.people]
    for source in rig.file.sources:
        parts += [*source.lane_names, source.name, source.label, source.stand]
        parts += [source.alternative, source.note]
    parts += [row.line for row in rig.file.patch]
    parts += [hold.why for hold in rig.file.holds]
    return tidy(" | ".join(parts))


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(GRIDS, st.one_of(st.none(), st.integers(0, 4)))
def test_every_cell_has_one_fate_and_what_is_kept_can_be_found(
    sheet: Grid, head_row: int | None
) -> None:
    found = understood(sheet, head_row=head_row)
    assert [one.place for one in found.fates] == sorted(sheet.cells)
    assert all(one.what for one in found.fates)
    rig = rig_of(found)  # holds together, whatever the sheet said
    kept = everything_kept(found, rig)
    for told in found.fates:
        text = tidy(told.value)
        if told.became == "kept as note" or told.what in ("player", "stand", "line", "note"):
            assert text in kept, told


# --- a plain list, and the mess of real ones ----------------------------------------------------


def test_a_plain_list() -> None:
    found = understood(
        grid(
            ["Ch", "Source", "Mic/DI", "48V", "Stand", "Player", "Notes", "Rack side"],
            [1, "Kick", "dynamic", None, "low boom", "Runa", None, None],
            [2, "OH L", "condenser", "x", "tall boom", "Runa", "quiet please", "left"],
            [3, "OH R", "condenser", "x", "tall boom", "Runa", None, None],
            [4, "Bass", "DI", None, None, "Ossian", None, None],
        )
    )
    assert [(s.name, s.channels, s.stereo, s.player) for s in found.inputs] == [
        ("Kick", (1, 1), False, "Runa"),
        ("OH", (2, 3), True, "Runa"),
        ("Bass", (4, 4), False, "Ossian"),
    ]
    assert one(found, "OH").phantom == "must"
    assert one(found, "Kick").phantom == "none"
    assert one(found, "Bass").mic == "di-passive"
    assert one(found, "OH").notes == ("quiet please", "Rack side: left")
    assert fate(found, "H3").became == "kept as note"
    rig = rig_of(found)
    assert {s.name: str(rig.rows[s.id].channel) for s in rig.file.sources} == {
        "Kick": "1",
        "OH": "2-3",
        "Bass": "4",
    }
    assert [column.trust for column in found.columns[:7]] == ["sure"] * 7


def test_german_headings_semicolons_and_an_old_encoding(tmp_path: Path) -> None:
    text = (
        "Kanal-Nr.;Bezeichnung;Mikrofon;Phantomspeisung;Stativ;Musiker;Bemerkung\r\n"
        "1;Große Trommel;dynamisch;nein;klein;Jörg;nah\r\n"
        "2;Gesang;Kondensator;ja;groß;Käthe;\r\n"
    )
    path = tmp_path / "liste.csv"
    path.write_bytes(text.encode("cp1252"))
    (sheet,) = opened(path)
    assert "its letters were read as Windows-1252" in sheet.remarks
    assert "its cells stand apart by semicolons" in sheet.remarks
    found = understood(sheet)
    assert [(s.name, s.player, s.phantom) for s in found.inputs] == [
        ("Große Trommel", "Jörg", "none"),
        ("Gesang", "Käthe", "must"),
    ]


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_signs_between_cells_and_encodings(tmp_path: Path, sign: str, encoding: str) -> None:
    rows = [["Ch", "Source", "Notes"], ["1", "Kick", 'a "big" one'], ["2", "Gurdy né", "a, b; c"]]
    text = "\n".join(sign.join('"' + c.replace('"', '""') + '"' for c in row) for row in rows)
    path = tmp_path / "list.csv"
    path.write_bytes(text.encode(encoding))
    (sheet,) = opened(path)
    assert [[sheet.cells[r, c] for c in (1, 2, 3)] for r in (1, 2, 3)] == rows


def test_titles_gaps_sections_free_channels_and_a_second_table() -> None:
    found = understood(
        grid(
            ["The Mossgate Three"],
            ["Input list, version 3", None, None, "please print"],
            [],
            ["#", "Input", "Mic", "48V"],
            ["DRUMS"],
            ["1", "Thing in", None, None],
            ["CH 02", "Thing out", None, None],
            [4, "spare", None, None],
            [5, None, None, None],
            [],
            [None, "VOX", None, None],
            [9, "Vox 1-3", "the blue one", None],
            ["x9", "Late guest", None, None],
            [],
            ["Mix", "Who", "Pack", None],
            [1, "Ana", "P1", None],
            [2, "Bo", "P2", None],
        )
    )
    assert [(s.name, s.channels) for s in found.inputs] == [
        ("Thing in", (1, 1)),
        ("Thing out", (2, 2)),
        ("Vox 1", (9, 9)),
        ("Vox 2", (10, 10)),
        ("Vox 3", (11, 11)),
        ("Late guest", None),
    ]
    assert one(found, "Thing in").family == "drums"  # by the heading above it
    assert one(found, "Vox 2").notes == ("Mic: the blue one",)  # a maker's word stays a note
    assert one(found, "Late guest").notes == ("#: x9",)
    assert [(f.channels, f.why) for f in found.free] == [((4, 4), "spare")]
    assert fate(found, "A1").became == "kept as note"
    assert found.notes[:2] == ("The Mossgate Three", "Input list, version 3 | please print")
    assert {fate(found, cell).became for cell in ("A15", "B16", "C17")} == {"left out"}
    assert any("another table" in remark for remark in found.remarks)


def test_two_lists_side_by_side() -> None:
    found = understood(
        grid(
            ["Ch", "Source", None, "Ch", "Source", None, "Aux", "Who"],
            [1, "Kick", None, 17, "Keys", None, 1, "Ana"],
            [2, "Snare", None, 18, "Voice", None, 2, "Bo"],
        )
    )
    assert [(s.name, s.channels) for s in found.inputs] == [
        ("Kick", (1, 1)),
        ("Snare", (2, 2)),
        ("Keys", (17, 17)),
        ("Voice", (18, 18)),
    ]
    assert fate(found, "H2").what == "another table beside the list"


def test_headings_that_come_again() -> None:
    found = understood(
        grid(
            ["Ch", "Source", "48V"],
            [1, "Kick", "x"],
            [],
            ["Ch", "Source", "48V"],
            [2, "Voice", None],
        )
    )
    assert [(s.name, s.channels) for s in found.inputs] == [("Kick", (1, 1)), ("Voice", (2, 2))]
    assert fate(found, "B4").what == "a heading"


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (["Keys L", "Keys R"], [("Keys", (1, 2), True)]),
        (["Keys (L)", "Keys (R)"], [("Keys", (1, 2), True)]),
        (["Keys links", "Keys rechts"], [("Keys", (1, 2), True)]),
        (["OH SR", "OH SL"], [("OH", (1, 2), True)]),
        (["Keys R", "Keys L"], [("Keys R", (1, 1), False), ("Keys L", (2, 2), False)]),
        (["Keys L", "Pads R"], [("Keys L", (1, 1), False), ("Pads R", (2, 2), False)]),
        (["Keys L/R", None, "Next"], [("Keys", (1, 2), True), ("Next", (3, 3), False)]),
        (["Keys L/R", "Next"], [("Keys", (1, 1), True), ("Next", (2, 2), False)]),
        (["Keys (stereo)"], [("Keys", (1, 2), True)]),
        (["Vox 1-3", None, None, "Next"], [("Vox 1", (1, 1), False), ("Vox 2", (2, 2), False),
                                           ("Vox 3", (3, 3), False), ("Next", (4, 4), False)]),
        (["Vox 1-3", "Next"], [("Vox 1-3", (1, 1), False), ("Next", (2, 2), False)]),
    ],
)  # fmt: skip
def test_pairs_and_runs(names: list[str | None], expected: list[Any]) -> None:
    rows: list[list[Value | None]] = [
        [number, name] for number, name in enumerate(names, 1) if name is not None
    ]
    found = understood(grid(["Ch", "Source"], *rows))
    assert [(s.name, s.channels, s.stereo) for s in found.inputs] == expected


def test_numbers_that_stand_twice_are_said_and_kept() -> None:
    found = understood(
        grid(["Ch", "Source"], [1, "Kick"], [1, "Snare"], [0, "Zero"], [-2, "Minus"])
    )
    assert [(s.name, s.channels) for s in found.inputs] == [
        ("Kick", (1, 1)),
        ("Snare", (1, 1)),
        ("Zero", None),
        ("Minus", None),
    ]
    assert "number 1 stands in row 2 and in row 3" in found.remarks
    assert one(found, "Zero").notes == ("Ch: 0",)


def test_a_sheet_without_headings() -> None:
    found = understood(grid([1, "Kick", "Runa"], [2, "Snare", "Runa"], [3, "Voice", "Tamsin"]))
    assert found.head.row == 0
    assert [(s.name, s.channels) for s in found.inputs] == [
        ("Kick", (1, 1)),
        ("Snare", (2, 2)),
        ("Voice", (3, 3)),
    ]
    assert {column.trust for column in found.columns if column.field} == {"guess"}


def test_a_person_corrects_the_guess() -> None:
    sheet = grid(["Ch", "Thing", "Source"], [1, "Kick", "the red drum"])
    found = understood(sheet, told={"source": 2, "note": 3})
    assert [(s.name, s.notes) for s in found.inputs] == [("Kick", ("the red drum",))]
    assert {column.trust for column in found.columns if column.field in ("source", "note")} == {
        "told"
    }
    nowhere = understood(sheet, told={"number": None})
    assert [s.channels for s in nowhere.inputs] == [None]
    assert nowhere.inputs[0].notes == ("Ch: 1", "Thing: Kick")


def test_cells_merged_downwards_speak_for_each_row() -> None:
    found = understood(
        grid(
            ["Ch", "Source", "Player"],
            [1, "Kick", "Runa"],
            [2, "Snare", None],
            [3, "Voice", "Tamsin"],
            merged=((2, 3, 3, 3),),
        )
    )
    assert [s.player for s in found.inputs] == ["Runa", "Runa", "Tamsin"]


# --- into a rig that is there -------------------------------------------------------------------


def test_no_number_moves_and_nothing_is_written_over() -> None:
    rig = parse(SMALL.encode())
    found = understood(
        grid(
            ["Ch", "Source", "Player", "Stand", "Notes"],
            [7, "Lead voice", "Somebody", "tall boom", "bring two"],
            [3, "Fiddle", "Bo", None, None],
            [6, "Tuba", "Cy", None, None],
        )
    )
    plan = merged(found, rig)
    from rigproof.rigfile.edit import apply

    text = apply(SMALL, plan.edits)
    after = parse(text.encode())
    assert numbers_stay(rig, after) == []
    assert str(after.rows["voice"].channel) == "1"
    assert after.sources["voice"].player == "ana"
    assert after.sources["voice"].stand == "tall boom"
    assert after.sources["voice"].note == "bring two"
    assert str(after.rows["tuba"].channel) == "6"
    assert after.people["cy"].name == "Cy"
    assert after.sources["fiddle"].player == "bo"
    assert "fiddle" not in after.rows  # 3 belongs to the keys
    told = " / ".join(plan.differs)
    assert "Lead voice: stays at channel 1, the sheet has 7" in told
    assert "the rig has Ana Ørn, the sheet Somebody" in told
    assert "Fiddle: channel 3 is Keys, so it got no channel" in told
    again = merged(found, after)
    assert [type(edit).__name__ for edit in again.edits] == []


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(1, 20),
            st.sampled_from(["Lead voice", "Keys", "Click", "Tuba", "Gurdy", "Pipes L", "Pipes R"]),
            st.sampled_from(["Ana Ørn", "Bo", "Cy", None]),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_numbers_stay_whatever_a_sheet_says(rows: list[Any]) -> None:
    from rigproof.rigfile.edit import apply

    rig = parse(SMALL.encode())
    found = understood(grid(["Ch", "Source", "Player"], *(list(row) for row in rows)))
    after = parse(apply(SMALL, merged(found, rig).edits).encode())
    assert numbers_stay(rig, after) == []
    assert rig.sources.keys() <= after.sources.keys()


# --- the apostrophe -----------------------------------------------------------------------------


@given(st.text(alphabet=st.sampled_from("=+-@'\t\r\n;|\"ax ,"), max_size=12))
def test_what_is_defused_comes_back(text: str) -> None:
    assert restored(defused(text)) == text


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "'=1", "＝1"])
def test_no_text_begins_like_a_formula(text: str) -> None:
    assert defused(text).startswith("'")


@pytest.mark.parametrize("text", ["Kick", "'n' roll", "a-b", "a=b", "1,5", "né"])
def test_harmless_texts_stay(text: str) -> None:
    assert defused(text) == text == restored(text)


def test_texts_of_a_rig_survive_their_quotes() -> None:
    """A name that looks like YAML is a name in the new rig."""
    odd = ["{a: b}", "- x", "yes", "12:30", "#no", "&a *b", "'", '"', "a: b", "null", "0x1F"]
    rows: list[list[Value | None]] = [[number, name] for number, name in enumerate(odd, 1)]
    found = understood(grid(["Ch", "Source"], *rows))
    assert [source.name for source in rig_of(found).file.sources] == odd
