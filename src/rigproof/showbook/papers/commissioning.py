"""The commissioning sheet: what is tried with everything plugged, before anybody plays with it.

A rule sees what the file says; what has to be measured, heard or pulled out for once stands here.
What is tried, and the order, mains first and the healthy recording last: common practice, from
memory.
"""

from collections.abc import Iterator

import msgspec

from rigproof.rig import Rig, Source
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    caution,
    cell,
    column,
    fold,
    left_out,
    remark,
    roomy,
    say,
)
from rigproof.showbook.ear_way import free_sockets, root_strip
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words

# What can put current through a player: an instrument in the hands, a microphone at the mouth.
_STRUNG = frozenset({"guitar", "bass", "keys", "electronics"})


class Trial(msgspec.Struct, frozen=True):
    """One thing to try. Its phrases are `commissioning.KEY`, `KEY_do` and `KEY_passes`."""

    key: str
    values: dict[str, object] = {}


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for the usual night."""
    found = tuple(_trials(order))
    if found:
        yield Sheet(
            id="commissioning",
            title=order.say("commissioning.title"),
            lead=order.say("commissioning.lead"),
            blocks=tuple(_blocks(order, found)),
        )


def _blocks(order: Order, found: tuple[Trial, ...]) -> Iterator[Block]:
    def told(trial: Trial, part: str = "") -> str:
        return order.say(f"commissioning.{trial.key}{part}", **trial.values)

    yield caution(order.say("commissioning.caution_title"), order.say("commissioning.caution"))
    yield roomy(
        [
            column(order.say("commissioning.number"), 0, look="number"),
            column(order.say("commissioning.what"), 1.2, look="name"),
            column(order.say("commissioning.do"), 3, look="small"),
            column(order.say("commissioning.passes"), 2.4, look="small"),
            column(order.say("commissioning.held"), 0, look="tick"),
            column(order.say("commissioning.seen"), 1.1, look="write"),
        ],
        [
            [
                cell(str(number)),
                remark(told(trial)),
                remark(told(trial, "_do")),
                remark(told(trial, "_passes")),
                cell(""),
                cell(""),
            ]
            for number, trial in enumerate(found, start=1)
        ],
    )
    yield say(order.say("commissioning.write_down"))
    yield fold()
    yield left_out(order.say("commissioning.left_out"))


def _trials(order: Order) -> Iterator[Trial]:
    rig = order.rig
    if not rig.file.sources or not rig.file.gear:
        return
    yield from _power(order)
    yield from _lines(order)
    yield from _ears(order)
    yield from _control(order)
    yield from _settings(order)
    yield Trial("quiet")
    yield Trial("record", {"count": sum(source.lanes for source in rig.file.sources)})


def _power(order: Order) -> Iterator[Trial]:
    rig = order.rig
    root = root_strip(rig, rig.mixer.id) if rig.mixer else ""
    if root:
        yield Trial("dip", {"box": words.box(rig, root)})
    both = [
        naming.person(rig, person.id)
        for person in rig.file.people
        if any(s.family in _STRUNG for s in _played(rig, person.id))
        and any(s.family == "voices" for s in _played(rig, person.id))
    ]
    if both:
        yield Trial("strings", {"names": order.edition.listed(both)})
    clocked = [words.box(rig, clock.gear) for clock in rig.file.clocks]
    if len(clocked) > 1:
        yield Trial("relock", {"boxes": order.edition.listed(clocked)})


def _played(rig: Rig, person: str) -> list[Source]:
    return [source for source in rig.file.sources if source.player == person]


def _lines(order: Order) -> Iterator[Trial]:
    rig = order.rig
    splits = [g for g in rig.file.gear if rig.types[g.type].class_ == "splitter"]
    if splits:
        names = order.edition.listed(words.box(rig, gear.id) for gear in splits)
        yield Trial("split", {"boxes": names})
    ends = 0
    for lead in rig.file.leads:
        if lead.to.gear == HOUSE:
            low, high = lead.to.numbers or (1, 1)
            ends += high - low + 1
    if ends:
        yield Trial("tails", {"count": ends})
    fed = [rig.sources[row.source] for row in rig.file.patch if row.phantom == "on"]
    if fed:
        names = order.edition.some([source.name for source in fed], most=12)
        yield Trial("phantom", {"names": names})
    if sum(source.lanes for source in rig.file.sources if source.mic is not None) > 1:
        yield Trial("polarity")


def _ears(order: Order) -> Iterator[Trial]:
    rig = order.rig
    wearing = [p for p in rig.file.people if p.ears is not None]
    if wearing:
        names = order.edition.listed(person.name for person in wearing)
        yield Trial("ears", {"names": names})
    control = rig.file.control
    if control is not None and control.kill:
        yield Trial("kill", {"kill": control.kill})


def _control(order: Order) -> Iterator[Trial]:
    rig, control = order.rig, order.rig.file.control
    point = control.access_point if control is not None else None
    if control is None or point is None:
        return
    name = control.network_name or words.box(rig, point)
    yield Trial("join", {"network": name})
    free = [
        key
        for port in rig.type_of(point).ports
        if port.carries in {"control", "network"} and port.connector.startswith("rj45")
        for key in free_sockets(rig, point, port.id)
    ]
    box = words.box(rig, point)
    if free:
        socket = words.place(rig, free[0], order.edition.language)
        yield Trial("wire", {"box": box, "socket": socket})


def _settings(order: Order) -> Iterator[Trial]:
    rig = order.rig
    kept = dict.fromkeys(words.box(rig, backup.of) for backup in rig.file.backups)
    if kept:
        yield Trial("restore", {"boxes": order.edition.listed(kept)})
    players = dict.fromkeys(
        words.box(rig, gear.id)
        for gear in rig.file.gear
        if rig.types[gear.type].class_ == "computer"
    )
    if players and any(source.family == "playback" for source in rig.file.sources):
        yield Trial("playback", {"boxes": order.edition.listed(players)})
