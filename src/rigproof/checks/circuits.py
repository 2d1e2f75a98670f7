"""Rules about which circuit of a venue feeds what, apart from the rack's own lead."""

from collections.abc import Iterator, Mapping

from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import gives_mains, needs_mains, place_of
from rigproof.mains.outlets import feeds
from rigproof.rig import Gear, Rig, Venue
from rigproof.signal.words import box
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence

# What carries the earth of one box to the next: the shield of a lead. Network leads and fibre
# do not (their sockets have transformers, or light); a lead that runs into one is left out too.
_SHIELDED = frozenset({"mic", "line", "phones", "instrument", "usb"})


def _outside(rig: Rig) -> list[Gear]:
    """The band's boxes that stand outside the case, need mains, and hang on no outlet of ours."""
    fed = {feed.gear for feed in feeds(rig)}
    return [
        gear
        for gear in rig.file.gear
        if gear.owner == "band"
        and gear.placed in {"stage", "desk"}
        and gear.id not in fed
        and needs_mains(rig.types[gear.type])
        and not gives_mains(rig.types[gear.type])
    ]


def _stated(venue: Venue) -> dict[str, list[str]]:
    """Box -> the circuits of a venue that it is said to hang on."""
    found: dict[str, list[str]] = {}
    for circuit in venue.circuits:
        for name in circuit.feeds:
            found.setdefault(name, []).append(circuit.id)
    return found


def box_without_supply(view: View) -> Iterator[Finding]:
    """A box stands outside the case, needs mains, and nothing says where it gets them.

    Why: it ends on the nearest socket: behind the bar, on the circuit of the lights, with an earth
        of its own that hums in every ear.
    Fix: give it an outlet of the rack under power.feeds, or write it under feeds of a circuit of
        the venue.
    Source: common practice, no source.

    Fails:
        gear: [{id: laptop, name: Laptop, type: laptop, place: stage}]
        venues:
          - {id: bar, name: The bar, desk: {takes: nothing}, circuits: [{id: stage, amps_a: 16}]}
    Passes:
        gear: [{id: laptop, name: Laptop, type: laptop, place: stage}]
        venues:
          - {id: bar, name: The bar, desk: {takes: nothing},
             circuits: [{id: stage, amps_a: 16, feeds: [laptop]}]}
    """
    outside = _outside(view.rig)
    lost: dict[tuple[str, ...], list[Venue]] = {}
    for venue in view.venues:
        known = _stated(venue)
        left = tuple(gear.id for gear in outside if gear.id not in known)
        if left and venue.circuits:
            lost.setdefault(left, []).append(venue)
    for names, venues in lost.items():
        places = some(venue.name for venue in venues)
        yield Finding(
            at=view.rig.gear[names[0]].where,
            says=sentence(
                "Nothing says which outlet or circuit feeds {names} at {places}.",
                names=some(box(view.rig, name) for name in names),
                places=places,
            ),
        )


def fed_twice(view: View) -> Iterator[Finding]:
    """A box is written on two circuits, or on a circuit and an outlet of the rack.

    Why: one of the two lines is wrong, and whoever looks for the tripped breaker looks there.
    Fix: delete the one that is not so.
    Source: common practice, no source.

    Fails:
        gear: [{id: laptop, name: Laptop, type: laptop, place: stage}]
        venues:
          - {id: bar, name: The bar, desk: {takes: nothing},
             circuits: [{id: left, feeds: [laptop]}, {id: right, feeds: [laptop]}]}
    Passes:
        gear: [{id: laptop, name: Laptop, type: laptop, place: stage}]
        venues:
          - {id: bar, name: The bar, desk: {takes: nothing},
             circuits: [{id: left, feeds: [laptop]}, {id: right}]}
    """
    ours = {feed.gear for feed in feeds(view.rig)}
    for venue in view.venues:
        for name, circuits in _stated(venue).items():
            if name in ours:
                circuits = [*circuits, sentence("an outlet of the rack")]
            if len(circuits) > 1:
                yield Finding(
                    at=venue.where.of("circuits"),
                    says=sentence(
                        "At {venue} {named} is written on {names}.",
                        venue=venue.name,
                        named=_named(view, name),
                        names=listed(circuits),
                    ),
                    found=len(circuits),
                    limit=1,
                    unit="supplies",
                )


def _named(view: View, name: str) -> str:
    case = view.rig.file.case
    return (case.name or sentence("the case")) if case and case.id == name else box(view.rig, name)


def earths_differ(view: View) -> Iterator[Finding]:
    """Boxes on two circuits are joined by the shield of a lead.

    Why: the two earths are not at the same volts; the difference runs over the shield as hum, and
        where one of the earths is missing it runs through whoever touches both.
    Fix: feed both from one circuit, or part them in the signal: a DI or isolating transformer, or a
        computer on its battery. Never lift a protective earth; a licensed person measures it.
    Source: common practice, no source.

    Fails:
        case: {type: case-12}
        sources: [{id: click, name: Click, family: click, from: playback.out.1}]
        gear:
          - {id: playback, name: Playback, type: interface-8x8, unit: 1}
          - {id: laptop, name: Laptop, type: laptop, place: stage}
        leads: [{id: usb, type: lead-usb-c-c, from: laptop.usb.1, to: playback.usb}]
        venues:
          - {id: bar, name: The bar, desk: {takes: nothing},
             circuits: [{id: left, feeds: [case]}, {id: right, feeds: [laptop]}]}
    Passes:
        case: {type: case-12}
        sources: [{id: click, name: Click, family: click, from: playback.out.1}]
        gear:
          - {id: playback, name: Playback, type: interface-8x8, unit: 1}
          - {id: laptop, name: Laptop, type: laptop, place: stage}
        leads: [{id: usb, type: lead-usb-c-c, from: laptop.usb.1, to: playback.usb}]
        venues:
          - {id: bar, name: The bar, desk: {takes: nothing},
             circuits: [{id: left, feeds: [case, laptop]}, {id: right}]}
    """
    for venue in view.venues:
        if len(venue.circuits) < 2:
            continue
        on = _circuit_of(view.rig, venue)
        for run in view.runs:
            one, other = run.starts[0], run.ends[0]
            if one.port is None or other.port is None:
                continue
            here, there = on.get(one.gear), on.get(other.gear)
            shielded = one.port.carries in _SHIELDED and other.port.carries in _SHIELDED
            if here and there and here != there and shielded:
                names = listed(box(view.rig, name) for name in (one.gear, other.gear))
                yield Finding(
                    at=run.lead.where,
                    says=sentence(
                        "At {venue} {names} hang on the circuits {here} and {there}, and the "
                        "lead {run} joins their earths.",
                        venue=venue.name,
                        names=names,
                        here=here,
                        there=there,
                        run=run.name,
                    ),
                )


def _circuit_of(rig: Rig, venue: Venue) -> Mapping[str, str]:
    """Box -> the circuit it hangs on; what is in the case or on its outlets goes with the case."""
    on = {name: circuits[0] for name, circuits in _stated(venue).items()}
    rack = place_of(venue).circuit
    case = rig.file.case
    at = on.get(case.id) if case else None
    at = at or (rack.id if rack is not None else None)
    if at is not None:
        ours = {feed.gear for feed in feeds(rig)}
        for gear in rig.file.gear:
            if gear.placed == "case" or gear.id in ours:
                on.setdefault(gear.id, at)
    return on


RULES = (
    Rule(id="circuit.box-without-supply", severity="advice", check=box_without_supply, since="0.1"),
    Rule(id="circuit.fed-twice", severity="risk", check=fed_twice, since="0.1"),
    Rule(id="circuit.earths-differ", severity="advice", check=earths_differ, since="0.1"),
)
