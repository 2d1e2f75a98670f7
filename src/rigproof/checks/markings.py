"""Rules about what is written on leads and boxes, so that a stranger plugs the right one."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Lead, Rig
from rigproof.signal.words import box
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence


def lead_unmarked(view: View) -> Iterator[Finding]:
    """Leads that are plugged at every show carry no label.

    Why: at both ends somebody guesses, and the one who pulls it out again has to follow it by hand
        across the stage.
    Fix: give each a short label, put it on both ends, and take old ones off: a lead with two stale
        labels misleads more than one with none.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8}]
        leads:
          - {id: link, type: lead-network-locking, from: box.link, to: mixer.link,
             plugged: every show}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8}]
        leads:
          - {id: link, type: lead-network-locking, from: box.link, to: mixer.link,
             plugged: every show, label: LINK}
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    bare = [
        lead
        for lead in view.rig.file.leads
        if lead.plugged == "every show" and not lead.label and not lead.colour
    ]
    if bare and view.rig.file.shows:  # until a rig goes out, it is still being written down
        yield Finding(
            at=bare[0].where,
            says=sentence(
                "Nothing is written on {leads}, and somebody plugs {word} at every show.",
                leads=_leads(bare),
                word=sentence("it") if len(bare) == 1 else sentence("them"),
            ),
        )


def _leads(leads: Sequence[Lead]) -> str:
    return sentence(
        "the {word} {names}",
        word=sentence("lead") if len(leads) == 1 else sentence("leads"),
        names=some(_name(lead) for lead in leads),
    )


def _name(lead: Lead) -> str:
    return lead.label or lead.id


def colour_alone(view: View) -> Iterator[Finding]:
    """Leads are told apart by their colour alone.

    Why: in blue light red is black, one man in twelve sees no difference anyway, and a copied page
        has no colours.
    Fix: write a label as well; let the colour help, not carry.
    Source: common practice, no source: number and word first, colour as a helper.

    Fails:
        gear: [{id: split, type: splitter-transformer-8}]
        leads:
          - {id: tail-1, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, colour: red}
    Passes:
        gear: [{id: split, type: splitter-transformer-8}]
        leads:
          - {id: tail-1, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, colour: red,
             label: T1 1-8}
    """
    bare = [lead for lead in view.rig.file.leads if lead.colour and not lead.label]
    if bare:
        yield Finding(
            at=bare[0].where.of("colour"),
            says=sentence("Only a colour tells {leads} from others.", leads=_leads(bare)),
        )


def lead_doubled(view: View) -> Iterator[Finding]:
    """Two leads carry the same label.

    Why: the label says where it goes, and for one of the two it lies.
    Fix: number them, on both ends.
    Source: common practice, no source.

    Fails:
        gear: [{id: split, type: splitter-transformer-16}]
        leads:
          - {id: one, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, label: Tails}
          - {id: two, type: tails-xlr-8, from: split.iso.9-16, to: house.9-16, label: Tails}
    Passes:
        gear: [{id: split, type: splitter-transformer-16}]
        leads:
          - {id: one, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, label: Tails 1-8}
          - {id: two, type: tails-xlr-8, from: split.iso.9-16, to: house.9-16, label: Tails 9-16}
    """
    first: dict[str, Lead] = {}
    for lead in view.rig.file.leads:
        if lead.label:
            other = first.setdefault(lead.label.casefold(), lead)
            if other is not lead and _meet(other, lead):
                yield Finding(
                    at=lead.where.of("label"),
                    says=sentence(
                        'The leads {other} and {lead} both read "{label}".',
                        other=other.id,
                        lead=lead.id,
                        label=lead.label,
                    ),
                )


def _meet(one: Lead, other: Lead) -> bool:
    """Whether the two are ever on the same stage."""
    if not one.at_venues or not other.at_venues:
        return True
    return bool(set(one.at_venues) & set(other.at_venues))


def box_doubled(view: View) -> Iterator[Finding]:
    """Two boxes carry the same label.

    Why: "it is plugged in box A" sends two people to two boxes.
    Fix: make the labels differ; a letter for each box is enough.
    Source: common practice, no source: lines are called by box and number.

    Fails:
        gear:
          - {id: one, name: Stage box left, label: SB, type: stage-box-16x8}
          - {id: two, name: Stage box right, label: SB, type: stage-box-16x8}
    Passes:
        gear:
          - {id: one, name: Stage box left, label: SB L, type: stage-box-16x8}
          - {id: two, name: Stage box right, label: SB R, type: stage-box-16x8}
    """
    first: dict[str, str] = {}
    for gear in view.rig.file.gear:
        if gear.label:
            other = first.setdefault(gear.label.casefold(), gear.id)
            if other != gear.id:
                names = listed(box(view.rig, name) for name in (other, gear.id))
                yield Finding(
                    at=gear.where.of("label"),
                    says=sentence('{names} both read "{label}".', names=names, label=gear.label),
                )


def multi_ways_alike(view: View) -> Iterator[Finding]:
    """Two like fan-outs or multicores are plugged every night, and nothing tells them apart.

    Why: swapped, they move eight channels by eight at once, and every single plug fits.
    Fix: label and colour each at both ends; or take plugs of which only one goes into each place.
    Source: common practice, no source: keyed, or colour and number; from memory of such nights.

    Fails:
        gear: [{id: split, type: splitter-transformer-16}]
        leads:
          - {id: one, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, plugged: every show}
          - {id: two, type: tails-xlr-8, from: split.iso.9-16, to: house.9-16,
             plugged: every show}
    Passes:
        gear: [{id: split, type: splitter-transformer-16}]
        leads:
          - {id: one, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, plugged: every show,
             label: T1 1-8, colour: brown}
          - {id: two, type: tails-xlr-8, from: split.iso.9-16, to: house.9-16,
             plugged: every show, label: T2 9-16, colour: red}
    """
    alike: dict[str, list[Lead]] = {}
    for lead in view.rig.file.leads:
        if lead.plugged == "every show" and _many(view.rig, lead):
            alike.setdefault(lead.type, []).append(lead)
    for leads in alike.values():
        swapped = [pair for pair in combinations(leads, 2) if _meet(*pair) and _same(*pair)]
        if swapped:
            names = dict.fromkeys(lead.id for pair in swapped for lead in pair)
            yield Finding(
                at=swapped[0][0].where,
                says=sentence(
                    "The leads {names} are of one kind with many lines each, and nothing on "
                    "them tells which is which.",
                    names=some(names),
                ),
            )


def _many(rig: Rig, lead: Lead) -> bool:
    body = rig.types[lead.type].lead
    return body is not None and max(body.a.count * body.a.lanes, body.b.count * body.b.lanes) > 2


def _same(one: Lead, other: Lead) -> bool:
    return (one.label.casefold(), one.colour.casefold()) == (
        other.label.casefold(),
        other.colour.casefold(),
    )


RULES = (
    Rule(id="label.lead-unmarked", severity="advice", check=lead_unmarked, since="0.1"),
    Rule(id="label.lead-doubled", severity="risk", check=lead_doubled, since="0.1"),
    Rule(id="label.box-doubled", severity="risk", check=box_doubled, since="0.1"),
    Rule(id="label.colour-alone", severity="advice", check=colour_alone, since="0.1"),
    Rule(id="plug.multi-ways-alike", severity="risk", check=multi_ways_alike, since="0.1"),
)
