"""What was measured at a channel takes the place of the figures before it, and of their errors."""

from collections.abc import Mapping
from math import hypot
from typing import Any

import msgspec
import pytest

from rigproof.checks.rule import View, look
from rigproof.physics.levels import power_sum_db
from rigproof.rig import Kept
from rigproof.rig.measured import KeptLine
from rigproof.rigfile.load import parse
from rigproof.signal.gainplan import GainPlan, plan_gains
from rigproof.signal.ladder import Ladder, Rung, ladder
from rigproof.signal.readings import line_ways

RIG = """\
format: 1
rig: {name: Readings}
people:
  - {id: ana, name: Ana, plays: voice, part: voices, ears: {plug: amp.phones.1,
     earphones: earphones-dual}}
sources:
  - {id: voice, name: Voice, family: voices, player: ana, mic: mic-vocal-dynamic, spl_db: 110}
  - {id: keys, name: Keys, family: keys, stereo: true, di: di-passive-stereo, connector: jack-ts-f,
     level_dbu: -10}
gear:
  - {id: split, name: Split, type: splitter-transformer-8}
  - {id: mixer, name: Mixer, type: mixer-rack-12}
  - {id: amp, name: Amp, type: headphone-amp-4}
leads:
  - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8, length_m: 1}
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1, length_m: 1}
patch:
  - {source: voice, plug: split.in.1, channel: 1, gain_db: 36}
  - {source: keys, plug: split.in.3-4, channel: 3-4, gain_db: 20}
mixes:
  - {id: ana, name: Ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{from: voice, level_db: -3}, {from: keys, level_db: -10}]}
"""
CHANNEL = "mixer.ch.1"


def seen(*kept: Kept, rig: str = RIG) -> View:
    return look(parse(rig.encode(), measured=kept))


def take(
    figures: Mapping[int, Mapping[str, Any]], date: str = "2027-03-01", rig: str = RIG
) -> Kept:
    """A measurement of a rig as it stands: channel -> what was measured of it."""
    lines = tuple(
        KeptLine(
            channel=way.channel,
            source=way.source,
            socket=way.socket,
            through=way.through,
            taken_with=way.taken_with,
            knobs_db=way.knobs_db,
            **figures[way.channel],
        )
        for way in line_ways(seen(rig=rig).figures)
        if way.channel in figures
    )
    assert len(lines) == len(figures)
    return Kept(kind="take", date=date, method="a take", rig="", lines=lines)


def proof(figures: Mapping[int, Mapping[str, Any]], rig: str = RIG) -> Kept:
    """The same as the test signal tells it, played into the plugs."""
    return msgspec.structs.replace(take(figures, rig=rig), kind="proof")


def way_of(view: View, source: str = "voice") -> Ladder:
    (path, *_) = view.graph.paths(view.graph.of_source(source), view.graph.of_listener("ana"))
    return ladder(view.levels, path)


def rung(view: View, place: str = CHANNEL) -> Rung:
    return next(one for one in way_of(view).rungs if one.place == place)


def test_a_level_stands_where_it_was_measured() -> None:
    view, before = seen(take({1: {"loudest_dbfs": -30.0}})), seen()
    here, ear = rung(view).level, way_of(view).rungs[-1].level
    then, there = rung(before).level, way_of(before).rungs[-1].level
    assert here is not None
    assert ear is not None
    assert then is not None
    assert there is not None
    assert here.value_db == pytest.approx(-30)
    assert (here.off_db, here.provenance) == (0.5, "measured")
    # From the channel on every figure moves with it, and is known as much better.
    assert ear.value_db - there.value_db == pytest.approx(-30 - then.value_db)
    assert there.off_db**2 - ear.off_db**2 == pytest.approx(then.off_db**2 - 0.5**2)
    # The sums of all ears have the same.
    (mine, theirs) = (v.levels.ear("ana") for v in (view, before))
    assert mine is not None
    assert theirs is not None
    assert mine.levels_spl["voice"] == pytest.approx(ear.value_db)
    assert mine.levels_spl["keys"] == theirs.levels_spl["keys"]


def test_before_the_channel_a_level_is_reckoned_back() -> None:
    """By figures with errors of their own: at the source it is known worse than at the channel."""
    view = seen(take({1: {"loudest_dbfs": -30.0}}))
    levels = [one.level for one in way_of(view).rungs]
    places = [one.place for one in way_of(view).rungs]
    offs = [level.off_db for level in levels if level is not None][: places.index(CHANNEL) + 1]
    assert offs == sorted(offs, reverse=True)
    steps = [one.step.off_db for one in way_of(view).rungs[1 : places.index(CHANNEL) + 1]]
    assert offs[0] == pytest.approx(hypot(0.5, *steps))
    assert levels[0] is not None
    assert levels[0].provenance == "assumed"  # as the knob of the preamp is
    sent = view.figures.source_dbu(view.rig.sources["voice"])
    assert sent is not None
    assert (sent.provenance, sent.date, sent.note) == ("measured", "2027-03-01", "a take")


@pytest.mark.parametrize("turned_db", [-6, 0, 6])
def test_a_knob_that_was_turned_since_moves_it(turned_db: int) -> None:
    """What the source sends stays as it was measured; one more knob is off by its mark."""
    now = RIG.replace("gain_db: 36", f"gain_db: {36 + turned_db}")
    kept = take({1: {"loudest_dbfs": -30.0, "noise_dba": -99.0}})
    view, before = seen(kept, rig=now), seen(kept)
    level = rung(view).level
    assert level is not None
    assert level.value_db == pytest.approx(-30 + turned_db)
    assert level.off_db == pytest.approx(hypot(0.5, 0.5) if turned_db else 0.5)
    sent = [v.figures.source_dbu(v.rig.sources["voice"]) for v in (view, before)]
    assert sent[0] == pytest.approx(sent[1])
    (noise,) = view.figures.readings.noises.values()
    assert noise.now_dba == -99 + max(0, turned_db)
    assert noise.off_db == pytest.approx(hypot(0.5, turned_db))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("mic: mic-vocal-dynamic", "mic: mic-instrument-dynamic"),
        ("type: mixer-rack-12", "type: mixer-rack-24"),
        ("plug: split.in.1", "plug: split.in.2"),
        ("spl_db: 110", "level_dbu: {value: -40, from: measured}"),
        ("spl_db: 110", "spl_db: {value: 104, from: measured}"),
        (", gain_db: 36", ""),
    ],
)
def test_what_it_does_not_speak_of_any_more(old: str, new: str) -> None:
    """Another microphone, box or socket, a measured figure in the file, no gain written."""
    now = RIG.replace(old, new)
    assert now != RIG
    view, without = seen(take({1: {"loudest_dbfs": -30.0}}), rig=now), seen(rig=now)
    assert view.figures.source_dbu(view.rig.sources["voice"]) == without.figures.source_dbu(
        without.rig.sources["voice"]
    )
    assert way_of(view) == way_of(without)


def test_the_newest_without_a_fault_counts() -> None:
    kept = [
        take({1: {"loudest_dbfs": -30.0}}, "2027-03-01"),
        take({1: {"loudest_dbfs": -32.0}}, "2027-04-01"),
        take({1: {"loudest_dbfs": -60.0, "grade": "fail"}}, "2027-05-01"),
        take({1: {"noise_dba": -99.0}}, "2027-06-01"),
    ]
    level = rung(seen(*kept)).level
    assert level is not None
    assert level.value_db == pytest.approx(-32)


def test_of_a_pair_the_louder_side_counts() -> None:
    view = seen(take({3: {"loudest_dbfs": -30.0}, 4: {"loudest_dbfs": -27.0}}))
    places = {one.place: one.level for one in way_of(view, "keys").rungs}
    level = places["mixer.ch.3"]
    assert level is not None
    assert level.value_db == pytest.approx(-27)
    assert level.provenance == "measured"


def test_a_hiss_stands_where_it_was_measured() -> None:
    """All that hisses before the channel is turned alike, so that it comes to what was measured."""
    before = rung(seen()).noise
    assert before is not None
    measured_dba = before.value_db + 2
    kept = take(
        {1: {"noise_dba": measured_dba}, 3: {"noise_dba": -100.0}, 4: {"noise_dba": -100.0}}
    )
    view = seen(kept)
    noise = rung(view).noise
    assert noise is not None
    assert noise.value_db == pytest.approx(measured_dba)
    assert noise.provenance == "measured"
    assert noise.off_db == pytest.approx(0.5)
    assert before.off_db > 1
    # Each noise by itself, and their sum along the chain, which goes another way.
    assert view.ears.ears["ana"].hiss_off_db < seen().ears.ears["ana"].hiss_off_db
    shares = {share.noise.name: share.noise for share in view.ears.shares("ana")}
    assert any(name.endswith("as measured") for name in shares)


def test_a_proof_does_not_hear_the_microphone() -> None:
    """The player stands in for it, so its own hiss comes on top of what was measured."""
    rig = RIG.replace("mic: mic-vocal-dynamic", "mic: mic-small-condenser")
    before, view = (
        rung(seen(*kept, rig=rig)) for kept in ((), (proof({1: {"noise_dba": -105.0}}, rig=rig),))
    )
    capsule = [one.level_db for one in before.gathered if "voice/" in one.place]
    assert [one.level_db for one in view.gathered if "voice/" in one.place] == capsule
    assert view.noise is not None
    others = [one.level_db for one in view.gathered if "voice/" not in one.place]
    assert power_sum_db(others) == pytest.approx(-105)
    assert view.noise.value_db == pytest.approx(power_sum_db([*capsule, -105.0]))


def test_a_hiss_beyond_all_likelihood_is_the_players() -> None:
    """The player or the room was measured with the line: its figures stay."""
    before = rung(seen()).noise
    assert before is not None
    view = seen(take({1: {"noise_dba": before.value_db + 12}}))
    assert rung(view).noise == before
    (reading,) = view.figures.readings.noises.values()
    assert reading.turn_db is None
    silent = seen(take({1: {"noise_dba": -139.0}}))  # a muted channel
    assert rung(silent).noise == before


def test_a_delay_is_that_of_the_whole_line() -> None:
    view, before = seen(take({1: {"way_ms": 1.8}})), seen()
    late, then = view.delays.of("voice", "ana"), before.delays.of("voice", "ana")
    assert late is not None
    assert then is not None
    reckoned = sum(
        part.delay_ms for part in before.delays.parts("voice", "ana") if "mixer" in part.place
    )
    parts = {part.place: part for part in view.delays.parts("voice", "ana")}
    assert parts[CHANNEL].kind == "measured"
    assert float(parts[CHANNEL].delay_ms) == 1.8
    assert late.shortest.delay_ms == pytest.approx(sum(p.delay_ms for p in parts.values()))
    assert late.shortest.delay_ms < then.shortest.delay_ms + 1.8
    assert reckoned > 0
    # The likely range is that of what was measured and of what lies behind it.
    assert (late.high_ms - late.low_ms) / late.shortest.delay_ms < (
        then.high_ms - then.low_ms
    ) / then.shortest.delay_ms
    keys = view.delays.of("keys", "ana")
    assert keys == before.delays.of("keys", "ana")


def test_what_was_measured_of_a_rig_goes_with_its_changes() -> None:
    kept = take({1: {"loudest_dbfs": -30.0}})
    rig = parse(RIG.encode(), measured=(kept,))
    assert rig.changed(log=()).measured == (kept,)
    other = rig.changed(
        sources=tuple(msgspec.structs.replace(s, note="x") for s in rig.file.sources)
    )
    assert other.measured == (kept,)


def test_gains_are_planned_for_what_was_measured() -> None:
    """The preamp goes where the measured level has its room; to turn it changes no source."""
    before = seen()
    then = rung(before).level
    assert then is not None
    stands = []
    for view in (before, seen(take({1: {"loudest_dbfs": -40.0}}))):
        plan = plan_gains(view.levels)
        assert isinstance(plan, GainPlan)
        stands += [k.planned_db for k in plan.knobs if (k.kind, k.source) == ("preamp", "voice")]
    # In whole decibels, so that much may lie between.
    assert stands[1] - stands[0] == pytest.approx(then.value_db + 40, abs=1.0)


def test_everything_together_is_known_better_once_its_sources_were_measured() -> None:
    """Behind the channel the ladder of one source and the sum of that one alone err alike."""
    only = RIG.replace(", {from: keys, level_db: -10}", "")
    taken = take({1: {"loudest_dbfs": -20.0}}, rig=only)
    before, after = seen(rig=only), seen(taken, rig=only)
    alone = way_of(after).rungs[-1].level
    together, guessed = after.widths.together("ana"), before.widths.together("ana")
    assert alone is not None
    assert together is not None
    assert guessed is not None
    assert together.value_db == pytest.approx(alone.value_db)
    assert together.off_db == pytest.approx(alone.off_db)
    assert together.off_db < guessed.off_db
    assert together.provenance == alone.provenance  # no better than the earphones
