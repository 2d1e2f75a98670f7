"""The monitor sheet: mixes, ears and wedges, rough content, talk, and what a house would need."""

from collections.abc import Iterator, Sequence

from rigproof.checks.rule import View
from rigproof.handoff import HandOff
from rigproof.mixes import Listening
from rigproof.rig import Rig
from rigproof.rig.plan import Mix, Talk
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    caution,
    column,
    facts,
    fold,
    heading,
    points,
    remark,
    roomy,
    say,
)
from rigproof.showbook.drawings.onstage import hears
from rigproof.showbook.hearing import way
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.papers.hand_off import hands, id_of, place_of
from rigproof.signal import words

# Under the loudest send of a mix; common practice, no source: what is "much" and what "a little".
_MUCH_DB, _SOME_DB = 3.0, 9.0


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for each hand-off: what the house desk offers decides its last part."""
    for view, hand in hands(order):
        yield Sheet(
            id=id_of("monitor-sheet", hand),
            title=order.say("monitor-sheet.title_at", where=place_of(hand)),
            blocks=tuple(_blocks(order, view, hand)),
        )


def _blocks(order: Order, view: View, hand: HandOff) -> Iterator[Block]:
    found = view.listenings
    yield _facts(order, view.rig, found)
    yield _mixes(order, view.rig, found)
    if any(one.kind == "personal mixer" for one in found):
        slots = [slot for feed in view.rig.file.feeds for slot in feed.slots if slot.takes]
        names = ", ".join(slot.name or slot.label for slot in slots)
        yield say(order.say("monitor-sheet.knobs", names=names))
    yield say(order.say("monitor-sheet.key"))
    yield heading(order.say("monitor-sheet.talk"))
    yield points(_talk(order, view.rig))
    yield heading(order.say("monitor-sheet.if_theirs"))
    yield points(_if_theirs(order, view, hand))
    yield fold()
    yield caution(order.say("monitor-sheet.hearing"), order.say("monitor-sheet.caution"))


def _listened(rig: Rig) -> list[Mix]:
    return [mix for mix in rig.file.mixes if mix.purpose in {"ears", "wedge"}]


def _facts(order: Order, rig: Rig, found: Sequence[Listening]) -> Block:
    say_ = order.say
    mixes = _listened(rig)
    stereo = sum(mix.stereo for mix in mixes)
    width = (
        say_("monitor-sheet.all_stereo")
        if mixes and stereo == len(mixes)
        else say_("monitor-sheet.stereo", count=stereo)
    )
    ears = [person for person in rig.file.people if person.ears is not None]
    radio = sum(_by_radio(rig, person.id) for person in ears)
    wedges = [person.name for person in rig.file.people if person.wedge is not None]
    own = sum(one.kind == "personal mixer" for one in found)
    return facts(
        [
            (say_("monitor-sheet.mixes", n=len(mixes)), str(len(mixes)), width),
            (
                say_("monitor-sheet.ears"),
                str(len(ears)),
                say_("monitor-sheet.by_radio", count=radio),
            ),
            (
                say_("monitor-sheet.wedges"),
                str(len(wedges)),
                order.edition.listed(wedges) or say_("monitor-sheet.none"),
            ),
            (
                say_("monitor-sheet.from_us"),
                str(len(mixes)),
                say_("monitor-sheet.on_knobs", count=own),
            ),
        ]
    )


def _by_radio(rig: Rig, person: str) -> bool:
    ears = rig.people[person].ears
    if ears is None or ears.plug is None or ears.plug.gear not in rig.gear:
        return False
    return any(port.carries == "rf" for port in rig.type_of(ears.plug.gear).ports)


def _mixes(order: Order, rig: Rig, found: Sequence[Listening]) -> Block:
    return roomy(
        [
            column(order.say("monitor-sheet.who"), 1.3, look="name"),
            column(order.say("monitor-sheet.through"), 1.3, look="small"),
            column(order.say("monitor-sheet.much"), 1.3),
            column(order.say("monitor-sheet.some"), 2),
            column(order.say("monitor-sheet.little"), 1.6),
        ],
        [_mix(order, rig, one) for one in found],
    )


def _mix(order: Order, rig: Rig, one: Listening) -> list[Cell]:
    person = rig.people[one.person]
    who = person.name
    if person.plays:
        who = order.say("monitor-sheet.place", person=who, plays=person.plays)
    through = (hears(rig, person, order.edition), way(one, order.edition))
    much, some, little = _shares(order, rig, one)
    return [
        remark(who),
        remark(" \u00b7 ".join(part for part in through if part)),
        remark(much),
        remark(some),
        remark(little),
    ]


def _shares(order: Order, rig: Rig, one: Listening) -> tuple[str, str, str]:
    """What is loud, what is there, what is faint, by the sends of the mix."""
    if one.kind == "personal mixer":
        return "", order.say("monitor-sheet.every_place"), ""
    sends = [
        (float(send.level_db), words.source(rig, send.from_))
        for send in (one.mix.sends if one.mix else ())
        if send.from_ is not None and send.level_db is not None
    ]
    if not sends:
        names = [rig.sources[heard.source].name for heard in one.heard]
        return "", ", ".join(names) or order.say("monitor-sheet.nothing"), ""
    top_db = max(level for level, _ in sends)
    much = [name for level, name in sends if level >= top_db - _MUCH_DB]
    some = [name for level, name in sends if top_db - _SOME_DB <= level < top_db - _MUCH_DB]
    little = [name for level, name in sends if level < top_db - _SOME_DB]
    return ", ".join(much), ", ".join(some), ", ".join(little)


def _talk(order: Order, rig: Rig) -> Iterator[str]:
    listeners = {person for mix in _listened(rig) for person in mix.listeners}
    reached = {person for talk in rig.file.talk for person in talk.to}
    for talk in rig.file.talk:
        yield _one_talk(order, rig, talk, listeners)
    if not rig.file.talk:
        yield order.say("monitor-sheet.no_talk")
    elif listeners - reached:
        names = [
            naming.person(rig, person) for person in rig.people if person in listeners - reached
        ]
        yield order.say("monitor-sheet.talk_missing", names=order.edition.listed(names))
    yield order.say("monitor-sheet.wanted_in")


def _one_talk(order: Order, rig: Rig, talk: Talk, listeners: set[str]) -> str:
    source = rig.sources[talk.from_].name if talk.from_ in rig.sources else talk.from_
    switch = f", {order.say(f'monitor-sheet.switch_{talk.switch}')}" if talk.switch else ""
    if listeners and listeners <= set(talk.to):
        return order.say("monitor-sheet.talk_all", source=source, switch=switch)
    names = order.edition.listed(naming.person(rig, person) for person in talk.to)
    return order.say("monitor-sheet.talk_some", source=source, names=names, switch=switch)


def _if_theirs(order: Order, view: View, hand: HandOff) -> Iterator[str]:
    """What a house desk would have to give to make these mixes; most nights it need not."""
    rig, say_ = view.rig, order.say
    ears = [mix for mix in _listened(rig) if mix.purpose == "ears"]
    wedges = [person for person in rig.file.people if person.wedge is not None]
    yield say_("monitor-sheet.not_needed")
    outputs = sum(2 if mix.stereo else 1 for mix in ears)
    if ears:
        yield say_("monitor-sheet.outputs", n=outputs, mixes=len(ears))
    if wedges:
        yield say_("monitor-sheet.wedge_outputs", n=len(wedges))
    private = [s for s in rig.file.sources if s.private and s.owner != "house"]
    if private and ears:
        lanes = sum(source.lanes for source in private)
        names = order.edition.listed(source.name for source in private)
        yield say_("monitor-sheet.private_lines", n=lanes, names=names)
    if ears:
        yield say_("monitor-sheet.limiter")
        yield say_("monitor-sheet.engineer")
    offered = hand.venue.desk.mixes_offered
    if offered is None:
        yield say_("monitor-sheet.offered_unknown")
    elif offered >= outputs:
        yield say_("monitor-sheet.offered_enough", offered=offered)
    else:
        yield say_("monitor-sheet.offered_short", offered=offered, short=outputs - offered)
