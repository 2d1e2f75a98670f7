"""How high the antennas of wireless packs and microphones stand.

A body takes 2.4 GHz by decibels for each centimetre and 800 MHz hardly less: an antenna in sight of
every pack, above standing heads, hears what one in a case behind people does not.
"""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rigproof.network.control_link import OVER_HEADS_M
from rigproof.rig import Gear, Rig
from rigproof.rig.quantity import Metres
from rigproof.rig.ref import HOUSE

_ENDS = frozenset({"receiver", "transmitter"})


class Antenna(msgspec.Struct, frozen=True):
    """One antenna, or the box that carries its own. `up_m` is None where nobody said."""

    gear: Gear
    up_m: Metres | None

    @property
    def over_heads(self) -> bool | None:
        return None if self.up_m is None else self.up_m >= OVER_HEADS_M


def antennas(rig: Rig) -> tuple[Antenna, ...]:
    """Those of the links to packs and hand-held microphones, in the order of the file."""
    fixed = {
        ref.gear
        for link in rig.file.radio
        for ref in (link.from_, link.to)
        if ref.gear != HOUSE and ref.gear in rig.gear and _stands(rig.gear[ref.gear])
    }
    coax = _coax(rig)
    found = {name for gear in fixed for name in _at_the_end(coax, gear)}
    return tuple(Antenna(gear, _up_m(rig, gear)) for gear in rig.file.gear if gear.id in found)


def _stands(gear: Gear) -> bool:
    """Whether a box stays where it is; a pack goes with its wearer."""
    return gear.placed != "person" and gear.with_person is None


def _at_the_end(coax: Mapping[str, Sequence[str]], start: str) -> Iterator[str]:
    """Where the antenna leads of a box end: its antennas, or the box with those of its own."""
    seen, queue = {start}, [start]
    for here in queue:  # grows as it goes
        further = [there for there in coax.get(here, ()) if there not in seen]
        seen.update(further)
        queue += further
        if not further:
            yield here


def _coax(rig: Rig) -> Mapping[str, Sequence[str]]:
    """Box -> what its antenna leads lead to, other than the boxes that send and receive."""
    found: dict[str, list[str]] = {}
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        if body is None or body.conductors != "coaxial":
            continue
        ends = (lead.from_.gear, lead.to.gear)
        for here, there in (ends, ends[::-1]):
            known = HOUSE not in ends and there in rig.gear and there != here
            if known and rig.type_of(there).class_ not in _ENDS:
                found.setdefault(here, []).append(there)
    return found


def _up_m(rig: Rig, gear: Gear) -> Metres | None:
    """As stated, or no higher than the case that the box sits in."""
    if gear.antenna_up_m is not None:
        return gear.antenna_up_m
    case = rig.file.case
    size = rig.types[case.type].case if case is not None else None
    if gear.placed != "case" or size is None or size.height_mm is None:
        return None
    return Metres(size.height_mm / 1000, size.height_mm.provenance)
