"""Pan and balance: what both sides get together, by the law of each make."""

from math import cos, inf, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.physics.panning import CONSTANT_POWER_DB, balance_db, pan_db

turns = st.floats(-0.999, 0.999)


def power(level_db: float) -> float:
    return float(10 ** (level_db / 10))


@given(turns)
def test_at_three_decibels_the_powers_of_both_sides_add_to_one(turn: float) -> None:
    """What the name of the law says; sine and cosine, by hand."""
    sides = [pan_db(toward_ratio=side, centre_db=CONSTANT_POWER_DB) for side in (-turn, turn)]
    assert sum(map(power, sides)) == pytest.approx(1)
    angle = (turn + 1) * pi / 4
    assert [power(side) for side in sides] == pytest.approx([cos(angle) ** 2, sin(angle) ** 2])


@given(turns)
def test_at_six_decibels_the_voltages_of_both_sides_add_to_one(turn: float) -> None:
    centre_db = 2 * CONSTANT_POWER_DB
    sides = [pan_db(toward_ratio=side, centre_db=centre_db) for side in (-turn, turn)]
    assert sum(10 ** (side / 20) for side in sides) == pytest.approx(1)


@pytest.mark.parametrize("centre_db", [3, 4.5, 6])
def test_the_middle_takes_what_the_maker_says(centre_db: float) -> None:
    assert pan_db(toward_ratio=0, centre_db=centre_db) == pytest.approx(-centre_db)
    assert pan_db(toward_ratio=1, centre_db=centre_db) == 0
    assert pan_db(toward_ratio=-1, centre_db=centre_db) == -inf


@given(st.floats(-1, 1))
def test_a_balance_takes_nothing_on_its_own_side(turn: float) -> None:
    assert max(balance_db(toward_ratio=turn), balance_db(toward_ratio=-turn)) == 0
    assert pan_db(toward_ratio=turn, centre_db=0) == balance_db(toward_ratio=turn)
    assert balance_db(toward_ratio=-1) == -inf


@given(turns, turns)
def test_more_toward_a_side_is_never_less_there(one: float, two: float) -> None:
    low, high = sorted((one, two))
    for centre_db in (0, 3, 4.5, 6):
        below = pan_db(toward_ratio=low, centre_db=centre_db)
        assert below <= pan_db(toward_ratio=high, centre_db=centre_db) + 1e-12
