"""Rules about switching on, dips of the mains, and the battery that bridges them."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import Rush, bridges, rush, starts
from rigproof.mains.outlets import feeds
from rigproof.signal.words import box
from rigproof.wording import some
from rigproof.wording.sentences import sentence

# Common practice, no source: what it takes to find the tripped breaker of a strange house.
USUAL_BRIDGE_MIN = 5.0


def inrush_together(view: View) -> Iterator[Finding]:
    """One step of switching on makes a rush that a breaker may answer.

    Why: empty supplies look like a short circuit for a few milliseconds; several at once, and the
        breaker throws before the first lamp is on.
    Fix: spread the step over two or three, a breath apart.
    Source: IEC 60898-1 (B 3-5, C 5-10, D 10-20 times the rating, at the crest of the mains). A
        peak of a few milliseconds may pass above it.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: one, type: mixer-rack-24, unit: 2}
          - {id: two, type: mixer-rack-24, unit: 6}
        power:
          circuit_a: 6
          volts_v: 230
          feeds:
            - {gear: one, outlet: strip.outlet.1, step: 1}
            - {gear: two, outlet: strip.outlet.2, step: 1}
    Passes:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: amp, type: headphone-amp-4, unit: 6}
        power:
          circuit_a: 16
          volts_v: 230
          feeds:
            - {gear: mixer, outlet: strip.outlet.1, step: 1}
            - {gear: amp, outlet: strip.outlet.2, step: 2}
    """
    for step in starts(view.rig, view.load):
        found = _worst(view, step.inrush_a.value)
        if found is None:
            continue
        there, worst = found
        names = some(box(view.rig, name) for name in step.gear)
        yield Finding(
            at=next(feed.where for feed in feeds(view.rig) if feed.step == step.step),
            says=sentence(
                "Step {step} ({names}) makes a rush of {peak_a:.0f} A; {there} a "
                "{curve}{rated_a:g} breaker may let go from {may_trip_a:.0f} A.",
                step=step.step,
                names=names,
                peak_a=worst.peak_a,
                there=there,
                curve=worst.curve,
                rated_a=worst.rated_a,
                may_trip_a=worst.may_trip_a,
            ),
            found=worst.peak_a,
            limit=worst.may_trip_a,
            unit="A",
        )


def _worst(view: View, peak_a: float) -> tuple[str, Rush] | None:
    """The place whose breaker answers a rush first, if any does; said once for all places."""
    over = [
        (place.name, one)
        for place in view.mains_places
        if (one := rush(place, peak_a=peak_a)) is not None and one.peak_a > one.may_trip_a
    ]
    return min(over, key=lambda pair: pair[1].may_trip_a, default=None)


def inrush_after_a_dip(view: View) -> Iterator[Finding]:
    """When the mains comes back, everything rushes at once.

    Why: the order of switching on is for hands; after a dip the boxes do not wait for it, and the
        breaker that lets go now is the one nobody can find in the dark.
    Fix: put a sequencer or a UPS before the boxes; without one, switch the rack off before the
        mains is switched on again.
    Source: IEC 60898-1 (instant trip, at the crest of the mains); common practice for the cure.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: a, type: mixer-rack-24, unit: 2}
          - {id: b, type: mixer-rack-24, unit: 6}
          - {id: c, type: mixer-rack-24, unit: 10}
        power:
          circuit_a: 16
          volts_v: 230
          feeds:
            - {gear: a, outlet: strip.outlet.1, step: 1}
            - {gear: b, outlet: strip.outlet.2, step: 2}
            - {gear: c, outlet: strip.outlet.3, step: 3}
    Passes:
        gear:
          - {id: power, type: sequencer-c13, unit: 1}
          - {id: a, type: mixer-rack-24, unit: 2}
          - {id: b, type: mixer-rack-24, unit: 6}
          - {id: c, type: mixer-rack-24, unit: 10}
        power:
          circuit_a: 16
          volts_v: 230
          feeds:
            - {gear: a, outlet: power.outlet.1, step: 1}
            - {gear: b, outlet: power.outlet.2, step: 2}
            - {gear: c, outlet: power.outlet.3, step: 3}
    """
    classes = {view.rig.types[gear.type].class_ for gear in view.rig.file.gear}
    if classes & {"sequencer", "ups"}:
        return
    found = _worst(view, view.load.inrush_a.value)
    if found is not None:
        there, worst = found
        power = view.rig.file.power
        yield Finding(
            at=power.where if power is not None else view.mains_places[0].at,
            says=sentence(
                "After a dip all boxes rush at once with about {peak_a:.0f} A; {there} a "
                "{curve}{rated_a:g} breaker may let go from {may_trip_a:.0f} A.",
                peak_a=worst.peak_a,
                there=there,
                curve=worst.curve,
                rated_a=worst.rated_a,
                may_trip_a=worst.may_trip_a,
            ),
            found=worst.peak_a,
            limit=worst.may_trip_a,
            unit="A",
        )


def ups_too_short(view: View) -> Iterator[Finding]:
    """The UPS is empty before somebody has found the breaker.

    Why: it beeps, then the whole rack goes dark at once, which is worse than the dip it was
        bought for.
    Fix: take the hungry boxes off it, or take a larger one; state bridge_min under power.
    Source: energy balance as in IEC 62040; Peukert's law at the low end. Five minutes where the
        file asks for none: common practice, no source.

    Fails:
        gear:
          - {id: ups, type: ups-rack-650, unit: 1, rear_support: true}
          - {id: a, type: wedge-active, unit: 2}
          - {id: b, type: wedge-active, unit: 4}
          - {id: c, type: wedge-active, unit: 6}
        power:
          bridge_min: 30
          feeds:
            - {gear: a, outlet: ups.outlet.1}
            - {gear: b, outlet: ups.outlet.2}
            - {gear: c, outlet: ups.outlet.3}
    Passes:
        gear:
          - {id: ups, type: ups-rack-1500, unit: 1, rear_support: true}
          - {id: router, type: router-wifi-rack, unit: 3}
        power: {bridge_min: 10, feeds: [{gear: router, outlet: ups.outlet.1}]}
    """
    power = view.rig.file.power
    stated = power.bridge_min if power else None
    wanted = float(stated) if stated is not None else USUAL_BRIDGE_MIN
    for bridge in bridges(view.rig, view.strips):
        name = box(view.rig, bridge.gear.id)
        if bridge.minutes is None:
            silent = some(box(view.rig, gear.id) for gear in bridge.load.load.without_watts)
            missing = (
                sentence("its battery_wh")
                if bridge.battery_wh is None
                else sentence("the watts of {silent}", silent=silent)
            )
            yield Finding(
                at=bridge.gear.where,
                severity="unknown",
                says=sentence(
                    "How long {name} bridges cannot be judged: needs {missing}.",
                    name=name,
                    missing=missing,
                ),
                fix=sentence("State the figure under power of the gear type."),
            )
        elif bridge.minutes.low < wanted:
            yield Finding(
                at=bridge.gear.where,
                says=sentence(
                    "{name} bridges {low:.0f} to {high:.0f} minutes with {usual_w:.0f} W on "
                    "it; {wanted:g} are wanted.",
                    name=name,
                    low=bridge.minutes.low,
                    high=bridge.minutes.high,
                    usual_w=bridge.load.load.usual_w.value,
                    wanted=wanted,
                ),
                found=bridge.minutes.low,
                limit=wanted,
                unit="min",
            )


RULES = (
    Rule(id="mains.inrush-together", severity="risk", check=inrush_together, since="0.1"),
    Rule(id="mains.inrush-after-a-dip", severity="advice", check=inrush_after_a_dip, since="0.1"),
    Rule(id="mains.ups-too-short", severity="risk", check=ups_too_short, since="0.1"),
)
