"""Where transmitters that hear each other make signals of their own, and whether they hit.

Two or three carriers in one nonlinear stage (an output stage, a front end, a rusty bolt) mix to
sums and differences of their multiples. Those of odd order whose weights add up to one fall among
the carriers. Frequencies are plain numbers on one scale: MHz, or steps of a raster.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import permutations

import msgspec

Weights = tuple[int, ...]

THIRD_OF_TWO: tuple[Weights, ...] = ((2, -1),)
THIRD_OF_THREE: tuple[Weights, ...] = ((1, 1, -1),)
FIFTH_OF_TWO: tuple[Weights, ...] = ((3, -2),)
FIFTH_OF_THREE: tuple[Weights, ...] = ((3, -1, -1), (2, 1, -2))
NEAR_FORMS: tuple[Weights, ...] = THIRD_OF_TWO + THIRD_OF_THREE + FIFTH_OF_TWO + FIFTH_OF_THREE

# Typed frequencies are decimal; their sums are not, by a part in 10^12 or so.
_ROUNDING_MHZ = 1e-7


class Product(msgspec.Struct, frozen=True):
    """A mixing product: at which frequency, from which carriers (their places in the list)."""

    at_mhz: float
    carriers: tuple[int, ...]
    weights: Weights


class Hit(msgspec.Struct, frozen=True):
    """A product that falls on a carrier or too near to it."""

    product: Product
    carrier: int
    off_mhz: float


def product_mhz(carriers_mhz: Sequence[float], weights: Weights) -> float:
    """Where one product of these carriers falls.

    w1 f1 + w2 f2 + ... Source: intermodulation tables; the order is the sum of the weights
    without their signs.

    >>> product_mhz([606.5, 607.1], (2, -1))
    605.9
    """
    return round(sum(w * f for w, f in zip(weights, carriers_mhz, strict=True)), 9)


def products(
    carriers_mhz: Sequence[float], forms: Sequence[Weights] = NEAR_FORMS
) -> Iterator[Product]:
    """Every product of these forms, each once: carriers of equal weight may change places.

    Derived: all arrangements of the carriers. n (n - 1) of two and n (n - 1)(n - 2) / 2 of three
    carriers of third order.

    >>> [one.at_mhz for one in products([100, 101], THIRD_OF_TWO + FIFTH_OF_TWO)]
    [99, 102, 98, 103]
    """
    for weights in forms:
        for chosen in permutations(range(len(carriers_mhz)), len(weights)):
            alike = zip(weights, weights[1:], chosen, chosen[1:], strict=False)
            if all(one != next_ or place < after for one, next_, place, after in alike):
                at_mhz = product_mhz([carriers_mhz[place] for place in chosen], weights)
                yield Product(at_mhz, chosen, weights)


def hits(
    carriers_mhz: Sequence[float],
    forms: Sequence[Weights] = NEAR_FORMS,
    *,
    guard_mhz: float = 0.0,
) -> Iterator[Hit]:
    """Every product that falls within the guard of a carrier, its own makers among them.

    Derived: comparison of each product with each carrier. A guard of 0 finds only what falls on
    one exactly; half the width of a channel is the usual one.

    >>> [hit.carrier for hit in hits([0, 1, 2, 4], THIRD_OF_TWO)]
    [2, 0, 3, 0]
    """
    places = sorted(range(len(carriers_mhz)), key=lambda place: (carriers_mhz[place], place))
    in_order_mhz = [carriers_mhz[place] for place in places]
    reach_mhz = guard_mhz + _ROUNDING_MHZ
    for product in products(carriers_mhz, forms):
        first = bisect_left(in_order_mhz, product.at_mhz - reach_mhz)
        for place in places[first : bisect_right(in_order_mhz, product.at_mhz + reach_mhz)]:
            yield Hit(product, place, round(product.at_mhz - carriers_mhz[place], 9))


def third_order_dbm(*, input_dbm: float, intercept_dbm: float, gain_db: float = 0.0) -> float:
    """Level of a third-order product of two carriers of the same level.

    3 P - 2 IIP3 + G. Source: third-order intercept formula, both at the input.

    >>> third_order_dbm(input_dbm=-30, intercept_dbm=-5)
    -80.0
    """
    return 3 * input_dbm - 2 * intercept_dbm + gain_db


def cleanest_raster(carriers: int) -> tuple[int, ...]:
    """The narrowest set of raster steps on which no third-order product hits: a Golomb ruler.

    Source: Golomb rulers (OEIS A003022): where all differences are distinct, 2a - b and a + b - c
    never meet a member. Fifth order is not looked at. Found by search: up to about 8 carriers at
    once.

    >>> cleanest_raster(4)
    (0, 1, 4, 6)
    """
    longest = carriers * (carriers - 1) // 2
    while True:
        found = _extended((0,), frozenset(), carriers, longest)
        if found:
            return found
        longest += 1


def _extended(
    marks: tuple[int, ...], used: frozenset[int], carriers: int, longest: int
) -> tuple[int, ...]:
    """These marks with more behind them, up to a length; nothing if that cannot be."""
    if len(marks) == carriers:
        return marks
    missing = carriers - len(marks) - 1
    for mark in range(marks[-1] + 1, longest - missing * (missing + 1) // 2 + 1):
        steps = frozenset(mark - earlier for earlier in marks)
        if not steps & used:
            found = _extended((*marks, mark), used | steps, carriers, longest)
            if found:
                return found
    return ()
