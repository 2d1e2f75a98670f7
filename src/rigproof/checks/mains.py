"""Rules about volts, amperes, rushes and earth leakage. A competent person has the last word."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import (
    AtBox,
    inlet_a,
    place_of,
    residual,
    spare_a,
)
from rigproof.physics import mains as law
from rigproof.signal.words import box
from rigproof.wording import opening
from rigproof.wording.sentences import sentence


def circuit_overloaded(view: View) -> Iterator[Finding]:
    """The rack takes more than its circuit may carry.

    Why: the breaker holds through the soundcheck and lets go in the loud song; it takes the
        house's desk or the beer fridge with it.
    Fix: ask for a second circuit and split the rack over the two, or leave something at home.
    Source: definition of power factor; where the mains is below 140 V, loads of three hours and
        more may use 80 % of a circuit (NEC 210.19, 210.20). Local codes come first.

    Fails:
        gear:
          - {id: strip, type: strip-nema-8, unit: 1}
          - {id: a, type: wedge-active, unit: 2}
          - {id: b, type: wedge-active, unit: 4}
          - {id: c, type: wedge-active, unit: 6}
          - {id: d, type: wedge-active, unit: 8}
          - {id: e, type: wedge-active, unit: 10}
          - {id: f, type: wedge-active, unit: 12}
        venues:
          - id: bar
            name: The Long Bar
            desk: {takes: tails}
            volts_v: 120
            circuits: [{id: stage, amps_a: 15}]
    Passes:
        gear:
          - {id: strip, type: strip-nema-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        venues:
          - id: bar
            name: The Long Bar
            desk: {takes: tails}
            volts_v: 120
            circuits: [{id: stage, amps_a: 15}]
    """
    for place in view.mains_places:
        usable = place.usable_a
        if usable is None or place.volts_v is None:
            continue
        takes = view.load.most_a(float(place.volts_v))
        if takes.value > usable:
            share = sentence(" all evening (80 %)") if place.continuous_only else ""
            yield Finding(
                at=place.at,
                says=sentence(
                    "{place} the rack takes up to {takes:.1f} A at {volts_v:g} V; the "
                    "circuit may carry {usable:.3g} A{share}.",
                    place=opening(place.name),
                    takes=takes.value,
                    volts_v=place.volts_v,
                    usable=usable,
                    share=share,
                ),
                found=takes.value,
                limit=float(usable),
                unit="A",
            )


def strip_overloaded(view: View) -> Iterator[Finding]:
    """More hangs on a strip than its inlet or plug is made for.

    Why: an IEC inlet is made for 10 A; it gets hot, then brown, then open.
    Fix: spread the boxes over two strips on two leads, or take one with a larger inlet.
    Source: IEC 60320-1 (couplers), CEE 7, BS 1363, NEMA WD 6 (plugs); rating_a of the type where
        it is stated.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: a, type: wedge-active, place: stage}
          - {id: b, type: wedge-active, place: stage}
          - {id: c, type: wedge-active, place: stage}
          - {id: d, type: wedge-active, place: stage}
          - {id: e, type: wedge-active, place: stage}
          - {id: f, type: wedge-active, place: stage}
        power:
          volts_v: 120
          feeds:
            - {gear: a, outlet: strip.outlet.1}
            - {gear: b, outlet: strip.outlet.2}
            - {gear: c, outlet: strip.outlet.3}
            - {gear: d, outlet: strip.outlet.4}
            - {gear: e, outlet: strip.outlet.5}
            - {gear: f, outlet: strip.outlet.6}
    Passes:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        power: {volts_v: 120, feeds: [{gear: mixer, outlet: strip.outlet.1}]}
    """
    volts = [float(place.volts_v) for place in view.mains_places if place.volts_v is not None]
    power = view.rig.file.power
    if power is not None and power.volts_v is not None:
        volts.append(float(power.volts_v))
    if not volts:
        return
    least_v = min(volts)  # the fewest volts make the most amperes
    for strip in view.strips:
        rated = inlet_a(view.rig, strip.gear, volts_v=least_v)
        takes = strip.load.most_a(least_v)
        if rated is not None and takes.value > rated:
            yield Finding(
                at=strip.gear.where,
                says=sentence(
                    "Up to {takes:.1f} A pass through {box} at {least_v:g} V; it is made for "
                    "{rated:g} A.",
                    takes=takes.value,
                    box=box(view.rig, strip.gear.id),
                    least_v=least_v,
                    rated=rated,
                ),
                found=takes.value,
                limit=float(rated),
                unit="A",
            )


def circuit_shared(view: View) -> Iterator[Finding]:
    """The circuit feeds something else too.

    Why: what the backline, the tea urn or the beer truck draws decides whether the breaker holds,
        and nobody has asked.
    Fix: ask what else hangs there and add it up, or ask for a circuit of the band's own.
    Source: common practice, no source (a published account of a stage shared with a beer truck).

    Fails:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        venues:
          - id: hall
            name: The Hall
            desk: {takes: tails}
            volts_v: 230
            circuits: [{id: kitchen, amps_a: 16, shared_with: the tea urn}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        venues:
          - id: hall
            name: The Hall
            desk: {takes: tails}
            volts_v: 230
            circuits: [{id: stage, amps_a: 16}]
    """
    for venue in view.venues:
        place = place_of(venue)
        left_a = spare_a(place, view.load)
        if place.circuit is None or not place.circuit.shared_with or left_a is None:
            continue
        yield Finding(
            at=place.circuit.where.of("shared_with"),
            says=sentence(
                "{place} the circuit is shared with {shared_with}; beside the rack it "
                "has {left_a:.1f} A left.",
                place=opening(place.name),
                shared_with=place.circuit.shared_with,
                left_a=max(0.0, left_a),
            ),
            found=max(0.0, left_a),
            unit="A",
        )


def generator_too_small(view: View) -> Iterator[Finding]:
    """The rack alone takes more than the generator gives.

    Why: its volts sag with every loud beat, and the boxes restart one after the other.
    Fix: ask for a larger set, or for its power after what the others take; warm air takes some.
    Source: generator operator manuals (3 % less for every 5 degrees above 40 degrees C).

    Fails:
        gear: [{id: a, type: wedge-active, unit: 1}, {id: mixer, type: mixer-rack-24, unit: 3}]
        venues: [{id: v, name: The Meadow, desk: {takes: tails}, volts_v: 230, generator_w: 300}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, unit: 3}]
        venues: [{id: v, name: The Meadow, desk: {takes: tails}, volts_v: 230, generator_w: 3000}]
    """
    for place in view.mains_places:
        gives = place.generator_w()
        takes = view.load.most_va
        if gives is not None and takes.value > gives:
            yield Finding(
                at=place.venue.where.of("generator_w") if place.venue else place.at,
                says=sentence(
                    "{place} the rack takes up to {takes:.0f} VA; the generator gives "
                    "{gives:.0f} W.",
                    place=opening(place.name),
                    takes=takes.value,
                    gives=gives,
                ),
                found=takes.value,
                limit=float(gives),
                unit="VA",
            )


def leakage_near_trip(view: View) -> Iterator[Finding]:
    """The boxes' earth leakage comes near what a residual-current device trips at.

    Why: every supply leaks a little by its filter; together, on a damp night, they trip the
        device with nothing broken, and it trips again as soon as it is switched on.
    Fix: spread the boxes over two circuits with a device each. Never cut an earth, never bridge
        the device; a licensed electrician can look at it.
    Source: BS 7671 531.3 (30 % of the rating) and IEC 61008 (must not trip below half), from
        memory. What else hangs on the device is not known here.

    Fails:
        gear:
          - {id: ups-a, type: ups-rack-1500, unit: 5}
          - {id: ups-b, type: ups-rack-1500, unit: 7}
          - {id: ups-c, type: ups-rack-1500, unit: 9}
          - {id: ups-d, type: ups-rack-1500, unit: 11}
        venues:
          - id: v
            name: The Cellar
            desk: {takes: tails}
            volts_v: 230
            circuits: [{id: stage, amps_a: 16, residual_ma: 10}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        venues:
          - id: v
            name: The Cellar
            desk: {takes: tails}
            volts_v: 230
            circuits: [{id: stage, amps_a: 16, residual_ma: 30}]
    """
    leaks = view.load.leakage_ma
    for place in view.mains_places:
        if place.volts_v is None:
            continue
        bounds = residual(place)
        if leaks.value <= bounds.budget_ma and leaks.high < bounds.may_trip_ma:
            continue
        yield Finding(
            at=place.at,
            says=sentence(
                "{place} the rack leaks about {leaks:.1f} mA to earth (likely {low:.1f} "
                "to {high:.1f}); a {rated_ma:g} mA device may trip from {may_trip_ma:g} "
                "mA, and {budget_ma:g} mA should hang on it.",
                place=opening(place.name),
                leaks=leaks.value,
                low=leaks.low,
                high=leaks.high,
                rated_ma=bounds.rated_ma,
                may_trip_ma=bounds.may_trip_ma,
                budget_ma=bounds.budget_ma,
            ),
            found=leaks.value,
            limit=bounds.budget_ma,
            unit="mA",
        )


def voltage_window(view: View) -> Iterator[Finding]:
    """A box leaves its voltage window when the supply is at the end of its own.

    Why: a long lead, a full house and everybody's lights pull the volts down; the box with the
        narrowest supply restarts in the middle of a song, always the same one.
    Fix: a thicker or shorter lead, a circuit nearer to the board, or a supply made for a wider
        range in that box. Measure before plugging.
    Source: IEC 60038 and EN 50160 (within 10 %), ANSI C84.1 (5 %); drop by Ohm's law with copper
        of IEC 60228, all boxes at their most.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: ups, name: UPS, type: ups-rack-500-nema, unit: 2}
          - {id: a, type: wedge-active, unit: 3}
          - {id: b, type: wedge-active, unit: 5}
          - {id: c, type: wedge-active, unit: 7}
        power: {lead_m: 60}
        venues:
          - {id: v, name: The Meadow, desk: {takes: tails}, volts_v: 110}
    Passes:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        power: {lead_m: 10}
        venues:
          - {id: v, name: The Meadow, desk: {takes: tails}, volts_v: 230}
    """
    for place, found in view.sags:
        assert place.volts_v is not None
        weakest = found.weakest
        if not found.carried:
            yield Finding(
                at=place.at,
                says=sentence(
                    "{place} the lead cannot carry what the rack takes at its most when the "
                    "supply is at {lowest_v:.0f} V.",
                    place=opening(place.name),
                    lowest_v=found.lowest_v,
                ),
            )
        elif weakest is not None and weakest.margin_v is not None and weakest.margin_v < 0:
            yield _gives_up(view, place.name, weakest, found.lowest_v)
        yield from _too_high(view, place.name, found.boxes, found.highest_v, float(place.volts_v))


def _gives_up(view: View, name: str, weakest: AtBox, lowest_v: float) -> Finding:
    needs = weakest.needs_v
    assert needs is not None
    return Finding(
        at=weakest.box.gear.where,
        says=sentence(
            "{name} the supply may fall to {lowest_v:.0f} V; {volts_v:.1f} V arrive "
            "at {box}, which needs {needs:g} V and gives up first.",
            name=opening(name),
            lowest_v=lowest_v,
            volts_v=weakest.volts_v,
            box=box(view.rig, weakest.box.gear.id),
            needs=needs,
        ),
        found=weakest.volts_v,
        limit=float(needs),
        unit="V",
    )


def _too_high(
    view: View, name: str, boxes: tuple[AtBox, ...], highest_v: float, nominal_v: float
) -> Iterator[Finding]:
    over = [
        at
        for at in boxes
        # Beyond its window even at the name of the supply is another rule's business.
        if at.stands_v is not None and nominal_v <= at.stands_v < highest_v - 0.05
    ]
    for at in over:
        assert at.stands_v is not None
        yield Finding(
            at=at.box.gear.where,
            says=sentence(
                "{name} the supply may rise to {highest_v:.0f} V; {box} stands {stands_v:g} V.",
                name=opening(name),
                highest_v=highest_v,
                box=box(view.rig, at.box.gear.id),
                stands_v=at.stands_v,
            ),
            found=highest_v,
            limit=float(at.stands_v),
            unit="V",
        )


def lead_drops_too_much(view: View) -> Iterator[Finding]:
    """The way to the rack takes too many of the volts.

    Why: what it takes warms the cable, on a reel above all; supplies then draw more current.
    Fix: a thicker lead, a shorter way, and never a wound-up reel.
    Source: IEC 60364-5-52 annex G and BS 7671 appendix 4 (5 %); NEC 210.19(A) note (3 %). They
        count from the building's origin: the house's own wiring has its part.

    Fails:
        gear:
          - {id: a, type: wedge-active, unit: 1}
          - {id: b, type: wedge-active, unit: 3}
          - {id: c, type: wedge-active, unit: 5}
        power: {volts_v: 120, lead_m: 50}
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        power: {volts_v: 230, lead_m: 10}
    """
    for place, found in view.sags:
        assert place.volts_v is not None
        limit = law.BRANCH_DROP_PERCENT if place.continuous_only else law.SOCKET_DROP_PERCENT
        drop = float(law.drop_percent(drop_v=found.nominal_drop_v, supply_v=float(place.volts_v)))
        if drop > limit:
            metres = sum(cable.length_m for cable in found.cables)
            yield Finding(
                at=place.at,
                says=sentence(
                    "{place} {metres:g} m of cable take {nominal_drop_v:.1f} V, {drop:.1f} "
                    "%, with everything at its most; {limit:g} % are allowed.",
                    place=opening(place.name),
                    metres=metres,
                    nominal_drop_v=found.nominal_drop_v,
                    drop=drop,
                    limit=limit,
                ),
                found=drop,
                limit=limit,
                unit="%",
            )


RULES = (
    Rule(id="mains.circuit-overloaded", severity="risk", check=circuit_overloaded, since="0.1"),
    Rule(id="mains.strip-overloaded", severity="risk", check=strip_overloaded, since="0.1"),
    Rule(id="mains.circuit-shared", severity="advice", check=circuit_shared, since="0.1"),
    Rule(id="mains.generator-too-small", severity="risk", check=generator_too_small, since="0.1"),
    Rule(id="mains.leakage-near-trip", severity="risk", check=leakage_near_trip, since="0.1"),
    Rule(id="mains.voltage-window", severity="risk", check=voltage_window, since="0.1"),
    Rule(id="mains.lead-drops-too-much", severity="risk", check=lead_drops_too_much, since="0.1"),
)
