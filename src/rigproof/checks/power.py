"""Rules about mains: outlets, plugs, order, volts. They never replace a competent person."""

from collections import Counter
from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import fit, hungry, needs_mains, sequence, supplies, volts_of
from rigproof.mains.outlets import feeds, gives_mains
from rigproof.rig import Gear, Venue, Where
from rigproof.rig.quantity import Volts
from rigproof.signal.words import box, place
from rigproof.wording import counted, listed, noun, opening, some
from rigproof.wording.connectors import a_connector
from rigproof.wording.sentences import sentence


def box_without_outlet(view: View) -> Iterator[Finding]:
    """A box of the case has no outlet.

    Why: somebody will find one in the dark, by pulling out something else.
    Fix: give it a line under power.feeds, or a strip with more outlets.
    Source: common practice, no source.

    Fails:
        case: {type: case-12}
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: amp, type: headphone-amp-4, unit: 7}
        power: {feeds: [{gear: mixer, outlet: strip.outlet.1}]}
    Passes:
        case: {type: case-12}
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        power: {feeds: [{gear: mixer, outlet: strip.outlet.1}]}
    """
    fed = {feed.gear for feed in feeds(view.rig)}
    without = [gear for gear in hungry(view.rig) if gear.id not in fed]
    if not without:
        return
    names = some(box(view.rig, gear.id) for gear in without)
    if not fed:
        yield Finding(
            at=without[0].where,
            severity="unknown",
            says=sentence("Nothing says where {names} get their mains.", names=names),
            fix=sentence("State the outlet of each box under power.feeds."),
        )
        return
    for gear in without:
        yield Finding(
            at=gear.where,
            says=sentence("{box} needs mains and has no outlet.", box=box(view.rig, gear.id)),
        )


def outlet_used_twice(view: View) -> Iterator[Finding]:
    """Two boxes on one outlet, or one box on two.

    Why: one of the two plugs stays in your hand.
    Fix: give each box an outlet of its own.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: amp, type: headphone-amp-4, unit: 7}
        power:
          feeds:
            - {gear: mixer, outlet: strip.outlet.1}
            - {gear: amp, outlet: strip.outlet.1}
    Passes:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: amp, type: headphone-amp-4, unit: 7}
        power:
          feeds:
            - {gear: mixer, outlet: strip.outlet.1}
            - {gear: amp, outlet: strip.outlet.2}
    """
    for outlet in view.outlets:
        if len(outlet.feeds) > 1:
            names = listed(box(view.rig, feed.gear) for feed in outlet.feeds)
            yield Finding(
                at=outlet.feeds[1].where,
                says=sentence(
                    "{names} hang on one outlet, {place}.",
                    names=names,
                    place=place(view.rig, outlet.key),
                ),
            )
    seen: dict[str, str] = {}
    for feed in feeds(view.rig):
        first = seen.setdefault(feed.gear, str(feed.outlet))
        if first != str(feed.outlet):
            yield Finding(
                at=feed.where,
                says=sentence(
                    "{box} hangs on {place} and on {place2}.",
                    box=box(view.rig, feed.gear),
                    place=place(view.rig, first),
                    place2=place(view.rig, str(feed.outlet)),
                ),
                fix=sentence("Keep one of the two lines."),
            )


def no_mains_in(view: View) -> Iterator[Finding]:
    """Strips feed one another in a circle, or a strip feeds itself.

    Why: the whole circle is dead, and everything on it.
    Fix: hang one of the strips on the venue: take its own line out of power.feeds.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: one, type: strip-c13-8, unit: 1}
          - {id: two, type: strip-c13-8, unit: 2}
        power: {feeds: [{gear: one, outlet: two.outlet.1}, {gear: two, outlet: one.outlet.1}]}
    Passes:
        gear:
          - {id: one, type: strip-c13-8, unit: 1}
          - {id: two, type: strip-c13-8, unit: 2}
        power: {feeds: [{gear: two, outlet: one.outlet.1}]}
    """
    for supply in supplies(view.rig):
        if supply.ring and supply.feed is not None and gives_mains(view.rig.type_of(supply.gear)):
            yield Finding(
                at=supply.feed.where,
                says=sentence(
                    "{box} gets its mains from itself in the end.", box=box(view.rig, supply.gear)
                ),
            )


def wrong_plug(view: View) -> Iterator[Finding]:
    """No usual mains lead goes from an outlet to the box it shall feed.

    Why: it is noticed while packing, when the shops are shut, and ends in a travel adapter that
        has no earth.
    Fix: use a strip whose outlets take the box's plug.
    Source: IEC 60320 (couplers), IEC 60884 and national plug standards; never go without earth.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: second, type: strip-cee-8, unit: 2}
        power: {feeds: [{gear: second, outlet: strip.outlet.1}]}
    Passes:
        gear:
          - {id: strip, type: strip-cee-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        power: {feeds: [{gear: mixer, outlet: strip.outlet.1}]}
    """
    for outlet in view.outlets:
        for feed in outlet.feeds:
            power = view.rig.type_of(feed.gear).power
            if power is None or power.inlet is None:
                continue
            if fit(outlet.connector, power.inlet) == "none":
                yield Finding(
                    at=feed.where,
                    says=sentence(
                        "{box} has {plug}, {place} is {plug2}, and no usual mains lead joins the "
                        "two.",
                        box=box(view.rig, feed.gear),
                        plug=a_connector(power.inlet),
                        place=place(view.rig, outlet.key),
                        plug2=a_connector(outlet.connector),
                    ),
                )
    there = {(outlet.gear, outlet.bank) for outlet in view.outlets}
    for feed in feeds(view.rig):
        strip = feed.outlet.gear
        if strip in view.rig.gear and (strip, feed.outlet.bank) not in there:
            yield Finding(
                at=feed.where.of("outlet"),
                says=sentence(
                    "{box} hangs on {place}, which gives no mains.",
                    box=box(view.rig, feed.gear),
                    place=place(view.rig, str(feed.outlet)),
                ),
                fix=sentence("Name an outlet of a strip, filter, sequencer or UPS."),
            )


_AT = {
    "front": sentence("at the front panel"),
    "rear": sentence("at the rear panel"),
    "inside": sentence("inside the case"),
    "outside the case": sentence("outside the case"),
}


def too_few_outlets(view: View) -> Iterator[Finding]:
    """The case has more boxes than outlets.

    Why: a loose multi-way block in the bottom of a case gets warm, comes loose, and is forbidden
        in many places.
    Fix: add a strip, or one with more outlets; leave one free at the front for a guest.
    Source: common practice, no source.

    Fails:
        case: {type: case-12}
        gear:
          - {id: ups, type: ups-rack-650, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: a, type: headphone-amp-4, unit: 6}
          - {id: b, type: headphone-amp-4, unit: 7}
          - {id: c, type: hub-16, unit: 8}
          - {id: d, type: interface-8x8, unit: 9}
    Passes:
        case: {type: case-12}
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
    """
    there = view.outlets
    if not there:
        return  # nothing is said about outlets at all: a box without one says so
    strips = {outlet.gear for outlet in there}
    # Only one strip can hang on the venue's socket; every other one takes an outlet.
    wanted = len(hungry(view.rig)) + len(strips) - 1
    if wanted > len(there):
        faces = Counter(outlet.reached for outlet in there)
        offered = listed(
            sentence("{count} {where}", count=count, where=_AT[face])
            for face, count in sorted(faces.items())
        )
        first = next(gear for gear in view.rig.file.gear if gear.id in strips)
        yield Finding(
            at=first.where,
            says=sentence(
                "{plugs} in the case, and outlets for {there}: {offered}.",
                plugs=counted(wanted, "plug"),
                there=len(there),
                offered=offered,
            ),
            found=wanted,
            limit=len(there),
            unit=noun(wanted, "plug"),
        )


def outlet_on_patch_face(view: View) -> Iterator[Finding]:
    """A box of the case hangs on an outlet of the panel that the band plugs into.

    Why: its lead runs round the box and over the panel; it is the first plug that somebody pulls
        to charge a phone.
    Fix: use an outlet inside, and keep the one at the panel for guests.
    Source: common practice, no source.

    Fails:
        case: {type: case-12, patch_face: front}
        gear:
          - {id: filter, type: conditioner-c13, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        power: {feeds: [{gear: mixer, outlet: filter.front}]}
    Passes:
        case: {type: case-12, patch_face: front}
        gear:
          - {id: filter, type: conditioner-c13, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
        power: {feeds: [{gear: mixer, outlet: filter.outlet.1}]}
    """
    case = view.rig.file.case
    if case is None:
        return
    for outlet in view.outlets:
        for feed in outlet.feeds:
            gear = view.rig.gear[feed.gear]
            if outlet.reached == case.patch_face and gear.placed == "case":
                yield Finding(
                    at=feed.where,
                    says=sentence(
                        "{box} hangs on {place}, at the {patch_face} where the band plugs.",
                        box=box(view.rig, gear.id),
                        place=place(view.rig, outlet.key),
                        patch_face=sentence(case.patch_face),
                    ),
                )


def no_sequence(view: View) -> Iterator[Finding]:
    """Nobody wrote down in which order the boxes are switched on.

    Why: amplifiers that wake first play everybody else's bang; a playback that wakes first keeps
        the wrong clock.
    Fix: number the steps under power.feeds: network, mixer, stage boxes, playback, amplifiers last.
    Source: common practice, no source.

    Fails:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: hub, type: hub-16, unit: 6}
          - {id: amp, type: headphone-amp-4, unit: 7}
        power:
          feeds:
            - {gear: mixer, outlet: strip.outlet.1}
            - {gear: hub, outlet: strip.outlet.2}
            - {gear: amp, outlet: strip.outlet.3}
    Passes:
        gear:
          - {id: strip, type: strip-c13-8, unit: 1}
          - {id: mixer, type: mixer-rack-24, unit: 2}
          - {id: hub, type: hub-16, unit: 6}
          - {id: amp, type: headphone-amp-4, unit: 7}
        power:
          feeds:
            - {gear: mixer, outlet: strip.outlet.1, step: 1}
            - {gear: hub, outlet: strip.outlet.2, step: 2}
            - {gear: amp, outlet: strip.outlet.3, step: 3}
    """
    hung = feeds(view.rig)
    power = view.rig.file.power
    if power is not None and len(hung) >= 3 and not sequence(view.rig):
        yield Finding(
            at=power.where,
            says=sentence(
                "{boxes} and no order of switching on.", boxes=counted(len(hung), "box", "boxes")
            ),
        )


def _supplies(view: View) -> Iterator[tuple[str, Volts, Where]]:
    """The volts this rig must take: at home, and at each venue that states them or its country."""
    power = view.rig.file.power
    if power is not None and power.volts_v is not None:
        yield sentence("where it usually stands"), power.volts_v, power.where.of("volts_v")
    for venue in _venues(view):
        volts = volts_of(venue)
        if volts is not None:
            key = "volts_v" if venue.volts_v is not None else "country"
            yield sentence("at {venue}", venue=venue.name), volts, venue.where.of(key)


def _venues(view: View) -> tuple[Venue, ...]:
    if view.show is not None:
        return tuple(v for v in view.rig.file.venues if v.id == view.show.venue)
    return view.rig.file.venues


def _travelling(view: View) -> Iterator[Gear]:
    """What the band plugs into the mains, wherever it stands."""
    for gear in view.rig.file.gear:
        if gear.owner == "band" and needs_mains(view.rig.types[gear.type]):
            yield gear


def outside_supply_range(view: View) -> Iterator[Finding]:
    """A box cannot take the volts of a venue.

    Why: a 120 V supply on 230 V is smoke; a 230 V one on 120 V does not start. Even within the
        range, a long feeder can sag below it: measure before plugging.
    Fix: leave the box at home, or bring a supply or transformer made for it; ask someone licensed.
    Source: EN 50160 and IEC 60038 (supply within 10 % of its nominal volts).

    Fails:
        gear: [{id: strip, type: strip-nema-8, unit: 1}]
        venues:
          - {id: club, name: The Cellar, desk: {takes: tails}, volts_v: 230}
    Passes:
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
        venues:
          - {id: club, name: The Cellar, desk: {takes: tails}, volts_v: 230}
    """
    travelling = list(_travelling(view))
    for where, volts, at in _supplies(view):
        silent: list[str] = []
        for gear in travelling:
            power = view.rig.types[gear.type].power
            assert power is not None
            low, high = power.volts_min, power.volts_max
            if low is None or high is None:
                silent.append(gear.id)
            elif volts > high or volts < low:
                yield Finding(
                    at=gear.where,
                    says=sentence(
                        "{box} takes {low:g} to {high:g} V; {where} there are {volts:g} V.",
                        box=box(view.rig, gear.id),
                        low=low,
                        high=high,
                        where=where,
                        volts=volts,
                    ),
                    found=float(volts),
                    limit=float(high if volts > high else low),
                    unit="V",
                )
        if silent:
            yield Finding(
                at=at,
                severity="unknown",
                says=sentence(
                    "{where} there are {volts:g} V; the file does not say what {names} can take.",
                    where=opening(where),
                    volts=volts,
                    names=some(box(view.rig, name) for name in silent),
                ),
                fix=sentence(
                    "State volts_min and volts_max under power of the gear type: it is "
                    "printed on the box or its supply."
                ),
            )


def venue_socket(view: View) -> Iterator[Finding]:
    """The rack's mains plug does not go into the venue's socket.

    Why: the adapter that is found in a drawer may have no earth, and the rack's earth is what
        protects whoever touches a microphone.
    Fix: bring the mains lead of that country for the rack, or a made-up earthed lead; where that
        is not possible, ask the house's electrician.
    Source: national plug standards; local codes and licensed practice come first.

    Fails:
        gear: [{id: strip, type: strip-cee-8, unit: 1}]
        venues:
          - id: club
            name: The Cellar
            desk: {takes: tails}
            circuits: [{id: stage, socket: bs-1363-f}]
    Passes:
        gear: [{id: strip, type: strip-c13-8, unit: 1}]
        venues:
          - id: club
            name: The Cellar
            desk: {takes: tails}
            circuits: [{id: stage, socket: bs-1363-f}]
    """
    hung = {feed.gear for feed in feeds(view.rig)}
    firsts = [
        gear
        for gear in view.rig.file.gear
        if gives_mains(view.rig.types[gear.type]) and gear.id not in hung and gear.owner == "band"
    ]
    for venue in _venues(view):
        offered = [c.socket for c in venue.circuits if c.socket is not None]
        if not offered or len(offered) < len(venue.circuits):
            continue
        for gear in firsts:
            power = view.rig.types[gear.type].power
            inlet = power.inlet if power else None
            if inlet is not None and all(fit(socket, inlet) == "none" for socket in offered):
                yield Finding(
                    at=venue.circuits[0].where,
                    says=sentence(
                        "{box} has {plug}; at {venue} there is {names}.",
                        box=box(view.rig, gear.id),
                        plug=a_connector(inlet),
                        venue=venue.name,
                        names=listed(map(a_connector, sorted(set(offered)))),
                    ),
                )


RULES = (
    Rule(id="power.box-without-outlet", severity="risk", check=box_without_outlet, since="0.1"),
    Rule(id="power.outlet-used-twice", severity="stop", check=outlet_used_twice, since="0.1"),
    Rule(id="power.strips-in-a-ring", severity="stop", check=no_mains_in, since="0.1"),
    Rule(id="power.wrong-plug", severity="stop", check=wrong_plug, since="0.1"),
    Rule(id="power.outlet-missing", severity="risk", check=too_few_outlets, since="0.1"),
    Rule(
        id="power.outlet-on-patch-face", severity="advice", check=outlet_on_patch_face, since="0.1"
    ),
    Rule(id="power.no-sequence", severity="advice", check=no_sequence, since="0.1"),
    Rule(id="power.supply-range", severity="stop", check=outside_supply_range, since="0.1"),
    Rule(id="power.venue-socket", severity="stop", check=venue_socket, since="0.1"),
)
