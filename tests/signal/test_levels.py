"""Levels and hiss at the ear: by pencil, by common practice, by a plain loop, and by laws."""

from collections.abc import Mapping
from functools import cached_property
from math import inf, isfinite, log10

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.levels import along, farthest_apart_db, plain
from rigproof.checks.rule import View
from rigproof.rig import RigErrors
from rigproof.rig.quantity import Quantity
from rigproof.signal import Graph, Hop, Node
from rigproof.signal.chains import Chains
from rigproof.signal.figures import Figures, Part, Step
from rigproof.signal.ladder import ladder, ladders
from rigproof.signal.levels import EarFigures, Levels
from rigproof.signal.readings import GainReading
from rigproof.signal.sums import EarSums
from tests.bands import WHOLE, whole
from tests.bands import seen as stated
from tests.signal.pencil import FEED, GEAR, SPLIT, seen
from tests.signal.test_judges import every_path
from tests.signal.test_robust import rigs

# --- By pencil: the arithmetic written out, with the standards beside it. ---

ZERO_DBU_V = 0.6**0.5  # 1 mW in 600 ohm
KTB_4 = 4 * 1.380649e-23 * 293.15 * 20_000  # Johnson-Nyquist, 20 degrees C, 20 kHz
WHITE_A_DB = -2.05  # white noise, 20 Hz to 20 kHz, through the A curve of IEC 61672-1


def db(ratio: float) -> float:
    return 20 * log10(ratio)


def dbu(volt: float) -> float:
    return db(volt / ZERO_DBU_V)


def only(view: View) -> EarFigures:
    (ear,) = Levels(view.graph, view.rig).ears
    return ear


def preamp_dbu(ein_dbu: float, source_ohm: float) -> float:
    """Input noise stated with 150 ohm, as it is with another source; flat."""
    own_v2 = (ZERO_DBU_V * 10 ** (ein_dbu / 20)) ** 2 - KTB_4 * 150
    return dbu((own_v2 + KTB_4 * source_ohm) ** 0.5)


def powers(*levels_db: float) -> float:
    return 10 * log10(sum(10 ** (level / 10) for level in levels_db))


@pytest.mark.published(
    "ISO 1683 (20 uPa), IEC 60268-4 (mV/Pa, open circuit), Kirchhoff, Johnson-Nyquist, AES17 "
    "(0 dBFS as a sine), IEC 61672-1 (A), IEC 60268-7 (dB SPL at 1 mW)"
)
def test_a_voice_split_to_two_desks_by_pencil() -> None:
    ear = only(seen(SPLIT))
    sound_pa = 20e-6 * 10 ** (106 / 20)
    microphone_dbu = dbu(sound_pa * 2e-3)
    loads_ohm = 1 / (1 / 3000 + 1 / 2000)  # our desk, and a usual one at the house
    split_db = db(loads_ohm / (300 + loads_ohm))
    adc_dbfs = microphone_dbu + split_db + 40 - 18
    into_amp_db = db(10_000 / (10_000 + 75))
    into_ear_db = db(16 / (16 + 10))
    spl_at_0_dbu = 105 + 10 * log10(1000 / 16) + db(ZERO_DBU_V)
    behind_dac_db = into_amp_db - 10 + into_ear_db + spl_at_0_dbu
    expected_spl = adc_dbfs - 6 + 18 + behind_dac_db
    assert ear.levels_spl == {"voice": pytest.approx(expected_spl, abs=0.05)}
    assert ear.total_spl == pytest.approx(expected_spl, abs=0.05)
    seen_ohm = 1 / (1 / 300 + 1 / 2000)  # what our preamp looks back into
    pre_dbu = preamp_dbu(-127, seen_ohm) + WHITE_A_DB + 40
    hisses = (
        pre_dbu - 18 - 6 + 18 + behind_dac_db,
        -92 - 6 + behind_dac_db,  # the converter, 0 dBFS to 0 dBFS
        -86 + behind_dac_db,  # the desk's output
        dbu(6e-6) + into_ear_db + spl_at_0_dbu,  # the amplifier's own
    )
    assert ear.hiss_dba == pytest.approx(powers(*hisses), abs=0.05)
    told = {share.place: share.spl_dba for share in ear.shares}
    for place, hiss in zip(("desk.pre.1", "desk.adc.1", "desk.out.1"), hisses, strict=False):
        assert told[place] == pytest.approx(hiss, abs=0.05)
    assert sum(share.share_ratio for share in ear.shares) == pytest.approx(1, abs=0.001)
    # Full scale is +18 dBu; with the knob at +10 dB the amplifier gives out at its 14 dBu.
    assert ear.loudest_spl == pytest.approx(14 + into_ear_db + spl_at_0_dbu, abs=0.05)
    assert ear.limited_by.startswith("amp.phones.1")
    assert float(ear.isolation_db or 0) == 25
    assert (ear.missing, ear.unheard) == ((), ())


@pytest.mark.published(
    "Kirchhoff, Johnson-Nyquist, AES17 (0 dBFS as a sine), IEC 61672-1 (A), IEC 60268-7 "
    "(characteristic voltage: dB SPL at 1 V)"
)
def test_keys_to_a_personal_mixer_by_pencil() -> None:
    ear = only(seen(FEED))
    loads_ohm = 1 / (1 / 3000 + 1 / 2000)
    split_dbu = 2 + db(100 / 101) - 20 + db(loads_ohm / (200 + loads_ohm))
    adc_dbfs = split_dbu + 20 - 22
    into_ear_db = db(32 / (32 + 33))
    behind_adc_db = -3 + 8 - 12 + into_ear_db + db(ZERO_DBU_V) + 120
    assert ear.levels_spl == {"keys": pytest.approx(adc_dbfs + behind_adc_db, abs=0.05)}
    seen_ohm = 1 / (1 / 200 + 1 / 2000)
    pre_dbu = preamp_dbu(-130 - WHITE_A_DB, seen_ohm) + WHITE_A_DB + 20
    hiss_dba = powers(
        pre_dbu - 22 + behind_adc_db,
        -95 + WHITE_A_DB - 22 + behind_adc_db,
        dbu(12e-6) + WHITE_A_DB + into_ear_db + db(ZERO_DBU_V) + 120,
    )
    assert ear.hiss_dba == pytest.approx(hiss_dba, abs=0.05)
    # Full scale is 8 dBu; the knob's 4 dB more are above the 10 dBu that the socket gives.
    loudest_spl = 10 + into_ear_db + db(ZERO_DBU_V) + 120
    assert ear.loudest_spl == pytest.approx(loudest_spl, abs=0.05)


def test_the_likely_range_is_a_root_sum_of_squares_by_shares() -> None:
    ear = only(seen(SPLIT))
    share = {s.place: s.share_ratio for s in ear.shares}
    phones, out = share["amp.phones.1.1"], share["desk.out.1"]
    adc, pre = share["desk.adc.1"], share["desk.pre.1"]
    figure, knob = 1.5, 0.5  # a data sheet, a mark on a scale
    loss = {  # impedances of a data sheet may be 10 % higher
        "out": db(1 + 75 / 10_000 * 1.1) - db(1 + 75 / 10_000),
        "phones": db(1 + 10 / 16 * 1.1) - db(1 + 10 / 16),
    }
    squares = sum((part * figure) ** 2 for part in (phones, out, adc, pre))
    # The preamp's gain is in its own figure; then to digital, and back.
    squares += (pre * figure) ** 2 + ((pre + adc) * figure) ** 2
    squares += ((pre + adc + out) * loss["out"]) ** 2 + ((pre + adc + out) * knob) ** 2
    squares += figure**2 + loss["phones"] ** 2  # the earphone, and into it: all of the hiss
    assert ear.hiss_dba is not None
    assert ear.hiss_high_dba == pytest.approx(ear.hiss_dba + squares**0.5, abs=0.02)
    assert ear.hiss_low_dba == pytest.approx(ear.hiss_dba - squares**0.5, abs=0.02)


# --- Common practice, no source: boxes of these kinds were returned for hiss, or not. ---

QUIET_ROOM_DBA = 25.0
STAGE = """\
people: [{{id: ana, name: Ana, ears: {{plug: amp.phones.1, earphones: earphones-custom-3}}}}]
sources: [{{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 106}}]
gear:
  - {{id: split, type: {split}}}
  - {{id: mixer, type: mixer-rack-12}}
  - {{id: amp, type: {amp}}}
leads:
  - {{id: to-mixer, type: lead-xlr, from: split.{leg}.1-8, to: mixer.in.1-8}}
  - {{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}}
patch: [{{source: voice, plug: split.in.1, channel: 1, gain_db: 36}}]
settings: [{{at: amp.amp, gain_db: {knob}}}]
mixes:
  - {{id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{{from: voice, level_db: 0}}]}}
"""


def on_stage(*, split: str, leg: str, amp: str) -> EarFigures:
    """A voice at 95 dB SPL in sensitive earphones, whatever the box before them."""
    at_0_db = only(stated(STAGE.format(split=split, leg=leg, amp=amp, knob=0)))
    knob = round(95 - at_0_db.levels_spl["voice"], 1)
    ear = only(stated(STAGE.format(split=split, leg=leg, amp=amp, knob=knob)))
    assert ear.levels_spl["voice"] == pytest.approx(95, abs=0.1)
    return ear


def test_a_noisy_headphone_amplifier_hisses_in_a_quiet_room_and_a_quiet_one_does_not() -> None:
    split, leg = "splitter-passive-16", "direct"
    noisy = on_stage(split=split, leg=leg, amp="headphone-amp-4-noisy")
    quiet = on_stage(split=split, leg=leg, amp="headphone-amp-4-quiet")
    assert noisy.hiss_dba is not None
    assert quiet.hiss_dba is not None
    assert noisy.hiss_dba > QUIET_ROOM_DBA > quiet.hiss_dba
    assert noisy.shares[0].place.startswith("amp.phones.1")


def test_a_noisy_split_hisses_in_a_quiet_room_and_a_quiet_one_does_not() -> None:
    amp = "headphone-amp-4-quiet"
    noisy = on_stage(split="splitter-active-8-noisy", leg="out", amp=amp)
    quiet = on_stage(split="splitter-active-8", leg="out", amp=amp)
    assert noisy.hiss_dba is not None
    assert quiet.hiss_dba is not None
    assert noisy.hiss_dba > QUIET_ROOM_DBA > quiet.hiss_dba
    assert noisy.shares[0].place == "split.out.1"


# --- A judge of its own: one way after the other. ---


@pytest.mark.parametrize("name", WHOLE)
def test_sums_agree_with_a_plain_loop_over_the_ways(name: str) -> None:
    view = whole(name)
    found = plain(view, Figures(view.graph, view.rig))
    assert found
    assert farthest_apart_db(view, found) < 1e-9


class Drawn(Figures):
    """A graph whose hops do what somebody drew."""

    def __init__(self, graph: Graph, steps: tuple[Step, ...]) -> None:
        self.graph = graph
        self.settings = {}
        self._steps = dict(enumerate(steps))

    @cached_property
    def _gains(self) -> Mapping[int, GainReading]:
        return {}


@st.composite
def drawn(draw: st.DrawFn) -> Drawn:
    """Nine places, hops that run forward only, some of them doubled or with a figure missing."""
    places = 9
    gains = st.floats(-60, 60)
    ends = st.tuples(st.integers(0, places - 1), st.integers(0, places - 1)).filter(
        lambda pair: pair[0] < pair[1]
    )
    hops = draw(st.lists(st.tuples(ends, gains, st.booleans(), st.integers(0, 9)), max_size=20))
    graph = Graph(
        tuple(Node(f"n.{n}", "box") for n in range(places)),
        tuple(Hop(a, b, "lead", open=is_open) for (a, b), _, is_open, _ in hops),
    )
    steps = tuple(
        Step.of((Part("gain", gain, Quantity(gain)),), ("a figure",) if missing == 0 else ())
        for _, gain, _, missing in hops
    )
    return Drawn(graph, steps)


@given(drawn())
@settings(max_examples=200, deadline=None)
def test_gains_are_the_sum_over_all_ways(figures: Drawn) -> None:
    graph, ends = figures.graph, (7, 8)
    sums = EarSums(graph, whole("trio").rig, Chains(graph), figures)
    for start in range(len(graph.nodes)):
        for end in ends:
            ways = [[graph.hops[n] for n in way] for way in every_path(graph, start, {end})]
            plainly = float(start == end) or sum(along(figures, way) for way in ways)
            assert sums.gain_ratio(start, end) == pytest.approx(plainly, rel=1e-9)


# --- Laws. ---

decibels = st.floats(-30, 10).map(lambda db: round(db, 1))
slow = settings(max_examples=12, deadline=None)


@given(st.integers(0, 3))
@slow
def test_another_load_never_raises_a_level_and_lowers_one_that_has_impedance(more: int) -> None:
    def with_loads(count: int) -> EarFigures:
        lines = "".join(
            f"  - {{id: more-{n}, type: lead-xlr, from: split.b.{n + 2}, to: house.{n + 2}}}\n"
            for n in range(count)
        )
        return only(seen(SPLIT, change=lambda text: text.replace("patch:", f"{lines}patch:")))

    before, after = with_loads(0), with_loads(more)
    assert after.levels_spl["voice"] <= before.levels_spl["voice"]
    assert (after.levels_spl["voice"] < before.levels_spl["voice"]) is (more > 0)


@given(st.floats(-120, -60), st.floats(0, 40))
@slow
def test_hiss_never_falls_when_a_noise_rises(noise_dbu: float, more_db: float) -> None:
    def hiss(level_dbu: float) -> float:
        gear = GEAR.replace("noise_dbu: -86", f"noise_dbu: {level_dbu}")
        return only(seen(SPLIT, gear)).hiss_dba or -inf

    silent = only(seen(SPLIT, GEAR.replace(" noise_dbu: -86,", ""))).hiss_dba
    assert silent is not None
    assert silent <= hiss(noise_dbu) <= hiss(noise_dbu + more_db) + 1e-12


@given(decibels, decibels)
@slow
def test_a_knob_moves_all_behind_it_and_nothing_before(knob: float, by: float) -> None:
    def rungs(gain_db: float) -> list[tuple[str, float, float | None]]:
        view = seen(SPLIT, change=lambda text: text.replace("gain_db: -10", f"gain_db: {gain_db}"))
        way = view.graph.paths(view.graph.of_source("voice"), view.graph.of_listener("ana"))[0]
        told = ladder(Levels(view.graph, view.rig), way).rungs
        return [(r.place, r.level.value_db, r.together_db) for r in told if r.level]

    before, after = rungs(knob), rungs(knob + by)
    turned = [place for place, _, _ in before].index("amp.amp.1")
    for number, ((_, one, all_one), (_, two, all_two)) in enumerate(
        zip(before, after, strict=True)
    ):
        moved = by if number >= turned else 0.0
        assert two - one == pytest.approx(moved, abs=1e-9)
        if all_one is not None and all_two is not None:
            assert all_two - all_one == pytest.approx(moved, abs=1e-9)


@given(st.floats(60, 130), st.floats(0, 60), decibels, decibels)
@settings(max_examples=25, deadline=None)
def test_nothing_that_does_not_clip_is_louder_than_the_loudest(
    spl: float, gain: float, send: float, knob: float
) -> None:
    def change(text: str) -> str:
        text = text.replace("gain_db: -10", f"gain_db: {knob}").replace("db: 40", f"db: {gain}")
        return text.replace("level_db: -6", f"level_db: {send}").replace("_db: 106", f"_db: {spl}")

    view = seen(SPLIT, change=change)
    way = view.graph.paths(view.graph.of_source("voice"), view.graph.of_listener("ana"))[0]
    levels = Levels(view.graph, view.rig)
    rungs = ladder(levels, way).rungs
    ear = only(view)
    assert ear.loudest_spl is not None
    if all(r.level is None or r.clip is None or r.level.value_db <= r.clip for r in rungs):
        assert ear.levels_spl["voice"] <= ear.loudest_spl + 1e-9


# --- What is not known is said, and what is not there is not made up. ---


def test_a_missing_gain_is_said_and_nothing_before_it_is_told() -> None:
    ear = only(seen(SPLIT, change=lambda text: text.replace(", gain_db: 40", "")))
    assert ear.missing == ("the gain of desk.pre.1",)
    assert ear.levels_spl == {}
    assert ear.hiss_dba is not None  # of what lies behind


def test_a_missing_noise_figure_is_said() -> None:
    without = GEAR.replace(" ein_dbu: -127,", "").replace(" noise_dbu: -86,", "")
    ear = only(seen(SPLIT, without))
    assert ear.unheard == ("the noise of desk.out.1", "the noise of desk.out.2",
                           "the noise of desk.pre.1")  # fmt: skip


def test_a_wedge_is_not_an_earphone() -> None:
    wedge = SPLIT.replace("ears: {plug: amp.phones.1, earphones: own-ears}", "wedge: desk.out.1")
    view = seen(wedge)
    assert Levels(view.graph, view.rig).ears == ()


def test_both_lanes_of_a_pair_in_one_ear_add_as_powers() -> None:
    pair = SPLIT.replace(
        "mic: own-mic, spl_db: 106", "stereo: true, connector: xlr-m, level_dbu: 0"
    )
    pair = pair.replace("plug: split.in, channel: 1", "plug: desk.in.1-2, channel: 1-2")
    one = pair.replace("stereo: true, connector", "connector").replace(
        "plug: desk.in.1-2, channel: 1-2", "plug: desk.in.1, channel: 1"
    )
    mono = [
        text.replace(
            "stereo: true, bus: 1-2, out: desk.out.1-2", "bus: 1, out: desk.out.1"
        ).replace("  - {id: to-desk, type: lead-xlr, from: split.a, to: desk.in.1}\n", "")
        for text in (pair, one)
    ]
    two_spl, one_spl = (only(seen(text)).levels_spl["voice"] for text in mono)
    assert two_spl - one_spl == pytest.approx(10 * log10(2), abs=1e-6)


@given(rigs())
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_the_reader_accepts_can_be_reckoned(text: str) -> None:
    """Plugs in outputs, loops, pads in mid-air: no figure may bring the sum down."""
    try:
        view = stated(text)
    except RigErrors:
        return
    levels = Levels(view.graph, view.rig)
    for ear in levels.ears:
        assert ear.hiss_dba is None or isfinite(ear.hiss_dba)
        assert all(isfinite(level) for level in ear.levels_spl.values())
    for source in view.rig.sources:
        for listener in (*view.rig.people, "house"):
            ends = view.graph.of_listener(listener)
            paths = view.graph.paths(view.graph.of_source(source), ends, most=4)
            for told in ladders(levels, paths):
                assert len(told.rungs) > 1
