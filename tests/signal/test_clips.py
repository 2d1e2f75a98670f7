"""What an output bears: its volts, or its current into what is plugged in."""

from math import log10, sqrt

import pytest

from rigproof.rig import Rig
from rigproof.signal.clips import clip_at
from tests.bands import WHOLE, seen, whole

AMP = """
people:
  - {id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: FEW}}
  - {id: ben, name: Ben, ears: {plug: amp.phones.2, earphones: headphones-250-ohm}}
gear: [{id: amp, type: headphone-amp-4-quiet}]
"""


def _phones(rig: Rig) -> tuple[float, float, float]:
    (port,) = (p for p in rig.type_of("amp").ports if p.id == "phones")
    assert port.max_ma is not None
    assert port.impedance_ohm is not None
    assert port.max_level_dbu is not None
    return float(port.max_ma), float(port.impedance_ohm), float(port.max_level_dbu)


def test_into_few_ohms_the_current_gives_out_and_into_many_the_volts() -> None:
    """By Ohm's law and the definition of 0 dBu, from the figures of the types."""
    view = seen(AMP.replace("FEW", "earphones-custom-6"))
    index, figures = view.graph.index, view.figures
    highest_ma, output_ohm, highest_dbu = _phones(view.rig)
    few = figures.earphone("ana")
    assert few is not None
    assert few.impedance_ohm is not None
    volts = highest_ma / 1000 * (output_ohm + few.impedance_ohm)
    into_few = clip_at(figures, index["amp.phones.1.1"])
    into_many = clip_at(figures, index["amp.phones.2.1"])
    nothing = clip_at(figures, index["amp.phones.3.1"])
    assert into_few is not None
    assert into_many is not None
    assert nothing is not None
    assert into_few.figure == pytest.approx(20 * log10(volts / sqrt(0.6)))
    assert into_few.figure < highest_dbu
    assert into_few.inputs
    assert (into_many.figure, into_many.inputs) == (highest_dbu, ())
    assert nothing.figure == highest_dbu
    assert view.ears.loudest("ana") is not None


@pytest.mark.parametrize("name", WHOLE)
def test_the_quick_list_is_each_place_by_itself(name: str) -> None:
    figures = whole(name).figures
    for number, quick in enumerate(figures.clips_db):
        clip = clip_at(figures, number)
        assert quick == (None if clip is None else pytest.approx(float(clip.figure)))
