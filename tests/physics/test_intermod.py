from collections import Counter
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.physics import intermod
from tests.reference.rows import Calls, Row, assert_agrees, judged_by


def _weighted(row: Row, weights: intermod.Weights) -> float:
    carriers = [row[name] for name, _ in row.items() if name in ("f1", "f2", "f3")]
    return intermod.product_mhz(carriers, weights)


def _hits(row: Row, forms: tuple[intermod.Weights, ...]) -> float:
    return sum(1 for _ in intermod.hits(row.numbers("channels"), forms))


def _count(row: Row, forms: tuple[intermod.Weights, ...]) -> float:
    return sum(1 for _ in intermod.products([float(i * i) for i in range(int(row["n"]))], forms))


THIRD = intermod.THIRD_OF_TWO + intermod.THIRD_OF_THREE

CALLS: Calls = {
    ("radio/intermod", "2f1-f2 for *"): lambda row: _weighted(row, (2, -1)),
    ("radio/intermod", "f1+f2 for *"): lambda row: _weighted(row, (1, 1)),
    ("radio/intermod", "2f2+f1 for *"): lambda row: _weighted(row, (1, 2)),
    ("radio/intermod", "3f1-2f2 (fifth order) *"): lambda row: _weighted(row, (3, -2)),
    ("radio/intermod", "three-transmitter f1+f2-f3"): lambda row: _weighted(row, (1, 1, -1)),
    ("radio/intermod", "three-transmitter f1+f3-f2"): lambda row: _weighted(row, (1, -1, 1)),
    ("radio/intermod", "number of three-signal *"): lambda row: _count(
        row, intermod.THIRD_OF_THREE
    ),
    ("radio/intermod", "number of two-signal *"): lambda row: _count(row, intermod.THIRD_OF_TWO),
    ("radio/intermod", "shortest Golomb ruler *"): lambda row: intermod.cleanest_raster(
        int(row["marks"])
    )[-1],
    ("radio/intermod", "third-order hits inside *"): lambda row: _hits(row, THIRD),
    ("radio/intermod", "two-signal fifth-order hits *"): lambda row: _hits(
        row, intermod.FIFTH_OF_TWO
    ),
    ("radio/intermod", "third-order product level *"): lambda row: intermod.third_order_dbm(
        input_dbm=row["Pin"], intercept_dbm=row["IIP3"], gain_db=row["G"]
    ),
    ("radio/intermod", "moving transmitters 2 dB down: *"): lambda row: (
        intermod.third_order_dbm(input_dbm=row["dPin"], intercept_dbm=7)
        - intermod.third_order_dbm(input_dbm=0, intercept_dbm=7)
    ),
}


@judged_by(CALLS, "systems.csv")
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


def brute(carriers: list[int], order: int, most: int) -> Counter[int]:
    """Every whole-number weighting of the carriers of this order that sums to one.

    Plain arithmetic over all weightings, none of the module's forms: at most `most` carriers take
    part, and those with one alone (the carrier itself) are no products.
    """
    found: Counter[int] = Counter()
    for count in range(2, most + 1):
        for chosen in combinations(carriers, count):
            for weights in product(range(-order, order + 1), repeat=count):
                if (
                    all(weights)
                    and sum(weights) == 1
                    and sum(abs(weight) for weight in weights) == order
                ):
                    found[sum(w * f for w, f in zip(weights, chosen, strict=True))] += 1
    return found


raster = st.lists(st.integers(0, 400), min_size=2, max_size=6, unique=True)


@settings(max_examples=60, deadline=None)
@given(raster)
def test_products_against_all_weightings(steps: list[int]) -> None:
    """25 kHz steps from 600 MHz, so that the module meets real decimals."""
    carriers = [round(600 + 0.025 * step, 3) for step in steps]
    found = Counter(round((one.at_mhz - 600) / 0.025) for one in intermod.products(carriers))
    assert found == brute(steps, 3, 3) + brute(steps, 5, 3)


@settings(max_examples=60, deadline=None)
@given(raster, st.integers(0, 8))
def test_hits_against_all_weightings(steps: list[int], guard: int) -> None:
    carriers = [round(600 + 0.025 * step, 3) for step in steps]
    near = sum(
        count * (abs(at - step) <= guard)
        for at, count in (brute(steps, 3, 3) + brute(steps, 5, 3)).items()
        for step in steps
    )
    found = list(intermod.hits(carriers, guard_mhz=0.025 * guard))
    assert len(found) == near
    for hit in found:
        at = sum(
            weight * carriers[place]
            for weight, place in zip(hit.product.weights, hit.product.carriers, strict=True)
        )
        assert at - carriers[hit.carrier] == pytest.approx(hit.off_mhz, abs=1e-6)


@pytest.mark.parametrize("carriers", range(2, 8))
def test_a_clean_raster_is_clean_and_none_is_narrower(carriers: int) -> None:
    found = intermod.cleanest_raster(carriers)
    assert len(found) == carriers
    assert list(intermod.hits(found, THIRD)) == []
    if carriers <= 5:
        for inner in combinations(range(1, found[-1] - 1), carriers - 2):
            narrower = [0, *inner, found[-1] - 1]
            assert set(brute(narrower, 3, 3)) & set(narrower)


@pytest.mark.published("third-order intercept: where both lines would meet")
@given(st.floats(-60, 20), st.floats(-20, 30))
def test_at_the_intercept_the_product_is_as_strong(intercept: float, gain: float) -> None:
    found = intermod.third_order_dbm(input_dbm=intercept, intercept_dbm=intercept, gain_db=gain)
    assert found == pytest.approx(intercept + gain)
