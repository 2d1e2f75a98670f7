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
from rigproof.showbook.edition import Edition
from rigproof.signal import words
from rigproof.wording import listed, opening
from rigproof.wording.connectors import connector
from rigproof.wording.sentences import joined, sentence

CAUTION = sentence(
    "These are sums from data sheets and guesses, not a test. They replace "
    "no inspection, no earth and no residual-current device. Have supplies "
    "and leads tested as the law of the place asks, and leave wiring, "
    "generators and wet stages to licensed people. If a breaker trips or "
    "anything tingles, stop and find out why."
)

_FOUND = {
    "front": sentence("on the front"),
    "rear": sentence("on the rear"),
    "inside": sentence("inside"),
    "outside the case": sentence("outside the case"),
}


def blocks(view: View, edition: Edition) -> Iterator[Block]:
    """Loads, venues, sequence, battery and heat."""
    load = view.load
    if not load.boxes:
        yield say(sentence("No box of the rig states that it needs mains."))
        return
    yield caution(sentence("Mains"), CAUTION)
    yield heading(sentence("What hangs where"))
    yield _loads(view, load)
    for text in _missing(load):
        yield say(text)
    if view.mains_places:
        yield heading(sentence("What each place bears, everything at its most"))
        yield _places(view, load)
        yield from _notes(view)
        chains: dict[str, list[str]] = {}
        for place, fall in view.sags:
            if fall.cables and fall.at_rack_v > 0:
                chains.setdefault(_chain(load, fall, edition), []).append(place.name)
        told = [
            sentence("{names}: {chain}", names=opening(listed(names)), chain=chain)
            for chain, names in chains.items()
        ]
        if told:
            yield run(sentence("Volts down the chain. {chains}", chains=joined(" ", told)), "")
    if view.outlets:
        yield heading(sentence("Outlets by where a hand finds them"))
        yield _outlets(view, edition)
    steps = starts(view.rig, load)
    if steps:
        yield heading(sentence("Switch on in this order; off in reverse"))
        yield _sequence(view, steps)
        yield from _slow(view, steps)
    for bridge in bridges(view.rig, strip_loads(view.rig, load)):
        yield say(_bridge(view, bridge))
    warm = warmth(view.rig, load)
    if warm is not None:
        yield heading(sentence("Heat in the case"))
        yield say(_heat(warm))
    yield left_out(
        sentence(
            "amplifiers and lights of others on the same circuit; loose contacts, "
            "long drums still rolled up, the house's own wiring beyond what the file "
            "states. Currents are added as if in step, which errs to the large side; "
            "a supply that states no power factor counts as 0.6."
        )
    )


def _bridge(view: View, bridge: Bridge) -> str:
    name = words.box(view.rig, bridge.gear.id)
    found = bridge.minutes
    if found is None:
        short = [sentence("the watt-hours of its battery")] if bridge.battery_wh is None else []
        silent = bridge.load.load.without_watts
        short += [
            sentence("the watts of {box}", box=words.box(view.rig, gear.id)) for gear in silent
        ]
        waits = needs(short or [sentence("what hangs on it")])
        return sentence("{name}: {needs}.", name=name, needs=waits)
    return sentence(
        "{name} bridges {found} minutes, likely {between} ({worth}).",
        name=name,
        found=plain(found.value, 0),
        between=between(found.low, found.high, 0),
        worth=sentence(found.provenance),
    )


def _heat(warm: Warmth) -> str:
    rise = needs([sentence("the outer size of the case")])
    closed = warm.closed_rise_k
    if warm.fan_rise_k is not None:
        rise = sentence(
            "with its fan it gets {fan_rise_k} K warmer than the air around it",
            fan_rise_k=plain(warm.fan_rise_k, 0),
        )
    elif closed is not None:
        rise = sentence(
            "closed, it gets at least {closed} K warmer than the air around it (likely {between})",
            closed=plain(closed.value, 0),
            between=between(closed.low, closed.high, 0),
        )
    return sentence(
        "The boxes give off {heat_w} W ({worth}); {rise}. {airflow_m3_per_h} "
        "m³/h of air hold it to {wanted_rise_k:g} K. The least warmth that a box "
        "stands is {warmest_degc} °C ({worth2}).",
        heat_w=plain(warm.heat_w.value, 0),
        worth=sentence(warm.heat_w.provenance),
        rise=rise,
        airflow_m3_per_h=plain(warm.airflow_m3_per_h, 0),
        wanted_rise_k=WANTED_RISE_K,
        warmest_degc=plain(float(warm.warmest_degc), 0),
        worth2=sentence(warm.warmest_degc.provenance),
    )


def _loads(view: View, load: Load) -> Block:
    hung = {feed.gear: outlet for outlet in view.outlets for feed in outlet.feeds}
    steps = {name: start.step for start in starts(view.rig, load) for name in start.gear}
    rows = [_box(view, box, hung, steps) for box in load.boxes]
    volts = next((float(p.volts_v) for p in view.mains_places if p.volts_v is not None), None)
    amps = (
        sentence("{most_a} A at {volts:g} V", most_a=plain(load.most_a(volts).value), volts=volts)
        if volts
        else ""
    )
    return table(
        [
            column(sentence("Box"), 2.2),
            column(sentence("Hangs on"), 2),
            numbers(sentence("Step"), 0.55),
            numbers(sentence("Usual"), 1.15, unit="W"),
            numbers(sentence("Most"), 1.25, unit="W"),
            numbers(sentence("PF"), 1.2),
            numbers(sentence("Most"), 1.25, unit="VA"),
            numbers(sentence("Inrush"), 1.1, unit="A"),
            numbers(sentence("Leaks"), 1.25, unit="mA"),
        ],
        rows,
        [
            cell(sentence("All together")),
            cell(amps, load.most_va.provenance if amps else ""),
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
        (load.without_watts, "the watts of {box}"),
        (load.without_inrush, "the inrush current of {box}"),
        (load.without_leakage, "the leakage of {box}"),
    ):
        if gears:
            names = [sentence(what, box=gear.name or gear.id) for gear in gears]
            yield sentence("{needs}. The sum counts the rest.", needs=opening(needs(names, most=4)))


def _hangs_on(view: View, box: BoxLoad, outlet: Outlet | None) -> str:
    if outlet is not None:
        return words.place(view.rig, outlet.key)
    return (
        sentence("the venue's socket")
        if gives_mains(view.rig.types[box.gear.type])
        else sentence("not stated")
    )


def _outlets(view: View, edition: Edition) -> Block:
    """The outlets by box, kind and where a hand finds them: how many there are, and are free."""
    kinds: dict[tuple[str, str, str], list[Outlet]] = {}
    for outlet in view.outlets:
        kinds.setdefault((outlet.gear, outlet.connector, outlet.reached), []).append(outlet)
    return table(
        [
            column(sentence("Outlets of"), 2),
            column(sentence("Kind"), 2.2),
            column(sentence("Found"), 1.4),
            numbers(sentence("There are"), 0.9),
            numbers(sentence("Free"), 0.7),
            column(sentence("Free ones"), 2.6),
        ],
        [
            [
                remark(words.box(view.rig, gear)),
                remark(connector(kind, edition.language)),
                cell(_FOUND.get(where, where)),
                cell(str(len(alike))),
                cell(str(sum(outlet.free for outlet in alike))),
                remark(_free(view, alike)),
            ]
            for (gear, kind, where), alike in kinds.items()
        ],
    )


def _free(view: View, alike: list[Outlet]) -> str:
    free = [outlet.key for outlet in alike if outlet.free]
    return words.place_parts(view.rig, free)[1] if free else sentence("none")


def _chain(load: Load, fall: Sag, edition: Edition) -> str:
    """The volts from the meter to the rack, cable by cable, at the lowest that the supply has."""
    amps = load.most_va.value / fall.at_rack_v
    takes = joined(
        "",
        (
            sentence(
                ", {cable} of {length} takes {fall_v}",
                cable=cable.name,
                length=edition.length(cable.length_m),
                fall_v=plain(amps * cable.loop_ohm, 2),
            )
            for cable in fall.cables
        ),
    )
    return sentence(
        "{lowest_v} V where the supply is lowest{takes}; {at_rack_v} V at the "
        "rack, {amps} A drawn.",
        lowest_v=plain(fall.lowest_v),
        takes=takes,
        at_rack_v=plain(fall.at_rack_v),
        amps=plain(amps),
    )


def _places(view: View, load: Load) -> Block:
    return table(
        [
            column(sentence("Place"), 2.2),
            numbers(sentence("Volts"), 1.3),
            numbers(sentence("Circuit"), 1.2, unit="A"),
            numbers(sentence("Rack at most"), 2.0, unit="A"),
            numbers(sentence("Spare"), 0.7, unit="A"),
            numbers(sentence("Leaks / trips from"), 2.1, unit="mA"),
            numbers(sentence("Rush / breaker from"), 1, unit="A"),
            numbers(sentence("Left at the rack"), 1.7, unit="V"),
            column(sentence("Gives up first, and its margin"), 2.2),
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
    if fall is not None and not fall.carried:
        first = sentence("all of them")
    elif weakest is not None and weakest.margin_v is not None:
        margin = signed(weakest.margin_v, 0)
        first = sentence(
            "{box} {margin}\u00a0V", box=words.box(view.rig, weakest.box.gear.id), margin=margin
        )
    return [
        remark(opening(place.name)),
        figure(place.volts_v, decimals=0),
        figure(place.amps_a, decimals=0),
        ranged(most, 1),
        cell(plain(spare) if spare is not None else DASH),
        cell(
            sentence(
                "{leakage_ma} ({likely}) / {may_trip_ma}",
                leakage_ma=plain(load.leakage_ma.value),
                likely=between(load.leakage_ma.low, load.leakage_ma.high),
                may_trip_ma=plain(device.may_trip_ma, 0),
            ),
            device.rated_ma.provenance,
        ),
        cell(
            sentence(
                "{peak} / {may_trip_a}",
                peak=plain(peak, 0),
                may_trip_a=plain(against.may_trip_a, 0),
            )
            if against
            else DASH
        ),
        _left(fall),
        remark(first),
    ]


def _left(fall: Sag | None) -> Cell:
    """The volts at the rack, by what its boxes likely take."""
    if fall is None:
        return cell(DASH)
    if not fall.carried:
        return cell(sentence("cannot be carried"), fall.provenance)
    low_v, high_v = (round(end) for end in fall.likely_v)
    return ranged(Likely(low_v, fall.at_rack_v, high_v, fall.provenance))


def _notes(view: View) -> Iterator[Block]:
    short = [
        sentence(what, place=place.name)
        for place in view.mains_places
        for what, value in (
            ("the volts {place}", place.volts_v),
            ("the amperes of the circuit {place}", place.amps_a),
        )
        if value is None
    ]
    if short:
        yield say(sentence("{needs}.", needs=opening(needs(short, most=6))))
    if any(place.continuous_only for place in view.mains_places):
        yield say(
            sentence("Where the mains is below 140 V, a circuit counts with 80 % of its amperes.")
        )


def _sequence(view: View, steps: tuple[Start, ...]) -> Block:
    return table(
        [
            column(sentence("Step"), 0.5),
            column(sentence("Boxes"), 5.5),
            numbers(sentence("Inrush"), 2, unit="A"),
            numbers(sentence("Boots in"), 0.9, unit="s"),
            numbers(sentence("Ready after"), 1.1, unit="s"),
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
        names = (
            sentence("the boot time of {box}", box=words.box(view.rig, name)) for name in silent
        )
        yield say(sentence("{needs}.", needs=opening(needs(names, most=6))))
