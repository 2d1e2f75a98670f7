"""The figures beside the sound that can be asked why: of a box, the case, a venue, a lead ...

Each package lays its own figures open (`reasons` in `mains`, `rack`, `network`, `mixes`); here is
only who has which. Asking costs nothing before one is chosen.
"""

from collections.abc import Callable, Iterator, Mapping
from functools import partial

import msgspec

from rigproof.checks.rule import View
from rigproof.mains import Place, bridges, usual_place, warmth
from rigproof.mains import reasons as mains
from rigproof.mixes import reasons as mixes
from rigproof.mixes.exposure import day_criterion, week_criterion
from rigproof.network import reasons as network
from rigproof.network.airwaves import coax_runs
from rigproof.network.control_link import control_link
from rigproof.network.feeding import budgets
from rigproof.network.traffic import crossings, socket_loads
from rigproof.rack import carry, stand
from rigproof.rack import reasons as rack
from rigproof.rack.weight import weight_of
from rigproof.rig import Gear
from rigproof.signal import linewhy, words
from rigproof.signal.loading import fed_lines
from rigproof.signal.reasons import Reason

USUAL_PLACE = "mains"  # of the file's own supply, where no venue is named
CONTROL = "control"
_LIFTERS = 2  # where the case does not say how many lift it


class Asked(msgspec.Struct, frozen=True):
    """One figure of one thing: its word, what it is, and the way to lay it open."""

    figure: str
    title: str
    reason: Callable[[], Reason]


# The figures in the order in which they are told of; the words that may follow `--of`.
FIGURES = (
    "exposure", "load", "phantom", "power", "volts", "minutes", "poe", "weight", "depth",
    "carried", "tip", "lift", "heat", "length", "loss", "bandwidth", "latency", "products",
    "current", "leakage", "inrush", "ready", "signal",
)  # fmt: skip


def things(view: View) -> Mapping[str, str]:
    """Whatever has a figure of its own, by identifier, with the name that people use."""
    file = view.rig.file
    found = {person.id: person.name for person in file.people}
    found |= {source.id: source.name for source in file.sources}
    found |= dict(view.rig.box_names)
    if file.case is not None:
        found[file.case.id] = file.case.name or "the case"
    found |= {lead.id: lead.label or lead.id for lead in file.leads}
    found |= {stream.id: stream.name or stream.id for stream in file.streams}
    found |= {link.id: link.id for link in file.radio}
    found |= {venue.id: venue.name for venue in file.venues}
    if file.power is not None:
        found.setdefault(USUAL_PLACE, "the usual supply")
    if file.control is not None:
        found.setdefault(CONTROL, "the control link")
    return found


def figures(view: View, name: str) -> Mapping[str, Asked]:
    """The figures of one thing, by the word to ask for them with."""
    found: dict[str, Asked] = {}
    for asked in _all(view, name):
        found.setdefault(asked.figure, asked)
    return found


def _all(view: View, name: str) -> Iterator[Asked]:
    if name in view.rig.people:
        yield from _of_person(view, name)
    if name in view.rig.sources:
        yield from _of_source(view, name)
    if name in view.rig.gear:
        yield from _of_box(view, view.rig.gear[name])
    case = view.rig.file.case
    if case is not None and case.id == name:
        yield from _of_case(view, case.lifted_by or _LIFTERS)
    yield from _of_lead(view, name)
    yield from _of_stream(view, name)
    if any(link.id == name for link in view.rig.file.radio):
        yield Asked(
            "products",
            f"Products on the carrier of {name}",
            lambda: network.why_products(view.air, name),
        )
    yield from _of_place(view, name)
    if name == CONTROL and view.rig.file.control is not None:
        yield Asked(
            "signal",
            "What arrives over the control link",
            lambda: network.why_control(control_link(view.rig)),
        )


def _of_person(view: View, name: str) -> Iterator[Asked]:
    who = words.person(view.rig, name)
    own = next((one for one in view.exposures if one.person == name), None)
    if own is None:
        return
    yield Asked(
        "exposure",
        f"The exposure of {who}",
        lambda: mixes.why_exposure(
            own,
            who,
            view.widths.together(name),
            day=day_criterion(view.rig),
            week=week_criterion(view.rig),
        ),
    )


def _of_source(view: View, name: str) -> Iterator[Asked]:
    said = view.rig.sources[name].name
    if name in view.loads:
        yield Asked("load", f"The load on {said}", lambda: linewhy.why_load(view.loads[name]))
    fed = next((one for one in fed_lines(view.rig, view.lines) if one.source == name), None)
    if fed is not None or (name in view.lines and view.lines[name].need == "must"):
        yield Asked(
            "phantom",
            f"The volts left for {said} of 48 V",
            lambda: linewhy.why_phantom(fed, said),
        )


def _of_box(view: View, gear: Gear) -> Iterator[Asked]:
    rig = view.rig
    said = rig.box_names[gear.id]
    load = next((box for box in view.load.boxes if box.gear.id == gear.id), None)
    if load is not None:
        yield Asked("power", f"What {said} takes at its most", lambda: mains.why_power(rig, load))
        for place, sag in view.sags[:1]:
            yield Asked(
                "volts",
                f"The volts at {said} {place.name}",
                partial(mains.why_volts, rig, place, view.load, sag, gear.id),
            )
    for bridge in bridges(rig, view.strips):
        if bridge.gear.id == gear.id:
            yield Asked(
                "minutes",
                f"How long {said} bridges",
                partial(mains.why_minutes, rig, bridge),
            )
    for budget in budgets(rig, view.cables):
        if budget.gear.id == gear.id:
            yield Asked(
                "poe",
                f"What hangs on {said} over network leads",
                partial(network.why_fed, rig, budget),
            )
        for fed in budget.fed:
            if fed.gear.id == gear.id:
                yield Asked(
                    "poe",
                    f"What {said} takes over its network lead",
                    partial(network.why_fed, rig, budget, fed),
                )
    weight = weight_of(rig, gear)
    yield Asked("weight", f"The weight of {said}", lambda: rack.why_box_weight(said, weight))
    raised = view.elevation
    seated = next((b for b in raised.boxes if b.seat.gear.id == gear.id), None) if raised else None
    if raised is not None and seated is not None:
        yield Asked("depth", f"The depth of {said}", partial(rack.why_depth, raised, seated))
    sockets = [s for s in socket_loads(rig, view.flows, view.cables) if s.gear == gear.id]
    if sockets:
        socket = max(sockets, key=lambda one: one.share_ratio)  # the busiest of the box
        yield Asked(
            "bandwidth",
            f"What {words.place(rig, socket.socket)} sends",
            partial(network.why_socket, rig, socket, view.flows),
        )


def _of_case(view: View, people: int) -> Iterator[Asked]:
    rig, weights = view.rig, view.weights
    yield Asked("weight", "The weight of the case as it rolls", lambda: rack.why_weight(weights))
    yield Asked("carried", "The weight of everything carried", lambda: rack.why_carried(weights))
    yield Asked("tip", "How far the case leans", lambda: rack.why_tip(stand(rig, weights), weights))
    yield Asked(
        "lift",
        f"The case, lifted by {people}",
        lambda: rack.why_lift(carry(weights.case_kg, people=people)),
    )
    yield Asked(
        "heat",
        "The warmth in the closed case",
        lambda: mains.why_heat(rig, view.load, warmth(rig, view.load)),
    )


def _of_lead(view: View, name: str) -> Iterator[Asked]:
    for way in view.lead_ways:
        own = way.lead.id if way.lead is not None else way.start
        if own == name:
            yield Asked(
                "length",
                f"The length of {way.name}",
                partial(rack.why_length, way),
            )
    for run in coax_runs(view.rig):
        if run.lead_id == name:
            yield Asked("loss", f"What {run.name} takes", partial(network.why_coax, run))


def _of_stream(view: View, name: str) -> Iterator[Asked]:
    flow = next((flow for flow in view.flows if flow.stream.id == name), None)
    if flow is None:
        return
    said = flow.stream.name or name
    yield Asked("bandwidth", f"The weight of {said}", lambda: network.why_bandwidth(flow))

    def crossing() -> Reason:
        found = crossings(view.rig, (flow,))
        return network.why_crossing(found[0] if found else None, said)

    yield Asked("latency", f"The way of {said}", crossing)


def _of_place(view: View, name: str) -> Iterator[Asked]:
    """What a venue's mains has to bear, or the usual supply's."""
    place = _place(view, name)
    if place is None:
        return
    rig, load = view.rig, view.load
    yield Asked(
        "current",
        f"The current {place.name}",
        lambda: mains.why_current(rig, place, load),
    )
    yield Asked(
        "leakage",
        f"The leakage to earth {place.name}",
        lambda: mains.why_leakage(rig, place, load),
    )
    yield Asked(
        "inrush",
        f"The rush at switching on {place.name}",
        lambda: mains.why_inrush(rig, place, load),
    )
    yield Asked(
        "ready",
        f"How long everything takes to wake {place.name}",
        lambda: mains.why_ready(rig, load),
    )
    sag = next((sag for at, sag in view.sags if at.name == place.name), None)
    yield Asked(
        "volts",
        f"The volts at the weakest box {place.name}",
        lambda: mains.why_volts(rig, place, load, sag),
    )


def _place(view: View, name: str) -> Place | None:
    for place in view.mains_places:
        if place.venue is not None and place.venue.id == name:
            return place
    return usual_place(view.rig) if name == USUAL_PLACE else None
