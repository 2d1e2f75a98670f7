"""An independent judge: the same networks solved node by node as a system of linear equations.

Nothing here knows a divider or a parallel formula: Kirchhoff's current law is written down for
every node and numpy solves it.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from rigproof.physics import loading, pads, phantom48

Resistor = tuple[int, int, float]  # node, node, ohm; node 0 is ground
Held = tuple[int, int, float]  # node, node, volts between them

ohms = st.floats(1, 1e5)


def solve(
    nodes: int,
    resistors: Sequence[Resistor],
    held: Sequence[Held] = (),
    drawn: Sequence[tuple[int, int, float]] = (),
    transformers: Sequence[tuple[int, int, float]] = (),
) -> NDArray[np.float64]:
    """Voltage of each node (0 is ground). `drawn` amps leave the first node for the second.

    `transformers`: (primary, secondary, turns ratio), both windings to ground.
    """
    size = nodes + 1 + len(held) + len(transformers)
    a, b = np.zeros((size, size)), np.zeros(size)
    for p, q, ohm in resistors:
        for one, other in ((p, q), (q, p)):
            a[one, one] += 1 / ohm
            a[one, other] -= 1 / ohm
    for p, q, ampere in drawn:
        b[p] -= ampere
        b[q] += ampere
    row = nodes + 1
    for p, q, volts in held:
        a[p, row] += 1
        a[q, row] -= 1
        a[row, p], a[row, q], b[row] = 1, -1, volts
        row += 1
    for primary, secondary, ratio in transformers:
        # The primary takes n times the current that the secondary gives.
        a[primary, row] += ratio
        a[secondary, row] -= 1
        a[row, secondary], a[row, primary] = 1, -ratio
        row += 1
    a[0, :], b[0] = 0, 0  # ground
    a[0, 0] = 1
    return np.asarray(np.linalg.solve(a, b)[: nodes + 1], dtype=np.float64)


def db(ratio: float) -> float:
    return 20 * math.log10(ratio)


@given(ohms, st.lists(ohms, min_size=1, max_size=5))
def test_inputs_in_parallel(source_ohm: float, inputs_ohm: list[float]) -> None:
    found = solve(2, [(1, 2, source_ohm), *((2, 0, ohm) for ohm in inputs_ohm)], [(1, 0, 1.0)])
    expected = loading.loading_loss_db(source_ohm=source_ohm, input_ohm=inputs_ohm)
    assert db(found[2]) == pytest.approx(expected, abs=1e-7)


@given(ohms, ohms, ohms, st.lists(st.tuples(ohms, ohms), max_size=3))
def test_legs_with_series_resistance(
    source_ohm: float, series_ohm: float, input_ohm: float, others: list[tuple[float, float]]
) -> None:
    network: list[Resistor] = [(1, 2, source_ohm), (2, 3, series_ohm), (3, 0, input_ohm)]
    for node, (ohm, load_ohm) in enumerate(others, start=4):
        network += [(2, node, ohm), (node, 0, load_ohm)]
    found = solve(3 + len(others), network, [(1, 0, 1.0)])
    expected = loading.leg_loss_db(
        source_ohm=source_ohm,
        series_ohm=series_ohm,
        input_ohm=input_ohm,
        others_ohm=[sum(other) for other in others],
    )
    assert db(found[3]) == pytest.approx(expected, abs=1e-7)


@given(ohms, ohms, ohms, ohms, ohms, st.floats(0.1, 10))
def test_transformer_legs(
    source_ohm: float,
    primary_ohm: float,
    secondary_ohm: float,
    input_ohm: float,
    direct_ohm: float,
    ratio: float,
) -> None:
    found = solve(
        5,
        [
            (1, 2, source_ohm), (2, 0, direct_ohm), (2, 3, primary_ohm),
            (4, 5, secondary_ohm), (5, 0, input_ohm),
        ],
        [(1, 0, 1.0)],
        transformers=[(3, 4, ratio)],
    )  # fmt: skip
    expected = loading.transformer_leg_loss_db(
        source_ohm=source_ohm,
        primary_ohm=primary_ohm,
        secondary_ohm=secondary_ohm,
        input_ohm=input_ohm,
        others_ohm=[direct_ohm],
        turns_ratio=ratio,
    )
    assert db(found[5]) == pytest.approx(expected, abs=1e-6)
    taken_a = (found[2] - found[3]) / primary_ohm
    seen_ohm = loading.transformer_leg_ohm(
        primary_ohm=primary_ohm, secondary_ohm=secondary_ohm, input_ohm=input_ohm,
        turns_ratio=ratio,
    )  # fmt: skip
    assert found[2] / taken_a == pytest.approx(seen_ohm, rel=1e-5)


@given(ohms, st.lists(ohms, max_size=3), ohms)
def test_what_an_input_looks_back_into(
    source_ohm: float, others_ohm: list[float], series_ohm: float
) -> None:
    """One ampere pushed in where the input would be, with the source dead."""
    back: list[Resistor] = [(1, 0, source_ohm), *((1, 0, ohm) for ohm in others_ohm)]
    found = solve(2, [*back, (1, 2, series_ohm)], drawn=[(0, 2, 1.0)])
    expected = loading.seen_from_input_ohm(
        source_ohm=source_ohm, others_ohm=others_ohm, series_ohm=series_ohm
    )
    assert found[2] == pytest.approx(expected, rel=1e-6)


@given(ohms, ohms, ohms, ohms, ohms)
def test_balanced_pad_by_its_four_legs(
    source_ohm: float, leg_ohm: float, shunt_ohm: float, far_leg_ohm: float, input_ohm: float
) -> None:
    """A real H: hot on nodes 1-2-3-4, cold on 0-5-6."""
    network: list[Resistor] = [
        (1, 2, source_ohm), (2, 3, leg_ohm), (0, 5, leg_ohm), (3, 5, shunt_ohm),
        (3, 4, far_leg_ohm), (5, 6, far_leg_ohm), (4, 6, input_ohm),
    ]  # fmt: skip
    found = solve(6, network, [(1, 0, 1.0)])
    expected = pads.pad_loss_db(
        source_ohm=source_ohm,
        series_ohm=2 * leg_ohm,
        shunt_ohm=shunt_ohm,
        far_series_ohm=2 * far_leg_ohm,
        input_ohm=input_ohm,
    )
    assert db(found[4] - found[6]) == pytest.approx(expected, abs=1e-5)
    seen_ohm = found[2] / ((found[1] - found[2]) / source_ohm)
    shown_ohm = pads.pad_input_ohm(
        series_ohm=2 * leg_ohm, shunt_ohm=shunt_ohm, far_series_ohm=2 * far_leg_ohm,
        input_ohm=input_ohm,
    )  # fmt: skip
    assert seen_ohm == pytest.approx(shown_ohm, rel=1e-5)
    dead = solve(6, [*network[:-1], (1, 0, 1e-9)], drawn=[(6, 4, 1.0)])
    back_ohm = pads.pad_output_ohm(
        source_ohm=source_ohm, series_ohm=2 * leg_ohm, shunt_ohm=shunt_ohm,
        far_series_ohm=2 * far_leg_ohm,
    )  # fmt: skip
    assert dead[4] - dead[6] == pytest.approx(back_ohm, rel=1e-5)


@given(
    st.floats(0, 10),
    st.lists(st.tuples(st.floats(0, 52), st.floats(600, 7000)), min_size=1, max_size=4),
)
def test_feeders_on_both_conductors(drawn_ma: float, feeders: list[tuple[float, float]]) -> None:
    """Pin 2 is node 1, pin 3 is node 2; the microphone draws half its current from each."""
    network: list[Resistor] = []
    held: list[Held] = []
    for node, (volts, leg_ohm) in enumerate(feeders, start=3):
        network += [(node, 1, leg_ohm), (node, 2, leg_ohm)]
        held.append((node, 0, volts))
    half_a = drawn_ma / 2000
    found = solve(2 + len(feeders), network, held, drawn=[(1, 0, half_a), (2, 0, half_a)])
    expected = phantom48.shared_microphone_v(
        current_ma=drawn_ma, supply_v=[v for v, _ in feeders], leg_ohm=[r for _, r in feeders]
    )
    assert found[1] == pytest.approx(expected, abs=1e-7)
    assert found[2] == pytest.approx(expected, abs=1e-7)


@given(st.floats(1, 52), st.floats(600, 7000), st.floats(1, 1e4))
def test_faults_of_a_feed(supply_v: float, leg_ohm: float, output_ohm: float) -> None:
    network: list[Resistor] = [(3, 1, leg_ohm), (3, 2, leg_ohm)]
    shorted = solve(3, [*network, (1, 0, 1e-6), (2, 0, 1e-6)], [(3, 0, supply_v)])
    flowing_ma = 1000 * (shorted[1] + shorted[2]) / 1e-6
    expected = phantom48.short_circuit_ma(supply_v=supply_v, leg_ohm=leg_ohm)
    assert flowing_ma == pytest.approx(expected, rel=1e-5)
    # Hot through an unbalanced output to ground, cold straight to ground.
    unbalanced = solve(3, [*network, (1, 0, output_ohm), (2, 0, 1e-6)], [(3, 0, supply_v)])
    driven_ma = phantom48.unbalanced_ma(supply_v=supply_v, leg_ohm=leg_ohm, output_ohm=output_ohm)
    assert 1000 * unbalanced[1] / output_ohm == pytest.approx(driven_ma, rel=1e-5)
