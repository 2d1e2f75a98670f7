"""Rules about the lengths of leads on the stage."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rack import Way
from rigproof.wording import listed
from rigproof.wording.sentences import sentence


def _where(way: Way) -> str:
    there = sentence(" at {venue}", venue=way.venue.name) if way.venue is not None else ""
    return (
        sentence(
            "{there} with the case {case_side}", there=there, case_side=sentence(way.case_side)
        )
        if way.case_side
        else there
    )


def too_short(view: View) -> Iterator[Finding]:
    """A lead does not reach from one end to the other.

    Why: it is pulled straight across the stage, where somebody walks into it, or an extension
        nobody packed is missing.
    Fix: take a longer one, or agree with the venue on another place for the case.
    Source: Derived: along and across the stage at right angles, 0.5 m up at the case, 1 m at a box
        (common practice, no source); nothing to spare is counted.

    Fails:
        case: {type: case-12, at_m: [5, 3]}
        gear:
          - {id: hub, type: hub-16, unit: 1}
          - {id: pm, type: personal-mixer-16, place: stage, at_m: [-5, 1]}
        leads:
          - {id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 10}
    Passes:
        case: {type: case-12, at_m: [5, 3]}
        gear:
          - {id: hub, type: hub-16, unit: 1}
          - {id: pm, type: personal-mixer-16, place: stage, at_m: [-5, 1]}
        leads:
          - {id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 20}
    """
    for way in view.lead_ways:
        if way.lead is None or way.has_m is None or not way.agreed or way.short_m <= 0:
            continue
        sold = (
            sentence("; {stock_m:g} m is the length to buy", stock_m=way.stock_m)
            if way.stock_m is not None
            else ""
        )
        yield Finding(
            at=way.lead.where.of("length_m"),
            says=sentence(
                "The lead {way} is {has_m:g} m long; its way{where} is {route_m:.1f} m{sold}.",
                way=way.name,
                has_m=way.has_m,
                where=_where(way),
                route_m=way.route_m,
                sold=sold,
            ),
            found=float(way.has_m),
            limit=way.route_m,
            unit="m",
        )


def short_on_the_other_side(view: View) -> Iterator[Finding]:
    """Leads reach, unless the case has to stand on the other side of the stage.

    Why: the house decides on the night which wing is free.
    Fix: agree on the side and state case_at_m of the venue, or pack longer leads.
    Source: Derived: the case mirrored about the middle of the stage, ways at right angles.

    Fails:
        case: {type: case-12, at_m: [5, 3]}
        gear:
          - {id: hub, type: hub-16, unit: 1}
          - {id: pm, type: personal-mixer-16, place: stage, at_m: [4, 1]}
        leads:
          - {id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 10}
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
    Passes:
        case: {type: case-12, at_m: [5, 3]}
        gear:
          - {id: hub, type: hub-16, unit: 1}
          - {id: pm, type: personal-mixer-16, place: stage, at_m: [4, 1]}
        leads:
          - {id: l, type: lead-network-locking, from: hub.out.1, to: pm.feed, length_m: 10}
        venues: [{id: club, name: The Cellar, desk: {takes: tails}, case_at_m: [5, 3]}]
    """
    short = [way for way in view.lead_ways if way.lead is not None and way.short_m > 0]
    short = [way for way in short if not way.agreed]
    if not short:
        return
    venue = short[0].venue
    assert venue is not None  # without venues there is only one place
    names = listed(
        sentence(
            "{way} ({has_m:g} m, needs {needed_m:.1f} m)",
            way=way.name,
            has_m=way.has_m,
            needed_m=way.needed_m,
        )
        for way in short
    )
    yield Finding(
        at=venue.where,
        says=sentence(
            "With the case {case_side} at {venue}, too short: {names}.",
            case_side=sentence(short[0].case_side),
            venue=venue.name,
            names=names,
        ),
    )


def not_in_stock(view: View) -> Iterator[Finding]:
    """A lead that is plugged every night has a length that is not sold.

    Why: when it is stepped on in the last song of the first set, no shop has another.
    Fix: take the next length that is sold, and state it.
    Source: stock_m of the lead's type.

    Fails:
        gear:
          - {id: hub, type: hub-16, unit: 1}
          - {id: pm, type: personal-mixer-16, place: stage}
        leads:
          - id: l
            type: lead-network-locking
            from: hub.out.1
            to: pm.feed
            length_m: 13
            plugged: every show
    Passes:
        gear:
          - {id: hub, type: hub-16, unit: 1}
          - {id: pm, type: personal-mixer-16, place: stage}
        leads:
          - id: l
            type: lead-network-locking
            from: hub.out.1
            to: pm.feed
            length_m: 10
            plugged: every show
    """
    for lead in view.rig.file.leads:
        body = view.rig.types[lead.type].lead
        if lead.plugged != "every show" or body is None or not body.stock_m:
            continue
        if lead.length_m is None or any(abs(lead.length_m - sold) < 0.005 for sold in body.stock_m):
            continue
        if body.longest_m is not None and lead.length_m > body.longest_m:
            continue  # longer than its kind may be is another rule's business
        longer = [float(sold) for sold in body.stock_m if sold > lead.length_m]
        next_ = (
            sentence("the next longer one is {longer:g} m", longer=min(longer))
            if longer
            else sentence("none so long is sold")
        )
        yield Finding(
            at=lead.where.of("length_m"),
            says=sentence(
                "The lead {label} is {length_m:g} m long; {next}.",
                label=lead.label or lead.id,
                length_m=lead.length_m,
                next=next_,
            ),
            found=float(lead.length_m),
            unit="m",
        )


RULES = (
    Rule(id="lead.too-short-for-the-way", severity="risk", check=too_short, since="0.1"),
    Rule(
        id="lead.short-on-the-other-side",
        severity="advice",
        check=short_on_the_other_side,
        since="0.1",
    ),
    Rule(id="lead.not-in-stock", severity="advice", check=not_in_stock, since="0.1"),
)
