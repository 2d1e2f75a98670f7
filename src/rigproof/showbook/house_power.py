"""What a venue's electrician reads: points, places, amps; and how long the rack takes to wake."""

from rigproof.mains.outlets import gives_mains, needs_mains, supplies, watts_known
from rigproof.rig import Gear, Rig, Venue
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.signal import words
from rigproof.wording import counted, listed
from rigproof.wording.connectors import connector

__all__ = ["mains", "waking_s"]


def mains(rig: Rig, venue: Venue) -> list[str]:
    """Points wanted, what they feed, and what the venue offers."""
    said = []
    case, stage = _points(rig)
    volts_v = venue.volts_v or (rig.file.power.volts_v if rig.file.power else None)
    if case:
        side = naming.stage_side(float(venue.case_at_m[0])) if venue.case_at_m else ""
        place = f" {side}" if side else ""
        said.append(f"{counted(len(case), 'point')} at our case{place}.")
    if stage:
        said.append(f"{counted(len(stage), 'point')} on stage: {listed(stage)}.")
    watts, silent = watts_known(rig, "watts_max")
    if volts_v is not None and watts > 0:
        rest = f"; {counted(len(silent), 'box says', 'boxes say')} nothing" if silent else ""
        said.append(
            f"Case: {watts:.0f} W at most, about {watts / volts_v:.1f} A at "
            f"{naming.number(volts_v)} V ({watts.provenance} figures{rest})."
        )
    for circuit in venue.circuits:
        amps = f", {naming.number(circuit.amps_a)} A" if circuit.amps_a is not None else ""
        shared = f", shared with {circuit.shared_with}" if circuit.shared_with else ""
        socket = connector(circuit.socket) if circuit.socket else ""
        said.append(
            f"Yours: {circuit.id.replace('-', ' ')}{f', {socket}' if socket else ''}{amps}{shared}."
        )
    return said


def _points(rig: Rig) -> tuple[list[str], list[str]]:
    """Who is plugged straight into the venue: strips in the case, and boxes on the stage."""
    fed = {supply.gear: supply for supply in supplies(rig)}
    case: list[str] = []
    stage: list[str] = []
    for gear in rig.file.gear:
        type_ = rig.types[gear.type]
        if gear.owner == "house" or not (needs_mains(type_) or gives_mains(type_)):
            continue
        supply = fed.get(gear.id)
        if supply is not None and supply.feed is not None and supply.feed.outlet.gear != HOUSE:
            continue
        (case if gear.placed == "case" else stage).append(_who(rig, gear))
    return case, stage


def _who(rig: Rig, gear: Gear) -> str:
    name = words.box(rig, gear.id)
    who = naming.person(rig, gear.with_person)
    return f"{name} ({who})" if who and who not in name else name


def waking_s(rig: Rig) -> str:
    """How long the slowest box in the case takes to start, as far as it is known."""
    boots = [
        power.boot_s
        for gear in rig.file.gear
        if gear.placed == "case"
        and (power := rig.types[gear.type].power) is not None
        and power.boot_s is not None
    ]
    if not boots:
        return ""
    slowest = max(boots)
    return f"about {naming.number(slowest)} s ({slowest.provenance})"
