"""How far a whole mix may be turned up: what it aims at, and what holds it back."""

from typing import Literal

import msgspec

By = Literal["aim", "exposure", "limiter", "bus", "range"]
BUS_ROOM_DB = 3.0  # over the peaks of a mix, as `gains` keeps it


class Overall(msgspec.Struct, frozen=True, kw_only=True):
    """By how much all levels of a mix are turned, and what decided it."""

    turn_db: float
    by: By


def overall(
    *,
    aim_db: float | None,
    exposure_db: float | None,
    limiter_db: float | None,
    bus_db: float | None,
    range_db: float,
    step_db: float,
) -> Overall:
    """The turn that reaches an aim without passing a bound; all as turns from where the mix stands.

    `range_db`: as far as the highest send goes. Without an aim the highest send stays where it is.
    Rounded down to whole steps.
    """
    bounds: list[tuple[float, By]] = [(0.0 if aim_db is None else aim_db, "aim")]
    for turn, by in ((exposure_db, "exposure"), (limiter_db, "limiter"), (bus_db, "bus")):
        if turn is not None:
            bounds.append((turn, by))  # type: ignore[arg-type]
    bounds.append((range_db, "range"))
    turn_db, decided = min(bounds, key=lambda bound: bound[0])
    return Overall(turn_db=turn_db // step_db * step_db, by=decided)
