"""A first rig holds together, whoever plays what and whatever they are called."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.checks.verdict import check
from rigproof.rig.band import FAMILY_ORDER
from rigproof.rigfile.beginning import NoStart, Player, Wishes
from rigproof.rigfile.load import parse
from rigproof.rigfile.starter import starter

PLAYS = (
    "drums", "percussion", "bass guitar", "acoustic guitar and voice", "guitar, sings",
    "keys and vocals", "accordion", "fiddle", "trombone", "sax", "tracks", "theremin", "",
    "guitar, acoustic guitar, keys and voice",
)  # fmt: skip

players = st.builds(
    Player, name=st.text(max_size=30), plays=st.sampled_from(PLAYS) | st.text(max_size=30),
    wireless=st.booleans(),
)  # fmt: skip
wishes = st.builds(
    Wishes,
    band=st.text(max_size=40),
    players=st.lists(players, min_size=1, max_size=8).map(tuple),
    inputs=st.integers(0, 32),
    house=st.sampled_from(["tails", "mixed", "unknown"]),
)


@given(wishes)
@settings(max_examples=60, deadline=None)
def test_every_start_reads_and_has_no_stop(wanted: Wishes) -> None:
    try:
        text = starter(wanted)
    except NoStart:
        return
    rig = parse(text.encode("utf-8"))
    assert len(rig.people) == len(wanted.players)
    for person, player in zip(rig.file.people, wanted.players, strict=True):
        if player.name.isprintable():
            assert person.name == " ".join(player.name.split())
    verdict = check(rig)
    assert [f.says for f in verdict.findings if f.severity == "stop"] == []


def test_numbers_run_in_the_order_of_the_trade_and_pairs_on_odd_and_even() -> None:
    band = (Player("Ana", "voice and keys"), Player("Bo", "bass"), Player("Cy", "drums"))
    rig = parse(starter(Wishes("X", band)).encode())
    families = [rig.sources[row.source].family for row in rig.file.patch]
    assert families == sorted(families, key=FAMILY_ORDER.index)
    keys = rig.rows["keys"].channel
    assert keys is not None
    assert (keys.first % 2, len(keys)) == (1, 2)
    for row in rig.file.patch:
        assert row.plug is not None
        assert row.channel is not None
        assert str(row.plug) == f"split.in.{row.channel}"


@pytest.mark.parametrize(
    ("guitars", "splits"),
    [(2, ["8"]), (3, ["16"]), (11, ["16", "8"]), (20, ["16", "16"])],
)
def test_splits_carry_every_line(guitars: int, splits: list[str]) -> None:
    # Six lines of one player, and six people at most: one guitar each, or four things each.
    first = Player("A", "bass, fiddle, sax, trombone, voice, accordion")
    each, rest = divmod(guitars, 6)
    words = ["guitar", "voice", "bass", "sax"]
    band = tuple(
        Player(f"P{n}", ", ".join(words[: each + (n < rest)])) for n in range(min(guitars, 6))
    )
    rig = parse(starter(Wishes("X", (first, *band))).encode())
    assert sum(len(row.channel or ()) for row in rig.file.patch) == guitars + 6
    sizes = [g.type.rpartition("-")[2] for g in rig.file.gear if g.id.startswith("split")]
    assert sizes == splits
    assert check(rig).count("stop") == 0


@pytest.mark.parametrize(
    ("plays", "sources"),
    [
        ("bass guitar", {"bass"}),
        ("Acoustic Guitar, guitar and vocals", {"acoustic", "guitar", "a-voice"}),
        ("bassoon", {"winds"}),
        ("double bass", {"bass"}),
        ("a saw", {"a-saw"}),
        ("electronics", {"electronics"}),
        ("narrator", {"a-voice"}),
    ],
)
def test_words_suggest_sources(plays: str, sources: set[str]) -> None:
    assert set(parse(starter(Wishes("X", (Player("A", plays),))).encode()).sources) == sources


def test_two_of_one_name_are_two_people() -> None:
    rig = parse(starter(Wishes("X", (Player("Ana", "voice"), Player("ana", "voice")))).encode())
    assert list(rig.people) == ["ana", "ana-2"]


def test_the_mixer_is_the_smallest_that_serves() -> None:
    def mixer(*plays: str, inputs: int = 0) -> str:
        band = tuple(Player(f"P{n}", words) for n, words in enumerate(plays))
        return parse(starter(Wishes("X", band, inputs)).encode()).gear["mixer"].type

    assert mixer("voice") == "mixer-rack-12"
    assert mixer("voice", inputs=13) == "mixer-rack-16"
    # Four stereo mixes want eight buses: the mixer of 12 has six.
    assert mixer("voice", "voice", "voice", "voice") == "mixer-rack-16"
    assert mixer("voice", "voice", "voice", "voice", "voice") == "mixer-rack-24"


def test_inputs_wished_for_have_their_place_on_a_split_and_a_tail() -> None:
    rig = parse(starter(Wishes("X", (Player("Ana", "voice"),), inputs=24)).encode())
    wired = {lead.id: str(lead.to) for lead in rig.file.leads}
    assert wired["split-to-mixer"] == "mixer.in.1-16"
    assert wired["split-2-to-mixer"] == "mixer.in.17-24"
    assert wired["tail-3"] == "house.17-24"
