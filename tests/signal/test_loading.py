"""Loads of lines and volts of 48 V, against worked figures."""

import pytest

from rigproof.rig.quantity import Quantity
from rigproof.signal.lines import HOUSE_INPUT_OHM
from rigproof.signal.loading import FedBy, LoadedLine, fed, fed_lines, least_v, likely_volts
from tests.bands import WHOLE, seen, whole

SPLIT = """
sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}]
gear: [{id: split, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
patch: [{source: voice, plug: split.in.1}]
leads:
  - {id: to-mixer, type: lead-xlr, from: split.direct.1, to: mixer.in.1}
  - {id: tail, type: lead-xlr, from: split.second.1, to: house.1}
"""


def line(source_ohm: float | None, *loads: float) -> LoadedLine:
    ohm = None if source_ohm is None else Quantity(source_ohm, "datasheet")
    return LoadedLine(
        "s", "s.out", ohm, tuple((f"d{n}.in", Quantity(o)) for n, o in enumerate(loads)), ()
    )


@pytest.mark.published("voltage divider: 200 ohm into one to four inputs of 2 kohm")
@pytest.mark.parametrize(("desks", "db"), [(1, -0.83), (2, -1.58), (3, -2.28), (4, -2.92)])
def test_loss_by_desks(desks: int, db: float) -> None:
    assert float(HOUSE_INPUT_OHM) == 2000
    assert line(200, *[2000] * desks).loss_db == pytest.approx(db, abs=0.005)
    assert line(200).with_desks_db(desks) == pytest.approx(db, abs=0.005)
    assert line(200, 2000).with_desks_db(desks) == pytest.approx(db, abs=0.005)


def test_nothing_known_nothing_told() -> None:
    assert line(None, 2000).loss_db is None
    assert line(None, 2000).with_desks_db(2) is None
    assert line(200).loss_db is None
    assert line(200).load_ohm is None


def test_both_legs_of_a_split_load() -> None:
    """mic-vocal-dynamic 300 ohm; mixer-rack-16 3 kohm; a house of 2 kohm: 1200 ohm in all."""
    found = seen(SPLIT).loads["voice"]
    assert [key for key, _ in found.loads] == ["mixer.in.1", "house.1"]
    assert found.load_ohm == pytest.approx(1200)
    assert found.loss_db == pytest.approx(-1.938, abs=0.001)
    assert found.provenance == "assumed"  # the house has not said


@pytest.mark.parametrize("name", WHOLE)
def test_same_loss_as_in_the_ladder(name: str) -> None:
    """The loss told here is a part of the first hop of the line, not a second opinion."""
    view = whole(name)
    for source, found in view.loads.items():
        if found.loss_db is None:
            continue
        hops = view.graph.leaving[view.graph.index[found.driver]]
        parts = [p.value_db for n in hops for p in view.figures.step(n).parts]
        assert any(p == pytest.approx(found.loss_db, abs=1e-9) for p in parts), source


@pytest.mark.published("IEC 61938, P48 through 6.81 kohm on each conductor; Kirchhoff")
def test_volts_at_the_microphone() -> None:
    found = fed("hat", Quantity(4, "datasheet"))
    assert found.volts["one feeder"] == pytest.approx(48 - 4 * 3.405)
    assert found.volts["two feeders"] == pytest.approx(48 - 4 * 3.405 / 2)
    half: FedBy = "one feeder, the other's resistors at earth"
    assert found.volts[half] == pytest.approx(24 - 4 * 3.405 / 2)
    assert found.feeder_ma["one feeder"] == pytest.approx(4)
    assert found.feeder_ma["two feeders"] == pytest.approx(2)
    # What the feeder gives goes into the microphone and back through the other's resistors.
    assert found.feeder_ma[half] == pytest.approx(4 + found.volts[half] / 3.405)


def test_what_is_left_likely_is_what_the_microphone_likely_draws() -> None:
    """A data sheet's 4 mA are 3.6 to 4.4, by the spreads; the most current leaves the least."""
    one, two, _ = likely_volts(fed("hat", Quantity(4, "datasheet")))
    assert (one.low, one.high) == pytest.approx((48 - 4.4 * 3.405, 48 - 3.6 * 3.405))
    assert (two.low, two.high) == pytest.approx((48 - 4.4 * 3.405 / 2, 48 - 3.6 * 3.405 / 2))
    assert one.provenance == "datasheet"


@pytest.mark.published("IEC 61938, P48: 48 V +- 4 V, at most 10 mA")
def test_the_least_a_microphone_has_to_live_on() -> None:
    assert least_v(Quantity(10)) == pytest.approx(44 - 34.05)


def test_only_what_draws_is_fed() -> None:
    view = seen("""
sources:
  - {id: hat, name: Hat, family: drums, mic: mic-small-condenser}
  - {id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}
  - {id: git, name: Guitar, family: guitar, di: di-active, mic: mic-vocal-dynamic}
gear: [{id: mixer, type: mixer-rack-16}]
""")
    found = {f.source: float(f.needs_ma) for f in fed_lines(view.rig, view.lines)}
    assert found == {"hat": 3, "git": 6}
