"""What a venue's electrician reads: points, places, amps; and how long the rack takes to wake."""

from collections.abc import Iterator

from rigproof.mains.outlets import gives_mains, needs_mains, supplies, watts_known
from rigproof.rig import Gear, Rig, Venue
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.showbook.edition import Edition
from rigproof.signal import words
from rigproof.wording.connectors import connector

__all__ = ["mains", "points", "waking_s"]


def mains(rig: Rig, venue: Venue, edition: Edition) -> list[str]:
    """Points wanted, what they feed, and what the venue offers."""
    return [*points(rig, venue, edition), *_offered(venue, edition)]


def points(rig: Rig, venue: Venue | None, edition: Edition) -> list[str]:
    """How many points are wanted where, and what the case draws."""
    said = []
    case, stage = _points(rig, edition)
    at_m = venue.case_at_m if venue else None
    volts_v = venue.volts_v if venue else None
    volts_v = volts_v or (rig.file.power.volts_v if rig.file.power else None)
    if case and at_m:
        side = naming.stage_side(float(at_m[0]), edition)
        said.append(edition.say("hand-off.points_case", n=len(case), side=side))
    elif case:
        said.append(edition.say("hand-off.points_case_only", n=len(case)))
    if stage:
        names = edition.listed(stage)
        said.append(edition.say("hand-off.points_stage", n=len(stage), names=names))
    watts, silent = watts_known(rig, "watts_max")
    if volts_v is not None and watts > 0:
        rest = f"; {edition.say('hand-off.silent_boxes', n=len(silent))}" if silent else ""
        said.append(
            edition.say(
                "hand-off.load",
                watts=edition.number(watts, 0),
                amps=edition.figure(watts / volts_v, 1),
                volts=edition.number(volts_v),
                worth=edition.say(f"paper.{watts.provenance}"),
                rest=rest,
            )
        )
    return said


def _offered(venue: Venue, edition: Edition) -> Iterator[str]:
    for circuit in venue.circuits:
        parts = [circuit.id.replace("-", " ")]
        if circuit.socket:
            parts.append(connector(circuit.socket, edition.language))
        if circuit.amps_a is not None:
            parts.append(f"{edition.number(circuit.amps_a)} A")
        if circuit.shared_with:
            parts.append(edition.say("hand-off.shared", who=circuit.shared_with))
        yield edition.say("hand-off.circuit", parts=", ".join(parts))


def _points(rig: Rig, edition: Edition) -> tuple[list[str], list[str]]:
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
        (case if gear.placed == "case" else stage).append(_who(rig, gear, edition))
    return case, stage


def _who(rig: Rig, gear: Gear, edition: Edition) -> str:
    name = words.box(rig, gear.id, edition.language)
    who = naming.person(rig, gear.with_person)
    if not who or who in name:
        return name
    return edition.say("hand-off.who", name=name, who=who)


def waking_s(rig: Rig, edition: Edition) -> str:
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
    return edition.say(
        "hand-off.about_s",
        seconds=edition.number(slowest),
        worth=edition.say(f"paper.{slowest.provenance}"),
    )
