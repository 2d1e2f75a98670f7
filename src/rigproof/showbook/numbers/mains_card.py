"""Power: what each box takes and where it hangs, what a venue bears, the order of switching on."""

from collections.abc import Iterator, Mapping

from rigproof.checks.rule import View
from rigproof.mains import (
    BoxLoad,
    Bridge,
    Load,
    Outlet,
    Place,
    Sag,
    Start,
    Warmth,
    bridges,
    gives_mains,
    residual,
    rush,
    sag,
    spare_a,
    starts,
    strip_loads,
    warmth,
)
from rigproof.mains.heat import WANTED_RISE_K
from rigproof.rig.spread import Likely
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    between,
    caution,
    cell,
    column,
    figure,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    ranged,
    remark,
    run,
    say,
    signed,
    table,
)
from rigproof.signal import words
from rigproof.wording import listed, opening
from rigproof.wording.connectors import connector

CAUTION = (
    "These are sums from data sheets and guesses, not a test. They replace no inspection, no "
    "earth and no residual-current device. Have supplies and leads tested as the law of the place "
    "asks, and leave wiring, generators and wet stages to licensed people. If a breaker trips or "
    "anything tingles, stop and find out why."
)


def blocks(view: View) -> Iterator[Block]:
    """Loads, venues, sequence, battery and heat."""
    load = view.load
    if not load.boxes:
        yield say("No box of the rig states that it needs mains.")
        return
    yield caution("Mains", CAUTION)
    yield heading("What hangs where")
    yield _loads(view, load)
    for text in _missing(load):
        yield say(text)
    if view.mains_places:
        yield heading("What each place bears, everything at its most")
        yield _places(view, load)
        yield from _notes(view)
        chains: dict[str, list[str]] = {}
        for place, fall in view.sags:
            if fall.cables and fall.at_rack_v > 0:
                chains.setdefault(_chain(load, fall), []).append(place.name)
        told = [f"{opening(listed(names))}: {chain}" for chain, names in chains.items()]
        if told:
            yield run(f"Volts down the chain. {' '.join(told)}", "")
    if view.outlets:
        yield heading("Outlets by where a hand finds them")
        yield _outlets(view)
    steps = starts(view.rig, load)
    if steps:
        yield heading("Switch on in this order; off in reverse")
        yield _sequence(view, steps)
        yield from _slow(view, steps)
    for bridge in bridges(view.rig, strip_loads(view.rig, load)):
        yield say(_bridge(view, bridge))
    warm = warmth(view.rig, load)
    if warm is not None:
        yield heading("Heat in the case")
        yield say(_heat(warm))
    yield left_out(
        "amplifiers and lights of others on the same circuit; loose contacts, long drums still "
        "rolled up, the house's own wiring beyond what the file states. Currents are added as if "
        "in step, which errs to the large side; a supply that states no power factor counts as 0.6."
    )


def _bridge(view: View, bridge: Bridge) -> str:
    name = words.box(view.rig, bridge.gear.id)
    found = bridge.minutes
    if found is None:
        short = ["the watt-hours of its battery"] if bridge.battery_wh is None else []
        silent = bridge.load.load.without_watts
        short += [f"the watts of {words.box(view.rig, gear.id)}" for gear in silent]
        return f"{name}: {needs(short or ['what hangs on it'])}."
    return (
        f"{name} bridges {plain(found.value, 0)} minutes, likely "
        f"{between(found.low, found.high, 0)} ({found.provenance})."
    )


def _heat(warm: Warmth) -> str:
    rise = needs(["the outer size of the case"])
    closed = warm.closed_rise_k
    if warm.fan_rise_k is not None:
        rise = f"with its fan it gets {plain(warm.fan_rise_k, 0)} K warmer than the air around it"
    elif closed is not None:
        rise = (
            f"closed, it gets at least {plain(closed.value, 0)} K warmer than the air around it "
            f"(likely {between(closed.low, closed.high, 0)})"
        )
    return (
        f"The boxes give off {plain(warm.heat_w.value, 0)} W ({warm.heat_w.provenance}); {rise}. "
        f"{plain(warm.airflow_m3_per_h, 0)} m\u00b3/h of air hold it to {WANTED_RISE_K:g} K. The "
        f"least warmth that a box stands is {plain(float(warm.warmest_degc), 0)} \u00b0C "
        f"({warm.warmest_degc.provenance})."
    )


def _loads(view: View, load: Load) -> Block:
    hung = {feed.gear: outlet for outlet in view.outlets for feed in outlet.feeds}
    steps = {name: start.step for start in starts(view.rig, load) for name in start.gear}
    rows = [_box(view, box, hung, steps) for box in load.boxes]
    volts = next((float(p.volts_v) for p in view.mains_places if p.volts_v is not None), None)
    amps = f" = {plain(load.most_a(volts).value, 1)} A at {volts:g} V" if volts else ""
    return table(
        [
            column("Box", 2.2),
            column("Hangs on", 2),
            numbers("Step", 0.55),
            numbers("Usual", 1.15, unit="W"),
            numbers("Most", 1.25, unit="W"),
            numbers("PF", 1.2),
            numbers("Most", 1.25, unit="VA"),
            numbers("Inrush", 1.1, unit="A"),
            numbers("Leaks", 1.25, unit="mA"),
        ],
        rows,
        [
            cell("All together"),
            cell(amps.removeprefix(" = "), load.most_va.provenance if amps else ""),
            cell(""),
            cell(plain(load.usual_w.value, 0)),
            cell(plain(load.most_w.value, 0)),
            cell(""),
            cell(plain(load.most_va.value, 0)),
            cell(plain(load.inrush_a.value, 0)),
            cell(plain(load.leakage_ma.value, 1)),
        ],
    )


def _box(
    view: View, box: BoxLoad, hung: Mapping[str, Outlet], steps: Mapping[str, int]
) -> list[Cell]:
    outlet = hung.get(box.gear.id)
    step = steps.get(box.gear.id)
    return [
        remark(words.box(view.rig, box.gear.id)),
        remark(_hangs_on(view, box, outlet)),
        cell(str(step) if step is not None else DASH),
        _only(box.usual_w),
        _only(box.most_w),
        figure(box.power_factor, decimals=2),
        _only(box.most_va),
        figure(box.inrush_a, decimals=0),
        figure(box.leakage_ma, decimals=2),
    ]


def _only(found: Likely | None) -> Cell:
    return cell(DASH) if found is None else cell(plain(found.value, 0), found.provenance)


def _missing(load: Load) -> Iterator[str]:
    for gears, what in (
        (load.without_watts, "watts"),
        (load.without_inrush, "inrush current"),
        (load.without_leakage, "leakage"),
    ):
        if gears:
            names = [f"the {what} of {gear.name or gear.id}" for gear in gears]
            yield f"{opening(needs(names, most=4))}. The sum counts the rest."


def _hangs_on(view: View, box: BoxLoad, outlet: Outlet | None) -> str:
    if outlet is not None:
        return words.place(view.rig, outlet.key)
    return "the venue's socket" if gives_mains(view.rig.types[box.gear.type]) else "not stated"


def _outlets(view: View) -> Block:
    """The outlets by box, kind and where a hand finds them: how many there are, and are free."""
    kinds: dict[tuple[str, str, str], list[Outlet]] = {}
    for outlet in view.outlets:
        kinds.setdefault((outlet.gear, outlet.connector, outlet.reached), []).append(outlet)
    return table(
        [
            column("Outlets of", 2),
            column("Kind", 2.2),
            column("Found", 1.4),
            numbers("There are", 0.9),
            numbers("Free", 0.7),
            column("Free ones", 2.6),
        ],
        [
            [
                remark(words.box(view.rig, gear)),
                remark(connector(kind)),
                cell({"front": "on the front", "rear": "on the rear"}.get(where, where)),
                cell(str(len(alike))),
                cell(str(sum(outlet.free for outlet in alike))),
                remark(_free(view, alike)),
            ]
            for (gear, kind, where), alike in kinds.items()
        ],
    )


def _free(view: View, alike: list[Outlet]) -> str:
    free = [outlet.key for outlet in alike if outlet.free]
    return words.place_parts(view.rig, free)[1] if free else "none"


def _chain(load: Load, fall: Sag) -> str:
    """The volts from the meter to the rack, cable by cable, at the lowest that the supply has."""
    amps = load.most_va.value / fall.at_rack_v
    takes = "".join(
        f", {cable.name} of {cable.length_m:g} m takes {plain(amps * cable.loop_ohm, 2)}"
        for cable in fall.cables
    )
    return (
        f"{plain(fall.lowest_v)} V where the supply is lowest{takes}; "
        f"{plain(fall.at_rack_v)} V at the rack, {plain(amps)} A drawn."
    )


def _places(view: View, load: Load) -> Block:
    return table(
        [
            column("Place", 2.5),
            numbers("Volts", 1.3),
            numbers("Circuit", 1.2, unit="A"),
            numbers("Rack at most", 2.1, unit="A"),
            numbers("Spare", 0.75, unit="A"),
            numbers("Leaks / trips from", 1.7, unit="mA"),
            numbers("Rush / breaker from", 1, unit="A"),
            numbers("Left at the rack", 1.4, unit="V"),
            column("Gives up first, and its margin", 2.2),
        ],
        [_place(view, place, load) for place in view.mains_places],
    )


def _place(view: View, place: Place, load: Load) -> list[Cell]:
    spare = spare_a(place, load)
    most = load.most_a(float(place.volts_v)) if place.volts_v is not None else None
    steps = starts(view.rig, load)
    peak = max((step.inrush_a.value for step in steps), default=load.inrush_a.value)
    against = rush(place, peak_a=peak)
    device = residual(place)
    fall = sag(view.rig, place, load)
    weakest = fall.weakest if fall else None
    first = DASH
    if weakest is not None and weakest.margin_v is not None:
        margin = signed(weakest.margin_v, 0)
        first = f"{words.box(view.rig, weakest.box.gear.id)} {margin}\u00a0V"
    return [
        remark(opening(place.name)),
        figure(place.volts_v, decimals=0),
        figure(place.amps_a, decimals=0),
        ranged(most, 1),
        cell(plain(spare) if spare is not None else DASH),
        cell(
            f"{plain(load.leakage_ma.value)} / {plain(device.may_trip_ma, 0)}",
            device.rated_ma.provenance,
        ),
        cell(f"{plain(peak, 0)} / {plain(against.may_trip_a, 0)}" if against else DASH),
        cell(plain(fall.at_rack_v, 0), fall.provenance) if fall else cell(DASH),
        remark(first),
    ]


def _notes(view: View) -> Iterator[Block]:
    short = [
        f"the {what} {place.name}"
        for place in view.mains_places
        for what, value in (("volts", place.volts_v), ("amperes of the circuit", place.amps_a))
        if value is None
    ]
    if short:
        yield say(f"{opening(needs(short, most=6))}.")
    if any(place.continuous_only for place in view.mains_places):
        yield say("Where the mains is below 140 V, a circuit counts with 80 % of its amperes.")


def _sequence(view: View, steps: tuple[Start, ...]) -> Block:
    return table(
        [
            column("Step", 0.5),
            column("Boxes", 5.5),
            numbers("Inrush", 2, unit="A"),
            numbers("Boots in", 0.9, unit="s"),
            numbers("Ready after", 1.1, unit="s"),
        ],
        [
            [
                cell(str(step.step)),
                remark(listed(words.box(view.rig, name) for name in step.gear)),
                ranged(step.inrush_a),
                cell(plain(step.boot_s, 0)),
                cell(plain(step.ready_s, 0)),
            ]
            for step in steps
        ],
    )


def _slow(view: View, steps: tuple[Start, ...]) -> Iterator[Block]:
    """Whose boot time the sums of the order wait for."""
    silent = [name for step in steps for name in step.without_boot]
    if silent:
        names = (f"the boot time of {words.box(view.rig, name)}" for name in silent)
        yield say(f"{opening(needs(names, most=6))}.")
