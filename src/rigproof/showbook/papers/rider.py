"""The technical rider of a band with its own monitoring: short, and enough."""

from collections import Counter
from collections.abc import Iterator, Sequence

from rigproof.checks.rule import View
from rigproof.handoff import HandOff
from rigproof.rig import Rig
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.showbook.blocks import Block, heading, say
from rigproof.showbook.drawings.ground import both
from rigproof.showbook.house_means import carriers
from rigproof.showbook.house_page import SECONDS_A_LINE, drop_order
from rigproof.showbook.house_power import points as mains_points
from rigproof.showbook.house_power import waking_s
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.papers.hand_off import hands, id_of, place_of

_NAMED_MOST = 12
_APRON_M = 1.0  # around the people; common practice, no source


def sheets(order: Order) -> Iterator[Sheet]:
    """One rider for any house; for the venues asked for, one for each."""
    if order.venues:
        for view, hand in hands(order):
            yield Sheet(
                id=id_of("rider", hand),
                title=order.say("rider.title_at", where=place_of(hand)),
                lead=order.say("rider.lead"),
                blocks=tuple(_blocks(order, view, hand)),
            )
        return
    view = order.view
    # Any house: the one that takes tails stands for those nobody has met yet.
    tailed = next((one for one in view.hand_offs if one.venue.desk.takes == "tails"), None)
    yield Sheet(
        id="rider",
        title=order.say("rider.title"),
        lead=order.say("rider.lead"),
        blocks=tuple(_blocks(order, view, tailed)),
    )


def _blocks(order: Order, view: View, hand: HandOff | None) -> Iterator[Block]:
    sections: Sequence[tuple[str, Iterator[str]]] = (
        ("rider.who", _who(order, view.rig)),
        ("rider.mixes", _mixes(order, view.rig)),
        ("rider.lines", _lines(order, view, hand)),
        ("rider.house_box", _house_box(order, view.rig, hand)),
        ("rider.power", _power(order, view.rig, hand)),
        ("rider.space", _space(order, view.rig)),
        ("rider.time", _time(order, view, hand)),
        ("rider.questions", _questions(order, view.rig)),
    )
    for title, said in sections:
        row = [one for one in said if one]
        if row:
            yield heading(order.say(title))
            yield from map(say, row)


def _who(order: Order, rig: Rig) -> Iterator[str]:
    people = [person for person in rig.file.people if person.on_stage]
    names = [
        order.say("rider.person", name=person.name, plays=person.plays)
        if person.plays
        else person.name
        for person in people
    ]
    said = ", ".join(names[:_NAMED_MOST])
    if len(names) > _NAMED_MOST:
        said = order.say("stage-plot.some", names=said, count=len(names) - _NAMED_MOST)
    if people:
        yield order.say("rider.people", n=len(people), names=said)


def _mixes(order: Order, rig: Rig) -> Iterator[str]:
    ears = [person for person in rig.file.people if person.ears is not None]
    wedges = [person.name for person in rig.file.people if person.wedge is not None]
    if wedges and ears:
        yield order.say("rider.own_and_wedges", names=order.edition.listed(wedges))
    elif ears:
        yield order.say("rider.own_mixes")
    else:
        yield order.say("rider.no_mixes")
    ambience = sum(s.lanes for s in rig.file.sources if s.family == "ambience" and s.private)
    if ambience:
        yield order.say("rider.ambience", n=ambience)


def _lines(order: Order, view: View, hand: HandOff | None) -> Iterator[str]:
    if hand is None or not hand.lines:
        yield order.say("rider.lines_none")
        return
    tails = [lead for lead in carriers(view.rig, hand) if lead.to.gear == HOUSE]
    lengths = sorted({float(lead.length_m) for lead in tails if lead.length_m is not None})
    if tails and lengths:
        yield order.say(
            "rider.lines_tails",
            lines=hand.needed,
            n=len(tails),
            length=" / ".join(map(order.edition.length, lengths)),
        )
    else:
        kind = order.say(f"advance.takes_{hand.venue.desk.takes}")
        yield order.say("rider.lines_any", n=hand.needed, ends=kind)
    yield order.say("rider.plug_in_order")
    private = [s.name for s in view.rig.file.sources if s.private and s.owner != "house"]
    if private:
        yield order.say("rider.not_sent", names=order.edition.listed(private))
    yield from drop_order(hand, order.edition)


def _house_box(order: Order, rig: Rig, hand: HandOff | None) -> Iterator[str]:
    venue = hand.venue if hand is not None and order.venues else None
    at_m = (venue.case_at_m if venue else None) or (rig.file.case.at_m if rig.file.case else None)
    if at_m is not None:
        side = naming.stage_side(float(at_m[0]), order.edition)
        yield order.say("rider.box_side", side=side)
    tails = carriers(rig, hand) if hand is not None else []
    lengths = [float(lead.length_m) for lead in tails if lead.length_m is not None]
    if lengths:
        yield order.say("rider.box_reach", length=order.edition.length(min(lengths)))
    back = [s.name for s in rig.file.sources if s.start is not None and s.start.gear == HOUSE]
    if back:
        yield order.say("rider.back", names=order.edition.listed(back))


def _power(order: Order, rig: Rig, hand: HandOff | None) -> Iterator[str]:
    yield from mains_points(rig, hand.venue if hand and order.venues else None, order.edition)
    yield order.say("rider.power_own")
    yield order.say("hand-off.mains_can_kill")


def _space(order: Order, rig: Rig) -> Iterator[str]:
    people = [person for person in rig.file.people if person.on_stage and person.at_m is not None]
    places = [person.at_m for person in people if person.at_m is not None]
    if places:
        wide_m = max(x for x, _ in places) - min(x for x, _ in places) + 2 * _APRON_M
        deep_m = max(y for _, y in places) + _APRON_M
        size = both(order.edition, round(wide_m, 1), round(deep_m, 1))
        yield order.say("rider.room", size=size)
    for person in people:
        if person.riser_m is not None:
            size = both(order.edition, *(float(side) for side in person.riser_m))
            yield order.say("rider.riser", name=person.name, size=size)
    house = [s for s in rig.file.sources if s.owner == "house" and (s.mic or s.di)]
    guest = [s.name for s in rig.file.sources if s.owner == "guest" and (s.mic or s.di)]
    if house:
        wanted = [f"{s.name} ({naming.microphone(rig, s, order.edition)})" for s in house]
        yield order.say("rider.mics_house", names=", ".join(wanted))
    else:
        yield order.say("rider.mics_ours")
    if guest:
        yield order.say("rider.mics_guest", names=order.edition.listed(guest))
    stands = Counter(source.stand for source in rig.file.sources if source.stand)
    if stands:
        names = [f"{count} \u00d7 {stand}" for stand, count in stands.items()]
        yield order.say("rider.stands", names=", ".join(names))


def _time(order: Order, view: View, hand: HandOff | None) -> Iterator[str]:
    lines = hand.needed if hand else 0
    if lines:
        low, high = (f"{lines * seconds / 60:.0f}" for seconds in SECONDS_A_LINE)
        yield order.say("rider.check", n=lines, low=low, high=high)
        yield order.say("rider.desk_person")
    waking = waking_s(view.rig, order.edition)
    if waking:
        yield order.say("rider.boots", time=waking)


def _questions(order: Order, rig: Rig) -> Iterator[str]:
    contact = rig.about.contact
    if contact is None:
        yield order.say("rider.ask_nobody")
    else:
        who = [part for part in (contact.name, contact.phone, contact.mail) if part]
        yield order.say("rider.ask", who=", ".join(who))
    # Who knows the rig beside the one to call: who owns the patch or the gains, or leads the band.
    about = rig.about
    known = [naming.person(rig, name) for name in (about.patch_owner, about.gain_owner)]
    known += [person.name for person in rig.file.people if person.leads_band]
    first = contact.name if contact else ""
    second = next((name for name in known if name and not _is(first, name)), "")
    if second:
        yield order.say("rider.ask_stage", who=second)
    else:
        yield order.say("rider.ask_write", blank="_" * 24)


def _is(contact: str, name: str) -> bool:
    """Whether a contact is this person: their name, or it with a word about them."""
    return contact == name or contact.startswith(f"{name} ")
