"""Edits change what they name and not one character more."""
# ruff: noqa: E501 (tables of cases read best one to a line)

from pathlib import Path

import pytest
import yaml
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rigproof.rig import RigErrors
from rigproof.rigfile import yaml12
from rigproof.rigfile.edit import Add, Edit, Move, Remove, Rename, Set, apply
from rigproof.rigfile.names import uses
from rigproof.rigfile.tree import plain
from tests.rigfile.sound import RIG, read, rig_folder


def lines_changed(old: str, new: str) -> tuple[list[str], list[str]]:
    """The lines that went and the lines that came, between the equal head and tail."""
    before, after = old.splitlines(), new.splitlines()
    head = next((n for n, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), 0)
    before, after = before[head:], after[head:]
    while before and after and before[-1] == after[-1]:
        before.pop(), after.pop()
    return before, after


# One edit, the lines that go, the lines that come: everything else must be as it was.
CASES: list[tuple[Edit, list[str], list[str]]] = [
    (
        Set("rig/name", 'Two "quotes": #1'),
        ['  name: "Tin Lantern"   # as on the poster'],
        ['  name: "Two \\"quotes\\": #1"   # as on the poster'],
    ),
    (Set("people/ann/name", "Anna's"), ["    name: 'Ann'"], ["    name: 'Anna''s'"]),
    (Set("patch/kick-in/phantom", "off"), ["  phantom: on"], ["  phantom: off"]),
    (
        Set("patch/kick-in/plug", "desk.in.4"),
        ["  plug: desk.in.3   # right at the back"],
        ["  plug: desk.in.4   # right at the back"],
    ),
    (Set("patch/#3/channel", 8), ["  channel: 3"], ["  channel: 8"]),
    (Set("patch/kick-in/channel", "7-8"), ["  channel: 3"], ["  channel: 7-8"]),
    (Set("people/bo/note", "12:30"), [], ['    note: "12:30"']),
    (
        Set("people/ann/ears/one_ear", True),
        ["    ears: {plug: desk.out.1, earphones: plugs}"],
        ["    ears: {plug: desk.out.1, earphones: plugs, one_ear: true}"],
    ),
    (Set("rig/contact/name", "Jo"), [], ["  contact: {name: Jo}"]),
    (
        Set("sources/kick-in/level_dbu/value", -11.5),
        ["    level_dbu: {value: -12, from: measured}"],
        ["    level_dbu: {value: -11.5, from: measured}"],
    ),
    (
        Set("sources/kick-in/level_dbu", -10),
        ["    level_dbu: {value: -12, from: measured}"],
        ["    level_dbu: -10"],
    ),
    (
        Set("gear", []),
        ["gear:", "  - id: desk", "    type: small-mixer", "    unit: 2"],
        ["gear: []"],
    ),
    (Add("holds", {"channels": "9-16", "why": "guests"}), [], ["holds:", "  - {channels: 9-16, why: guests}"]),
    (Add("patch", {"source": "click", "channel": 4}), [], ["- source: click", "  channel: 4"]),
    (
        Add("people", {"id": "di", "name": "Di"}, before="bo"),
        [],
        ["  - id: di", "    name: Di"],
    ),
    (
        Add("mixes/ann/sends", {"from": "click"}, after="voices"),
        [],
        ["      - {from: click}"],
    ),
    (
        Add("shows/spring/without", "cy", after="bo"),
        ["    without: [bo, click]"],
        ["    without: [bo, cy, click]"],
    ),
    (
        Remove("people/bo"),
        ["  - id: bo", "    name: Bó Ørsted", "    leads_band: true   # talks to all"],
        [],
    ),
    (
        Remove("patch/voice-bo/source"),
        ["- source: voice-bo", "  plug: desk.in.2"],
        ["- plug: desk.in.2"],
    ),
    (
        Remove("groups/voices"),
        ["groups:", "  - id: voices", "    sources: [voice-ann, voice-bo]"],
        ["groups: []"],
    ),
    (Remove("shows/spring/without/click"), ["    without: [bo, click]"], ["    without: [bo]"]),
    (Remove("shows/spring/without/bo"), ["    without: [bo, click]"], ["    without: [click]"]),
    (
        Move("shows/spring/without/bo", after="click"),
        ["    without: [bo, click]"],
        ["    without: [click, bo]"],
    ),
    (
        Move("patch/voice-bo", before="voice-ann"),
        ["- {source: voice-ann, plug: desk.in.1, channel: 1}", "- source: voice-bo", "  plug: desk.in.2", "  channel: 2"],
        ["- source: voice-bo", "  plug: desk.in.2", "  channel: 2", "- {source: voice-ann, plug: desk.in.1, channel: 1}"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("edit", "gone", "came"), CASES)
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("ending", ["", "last"])
def test_one_edit(edit: Edit, gone: list[str], came: list[str], newline: str, ending: str) -> None:
    text = RIG.replace("\n", newline)
    text = text if ending else text.removesuffix(newline)
    new = apply(text, [edit])
    # An added or removed line may equal its neighbour; sizes tell as much as contents then.
    before, after = lines_changed(text, new)
    assert len(after) - len(before) == len(came) - len(gone)
    assert sorted(set(new.splitlines()) - set(text.splitlines())) == sorted(
        set(came) - set(text.splitlines())
    )
    assert set(before) <= set(gone) | set(came) | set(after)
    assert new.endswith(newline) == bool(ending)
    assert newline == "\n" or new.replace(newline, "").count("\n") == 0


@pytest.mark.parametrize(("edit", "gone", "came"), CASES)
def test_comments_and_blank_lines_stay(edit: Edit, gone: list[str], came: list[str]) -> None:
    new = apply(RIG, [edit])
    for line in RIG.splitlines():
        if line.strip().startswith("#") or not line.strip():
            assert new.splitlines().count(line) == RIG.splitlines().count(line)


def test_moving_takes_the_comment_above_along() -> None:
    new = apply(RIG, [Move("people/bo", after="cy")])
    lines = new.splitlines()
    at = lines.index("  # Bo came in spring.")
    assert lines[at + 1] == "  - id: bo"
    assert lines.index("  - {id: cy, name: 小林, part: drums}") < at


def test_several_edits_one_after_the_other() -> None:
    new = apply(
        RIG,
        [
            Set("patch/kick-in/channel", 9),
            Add("people", {"id": "di", "name": "Di"}),
            Set("people/di/part", "voices"),
            Set("people/di/ears/plug", "desk.out.3"),
            Set("people/di/ears/one_ear", True),
            Rename("people/di", "dora"),
            Remove("people/dora/part"),
            Set("patch/kick-in/channel", 10),
        ],
    )
    data = plain(yaml12.compose(new))  # type: ignore[arg-type]
    assert data["people"][-1] == {
        "id": "dora", "name": "Di", "ears": {"plug": "desk.out.3", "one_ear": True},
    }  # fmt: skip
    assert data["patch"][-1]["channel"] == 10


RENAMES = [
    ("people/ann", "person"), ("people/bo", "person"), ("sources/kick-in", "source"),
    ("sources/voice-ann", "source"), ("groups/voices", "group"), ("gear/desk", "gear"),
    ("mixes/ann", "mix"), ("venues/barn", "venue"), ("shows/spring", "show"), ("leads/lead-1", "lead"),
    ("shows/spring/sources/guest-horn", "source"), ("sources/click", "source"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "kind"), RENAMES)
def test_renaming_finds_every_use(path: str, kind: str, tmp_path: Path) -> None:
    folder = rig_folder(tmp_path / "rig")
    old = path.rsplit("/", 1)[1]
    new = apply(RIG, [Rename(path, "brand-new")])
    rig = read(new, folder)  # no name is left without an answer
    before = [u for u in uses(read(RIG, folder).file) if u.name == old and kind in u.kinds]
    after = [u for u in uses(rig.file) if u.name == "brand-new"]
    kept = [u for u in uses(rig.file) if u.name == old and kind in u.kinds]
    assert len(before) == len(after) + len(kept)
    assert after
    assert all(len(u.kinds) > 1 for u in kept)
    # And back again: not a character differs.
    assert apply(new, [Rename(path.rsplit("/", 1)[0] + "/brand-new", old)]) == RIG


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (Rename("people/ann", "bo"), 'already called "bo"'),
        (Rename("gear/desk", "house"), "tails"),
        (Rename("groups/voices", "click"), "would then mean this group"),
        (Rename("people/ann", "Ann B."), "short word"),
        (Rename("patch/kick-in", "x"), "no name of its own"),
        (Set("sources/snare/name", "x"), 'sources has no "snare"'),
        (Set("people/#9/name", "x"), "3 entries"),
        (Set("rig/name/short", "x"), "holds no keys"),
        (Remove("rig/band"), 'rig has no "band"'),
        (Add("rig", "x"), "not a list"),
        (Move("people/ann"), "before which"),
        (Move("people/ann", after="zed"), 'no "zed"'),
        (Set("rig/name", "\ud800"), "half a character"),
        (Set("rig/name", float("nan")), "no figure"),
    ],
)
def test_refusals_say_why(edit: Edit, says: str) -> None:
    with pytest.raises(RigErrors) as caught:
        apply(RIG, [edit])
    assert says in str(caught.value)


TEXTS = ["no", "on", "12:30", "010", "0x10", "1_000", "~", "null", "true", ".inf", "1e3", "#", "a #b",
         "a: b", "a:", ": a", "- a", "-", "?", "? a", "! a", "&a", "*a", "%a", "@a", "`a", "|", ">", "'",
         '"', "\\", " a", "a ", "\ta", "a\tb", "a\nb", "\n", "a\n", "\r\n", "", "{", "}", "[a", "a]", "a,b",
         "2026-04-01", "<<", "=", "🎺", "שלום", "مرحبا", "小林", "e\u0301", "\u200f", "\u2028", "\x85", "\ufeff",
         "\x00", "\x7f", "\uffff", "---", "...", "a" * 10_000, "😀 " * 5_000, "x: y # z, [w]"]  # fmt: skip

# Where a text can stand: plain, quoted both ways, over several lines, in brackets, as a new key.
PLACES = [
    "rig/name", "rig/note", "rig/band", "people/ann/name", "people/bo/name", "people/cy/name",
    "people/cy/note", "sources/voice-bo/name", "shows/spring/without/#1",
]  # fmt: skip


@pytest.mark.parametrize("path", PLACES)
@settings(max_examples=60, derandomize=True, deadline=None)
@given(text=st.text(st.characters(exclude_categories=["Cs"])) | st.sampled_from(TEXTS))
def test_any_text_comes_back(path: str, text: str) -> None:
    _comes_back(path, text)


@pytest.mark.parametrize("path", PLACES)
def test_awkward_texts_come_back(path: str) -> None:
    for text in TEXTS:
        _comes_back(path, text)


def _comes_back(path: str, text: str) -> None:
    new = apply(RIG, [Set(path, text)])
    data = plain(yaml12.compose(new))  # type: ignore[arg-type]
    for step in path.split("/"):
        if isinstance(data, list):
            index = int(step[1:]) - 1 if step[0] == "#" else None
            data = data[index] if index is not None else next(d for d in data if d["id"] == step)
        else:
            data = data[step]
    assert data == text
    assert isinstance(data, str)


WORDS = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Cn"], exclude_characters="/#"), max_size=12
)
DATA = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**16), 10**16)
    | st.floats(allow_nan=False, allow_infinity=False) | WORDS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=60, derandomize=True, deadline=None)
@given(value=DATA)
@example(value=[[[]]])
@example(value={"": {"": None}})
def test_any_data_can_be_set_and_added(value: object) -> None:
    # `apply` compares what the file says with what it should say, and refuses on a difference.
    new = apply(RIG, [Set("rig/extra", value)])  # type: ignore[arg-type]
    new = apply(new, [Add("people", value)])  # type: ignore[arg-type]
    apply(new, [Remove("people/#4"), Remove("rig/extra")])
    apply(new, [Set("people/#1", value), Set("people/#3", value)])  # type: ignore[arg-type]


STYLES = ["a: {b: 1,  c: [1,2 , 3,], }", "a:\n    b: 1 # x\n\n    c:\n    -   1\n    - 2 # two\n\n\n    -  3\n",
          "# head\na:\n  c: # list\n  # why\n  - 1\n  - 2\n  # end\n  - 3 # three\n  b: |+\n    text\n\n\nz: 1\n",
          "---\na:\n  b: >-\n    x\n    y\n  c: [\n    1, # one\n    2, # two\n    3 # three\n  ]\n...\n",
          "'a' : {  \"b\" : x , c : [1,\n  2,3]}", "a:\n  c:\n    - 1\n    - 2\n    - 3\n  b: 'it''s'"]  # fmt: skip


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    style=st.sampled_from(STYLES),
    newline=st.sampled_from(["\n", "\r\n"]),
    edits=st.lists(
        st.sampled_from([
            Set("a/b", 5), Set("a/b", "t: x"), Set("a/d", [1, {"x": 2}]), Set("a/c", [9]), Set("n", {"m": 1}),
            Add("a/c", 7), Add("a/c", "w", before="#1"), Add("a/c", {"k": 1}, after="#1"), Remove("a/c/#1"),
            Remove("a/c/#2"), Remove("a/b"), Move("a/c/#1", after="#2"), Move("a/c/#2", before="#1"),
        ]),
        min_size=1, max_size=5,
    ),
)  # fmt: skip
def test_styles_mixed(style: str, newline: str, edits: list[Edit]) -> None:
    text = style.replace("\n", newline)
    comments = [line for line in text.split(newline) if line.strip().startswith("#")]
    new, says = text, ""
    try:
        new = apply(text, edits)
    except RigErrors as refused:
        says = str(refused)
    # Refused only because something that an edit names is gone, never for an awkward text.
    assert "garble" not in says, (text, edits)
    assert yaml.safe_load(new) is not None
    gone = any(e.path == "a/c" and isinstance(e, Set) for e in edits)
    assert gone or all(line in new for line in comments)
