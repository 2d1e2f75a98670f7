"""How far off sums at an ear may be: against the ladders of single sounds."""

import pytest

from rigproof.checks.rule import View
from rigproof.rig.spread import spread_db
from rigproof.signal.figures import KNOB_OFF_DB
from rigproof.signal.ladder import Ladder, ladder
from tests.bands import WHOLE, seen, whole

ALONE = """
people:
  - {id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}
sources:
  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}
  - {id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: VOICE}
gear: [{id: mixer, type: mixer-rack-24}]
patch:
  - {source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}
  - {source: voice, plug: mixer.in.2, channel: 2, gain_db: 20}
settings: [{at: mixer.monitor.1-2, gain_db: -20}]
mixes:
  - {id: a, listeners: [ana], bus: 1-2, out: mixer.phones.1-2, limiter_dbu: 4,
     sends: [{from: kick, level_db: 0}, {from: voice, level_db: 0}]}
"""


@pytest.mark.parametrize("name", WHOLE)
def test_the_figures_are_those_of_the_sums(name: str) -> None:
    view = whole(name)
    for person, ear in view.ears.ears.items():
        together, limited = view.widths.together(person), view.widths.limited(person)
        assert together is not None
        assert together.value_db == pytest.approx(ear.total_spl)
        assert (limited is None) == (ear.limited is None)
        if limited is not None and ear.limited is not None:
            assert limited.value_db == pytest.approx(ear.limited.level_spl)
        loudest = view.ears.loudest(person)
        most = view.widths.loudest_way(person)
        assert loudest is not None
        assert most is not None
        way_db = sum(passed.gain_db for passed in most.way)
        assert most.bears + way_db == pytest.approx(loudest.driven_spl)


def test_one_sound_alone_errs_as_its_ladder_does() -> None:
    view = seen(ALONE.replace("VOICE", "-30"))  # the other one counts for nothing
    by_ladder = _ladder(view, "kick").rungs[-1].level
    together = view.widths.together("ana")
    assert by_ladder is not None
    assert together is not None
    assert together.off_db == pytest.approx(by_ladder.off_db, rel=1e-6)
    assert together.provenance == by_ladder.provenance


def test_two_like_sounds_err_less_and_the_earphones_touch_both() -> None:
    """Of two sounds of one power: what is of one alone counts half, what lies behind in full."""
    first = seen(ALONE.replace("VOICE", "-30")).ears.ears["ana"].levels_spl
    voice_spl = -30 + first["kick"] - first["voice"]
    view = seen(ALONE.replace("VOICE", f"{voice_spl:.9f}"))
    kick, voice = (_ladder(view, name) for name in ("kick", "voice"))
    behind = {rung.place for rung in kick.rungs} & {rung.place for rung in voice.rungs}
    squares = 0.0
    for way in (kick, voice):
        squares += (view.figures.source_off_db(view.rig.sources[way.source]) / 2) ** 2
        squares += sum((r.step.off_db / 2) ** 2 for r in way.rungs if r.place not in behind)
    squares += sum(rung.step.off_db**2 for rung in kick.rungs if rung.place in behind)
    together = view.widths.together("ana")
    assert together is not None
    assert together.off_db == pytest.approx(squares**0.5, rel=1e-6)
    assert together.off_db > spread_db("typical")  # the earphones alone


def _ladder(view: View, source: str) -> Ladder:
    starts, ends = view.graph.of_source(source), view.ears.ears_of("ana")
    (path, *_) = view.graph.paths(starts, ends, most=1)
    return ladder(view.levels, path)


def test_a_knob_at_its_stop_is_known_as_well_as_its_range() -> None:
    view = whole("demo")
    most = view.widths.loudest_way("tamsin")
    written = view.widths.limited_way("tamsin")
    assert most is not None
    assert written is not None
    (stop,) = (passed.stop for passed in most.way if passed.stop is not None)
    assert stop.provenance == "typical"
    assert all(passed.stop is None for passed in written.way)
    apart = most.told.off_db**2 - written.told.off_db**2
    assert apart == pytest.approx(spread_db("typical") ** 2 - KNOB_OFF_DB**2)
