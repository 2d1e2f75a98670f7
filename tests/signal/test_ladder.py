"""The ladder of one way, rung by rung, against arithmetic by hand."""

from math import log10
from typing import get_args

import pytest

from rigproof.physics.levels import crest_db
from rigproof.rig.band import Family, Source
from rigproof.signal.ladder import Ladder, Rung, in_step_db, ladders, loudest_way
from rigproof.signal.levels import Levels
from rigproof.signal.peaks import crest_of
from tests.bands import WHOLE, whole
from tests.signal.pencil import FEED, SPLIT, seen
from tests.signal.test_figures import swapped


def ladders_of(rig: str, source: str, listener: str) -> tuple[Ladder, ...]:
    view = seen(rig)
    paths = view.graph.paths(view.graph.of_source(source), view.graph.of_listener(listener))
    return ladders(Levels(view.graph, view.rig), paths)


def by_place(ladder: Ladder) -> dict[str, Rung]:
    return {rung.place: rung for rung in ladder.rungs}


def near(value: float) -> object:
    return pytest.approx(value, abs=0.05)


@pytest.mark.published("AES17 (0 dBFS is a sine whose peaks touch full scale): 3.01 dB above")
def test_levels_peaks_and_room_by_pencil() -> None:
    rungs = by_place(ladders_of(SPLIT, "voice", "ana")[0])
    # 106 dB SPL on 2 mV/Pa; 300 ohm into 3000 and 2000; +40; full scale 18; -6; back; -10.
    split_dbu = 106 - 93.98 + 20 * log10(2e-3) + 2.218 + 20 * log10(1200 / 1500)
    expected = {
        "split.a": split_dbu,
        "desk.in.1": split_dbu,
        "desk.pre.1": split_dbu + 40,
        "desk.adc.1": split_dbu + 22,
        "desk.bus.1": split_dbu + 16,
        "desk.out.1": split_dbu + 34,
        "amp.phones.1.1": split_dbu + 34 - 0.065 - 10,
    }
    for place, level in expected.items():
        told = rungs[place].level
        assert told is not None
        assert told.value_db == near(level)
        assert rungs[place].peak_db == near(level + 12)  # a voice
    assert rungs["desk.adc.1"].headroom_db == near(0 + 3.01 - (split_dbu + 22) - 12)
    assert rungs["amp.in.1"].headroom_db == near(18 + 3.01 - (split_dbu + 34 - 0.065) - 12)
    assert rungs["desk.ch.1"].headroom_db is None


def test_it_clips_first_where_there_is_least_room() -> None:
    ladder = ladders_of(SPLIT, "voice", "ana")[0]
    first = ladder.first_to_clip
    assert first is not None
    assert first.place == "desk.adc.1"
    hot = ladders_of(SPLIT.replace("gain_db: -10", "gain_db: 10"), "voice", "ana")[0]
    assert hot.first_to_clip is not None
    assert hot.first_to_clip.place == "amp.phones.1.1"


def test_noise_gathers_and_its_shares_are_the_whole() -> None:
    ladder = ladders_of(SPLIT, "voice", "ana")[0]
    rungs = by_place(ladder)
    assert rungs["desk.in.1"].noise is None
    pre, adc = rungs["desk.pre.1"].noise, rungs["desk.adc.1"].noise
    assert pre is not None
    assert adc is not None
    # The converter's -92 dBu(A) at a full scale of 18 dBu is -110 dBFS(A).
    assert adc.value_db == near(10 * log10(10 ** ((pre.value_db - 18) / 10) + 10 ** (-110 / 10)))
    for rung in ladder.rungs:
        if rung.noise is not None:
            assert sum(one.share_ratio for one in rung.gathered) == pytest.approx(1)
            assert rung.level is not None
            assert rung.snr_db == pytest.approx(rung.level.value_db - rung.noise.value_db)
    at_the_ear = ladder.rungs[-1]
    assert [one.place for one in at_the_ear.gathered][:2] == ["desk.out.1", "amp.phones.1.1"]


@pytest.mark.parametrize(("rig", "source", "who"), [(SPLIT, "voice", "ana"), (FEED, "keys", "bo")])
def test_the_end_of_a_ladder_is_what_the_ear_gets(rig: str, source: str, who: str) -> None:
    view = seen(rig)
    ear = Levels(view.graph, view.rig).ear(who)
    assert ear is not None
    last = ladders_of(rig, source, who)[0].rungs[-1]
    assert last.level is not None
    assert last.noise is not None
    assert last.level.value_db == pytest.approx(ear.levels_spl[source])
    # With one source in the mix, everything that hisses lies on its way.
    assert last.noise.value_db == pytest.approx(ear.hiss_dba)
    assert ear.hiss_high_dba is not None
    assert ear.hiss_dba is not None
    assert last.noise.off_db == pytest.approx(ear.hiss_high_dba - ear.hiss_dba, rel=0.01)
    assert last.together_db == pytest.approx(ear.total_spl)


def test_the_range_of_a_level_is_a_root_sum_of_squares_along_the_way() -> None:
    rungs = by_place(ladders_of(SPLIT, "voice", "ana")[0])
    first, pre, adc = (rungs[p].level for p in ("voice/mic.out", "desk.pre.1", "desk.adc.1"))
    assert first is not None
    assert pre is not None
    assert adc is not None
    assert first.off_db == pytest.approx((6**2 + 1.5**2) ** 0.5)  # assumed SPL, stated sensitivity
    loading = rungs["split.in"].step.off_db
    assert pre.off_db == pytest.approx((first.off_db**2 + loading**2 + 0.5**2) ** 0.5)
    assert adc.off_db == pytest.approx((pre.off_db**2 + 1.5**2) ** 0.5)
    assert adc.provenance == "assumed"


def test_everything_together_is_a_sum_of_powers_at_a_bus() -> None:
    """A second voice, 6 dB softer in the mix, beside the first."""
    rig = SPLIT.replace(
        "sources: [", "sources: [{id: two, name: Two, family: voices, mic: own-mic, spl_db: 106}, "
    )
    rig = rig.replace(
        "patch: [", "patch: [{source: two, plug: desk.in.2, channel: 2, gain_db: 38.062}, "
    )
    rig = rig.replace("sends: [", "sends: [{from: two, level_db: -12}, ")
    rungs = by_place(ladders_of(rig, "voice", "ana")[0])
    bus = rungs["desk.bus.1"]
    assert bus.level is not None
    assert bus.together_db is not None
    # Unsplit, the second loses 0.83 dB in 3000 ohm; its gain makes up for the rest.
    second = -39.74 + 20 * log10(3000 / 3300) + 38.062 - 18 - 12
    assert bus.together_db == near(
        10 * log10(10 ** (bus.level.value_db / 10) + 10 ** (second / 10))
    )
    assert rungs["desk.ch.1"].together_db is None


def test_several_ways_add_in_phase_and_the_loudest_is_told() -> None:
    rig = SPLIT.replace("stereo: true, bus: 1-2, out: desk.out.1-2", "bus: 1, out: desk.out.1")
    rig = rig.replace(
        "leads:\n", "routes: [{from: desk.ch.1, to: desk.bus.1, gain_db: -12}]\nleads:\n"
    )
    ways = ladders_of(rig, "voice", "ana")
    at_left = [way for way in ways if way.rungs[-1].place == "ear:ana.1"]
    assert len(at_left) == 2
    view = seen(rig)
    ear = Levels(view.graph, view.rig).ear("ana")
    assert ear is not None
    assert in_step_db(at_left) == pytest.approx(ear.levels_spl["voice"])
    one, other = (way.rungs[-1].level for way in at_left)
    assert one is not None
    assert other is not None
    loudest = loudest_way(at_left).rungs[-1].level
    assert loudest is not None
    assert loudest.value_db == max(one.value_db, other.value_db)
    assert abs(one.value_db - other.value_db) == pytest.approx(6)


def test_a_missing_figure_ends_the_level_and_is_named_where_it_is() -> None:
    view = swapped(SPLIT, (", gain_db: 40", ""))
    paths = view.graph.paths(view.graph.of_source("voice"), view.graph.of_listener("ana"))
    ladder = ladders(Levels(view.graph, view.rig), paths)[0]
    rungs = by_place(ladder)
    assert rungs["desk.in.1"].level is not None
    assert rungs["desk.pre.1"].missing == ("the gain of desk.pre.1",)
    assert rungs["desk.adc.1"].level is None
    assert rungs["desk.adc.1"].headroom_db is None
    assert rungs["desk.adc.1"].noise is not None  # its own is known all the same
    assert ladder.missing == ("the gain of desk.pre.1",)


def test_a_missing_level_is_named_at_the_source() -> None:
    ladder = ladders_of(SPLIT.replace(", spl_db: 106", ""), "voice", "ana")[0]
    assert ladder.rungs[0].missing == ("the level of Voice",)
    assert all(rung.level is None for rung in ladder.rungs)
    assert ladder.rungs[-1].noise is not None


@pytest.mark.parametrize("family", get_args(Family))
def test_every_family_has_a_printed_crest(family: Family) -> None:
    source = Source(id="s", name="S", family=family)
    assert crest_of(source) in {crest_db(kind) for kind in ("drums", "speech", "strings", "music")}


@pytest.mark.parametrize("name", WHOLE)
def test_ladders_of_whole_rigs_run_through(name: str) -> None:
    view = whole(name)
    levels = Levels(view.graph, view.rig)
    ear = levels.ears[0]
    source = max(ear.levels_spl, key=lambda one: ear.levels_spl[one])
    paths = view.graph.paths(view.graph.of_source(source), [ear.side])
    told = ladders(levels, paths)
    assert in_step_db(told) is not None
    for ladder in told:
        running = None
        for rung in ladder.rungs:
            assert rung.level is not None
            if running is not None:
                assert rung.level.value_db == pytest.approx(running + rung.step.gain_db)
            running = rung.level.value_db
