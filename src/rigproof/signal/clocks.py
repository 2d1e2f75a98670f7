"""Who leads the clock of each box, by following who follows whom."""

from collections.abc import Mapping

from rigproof.rig import Rig


def clock_leaders(rig: Rig) -> Mapping[str, str]:
    """Box -> the box at the head of its clock; itself where nothing is said; absent for analogue.

    A ring of followers has no head: each of its members gets the alphabetically first as a name,
    and a rule complains.
    """
    follows = {clock.gear: clock.follows for clock in rig.file.clocks if clock.follows is not None}
    leaders: dict[str, str] = {}
    for gear in rig.file.gear:
        if rig.types[gear.type].clock is not None:
            leaders[gear.id] = _head(gear.id, follows)
    return leaders


def _head(gear: str, follows: Mapping[str, str]) -> str:
    seen = [gear]
    while (next_ := follows.get(seen[-1])) is not None:
        if next_ in seen:
            return min(seen[seen.index(next_) :])
        seen.append(next_)
    return seen[-1]
