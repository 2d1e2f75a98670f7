"""The line-check sheet: every line in patch order, to tick at our end and at the house's."""

from collections.abc import Iterator, Mapping, Sequence

from rigproof.checks.rule import View
from rigproof.handoff import HandOff
from rigproof.patch import ChannelRow, PatchLists
from rigproof.rig import Rig
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    amount,
    cell,
    column,
    heading,
    remark,
    roomy,
    say,
    steps,
    ticks,
)
from rigproof.showbook.expected import expected
from rigproof.showbook.house_page import SECONDS_A_LINE
from rigproof.showbook.papers import Order, Sheet
from rigproof.showbook.papers.hand_off import hands, id_of, place_of
from rigproof.signal import words


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for each hand-off: every venue on a usual night, and each show that differs."""
    peaks: dict[str, Mapping[int, Cell]] = {}  # of a night: its houses meet the same channels
    for view, hand in hands(order):
        night = view.show.id if view.show else ""
        if night not in peaks:
            peaks[night] = {one.number: _expected(order, view, one) for one in _used(view.rig)}
        yield Sheet(
            id=id_of("line-check", hand),
            title=order.say("line-check.title_at", where=place_of(hand)),
            lead=_lead(order, view, hand),
            blocks=tuple(_blocks(order, view, hand, peaks[night])),
        )


def _used(rig: Rig) -> Sequence[ChannelRow]:
    return [row for row in PatchLists(rig).channels if row.source is not None]


def _lead(order: Order, view: View, hand: HandOff) -> str:
    used = _used(view.rig)
    low, high = (len(used) * seconds / 60 for seconds in SECONDS_A_LINE)
    owner = naming.person(view.rig, view.rig.about.patch_owner)
    caller = (
        order.say("line-check.caller", name=owner) if owner else order.say("line-check.no_caller")
    )
    took = order.say("line-check.takes", n=len(used), low=f"{low:.0f}", high=f"{high:.0f}")
    limit = hand.venue.changeover_min
    change = (
        order.say("line-check.changeover", minutes=order.edition.number(limit))
        if limit is not None
        else ""
    )
    return " ".join(part for part in (took, caller, change) if part)


def _blocks(order: Order, view: View, hand: HandOff, peaks: Mapping[int, Cell]) -> Iterator[Block]:
    # Where a knob or a switch was knocked in the van, the check begins with a riddle.
    home = list(_home(order, view.rig)) if order.edition.reader != "house" else []
    if home:
        yield heading(order.say("line-check.home"))
        yield ticks(home)
    tails = _at_the_house(hand)
    rows = [_row(order, view, channel, tails, peaks) for channel in _used(view.rig)]
    yield roomy(
        [
            column(order.say("line-check.number"), 0, look="number"),
            column(order.say("line-check.source"), 2.2, look="name"),
            column(order.say("line-check.socket"), 1.6, look="small"),
            column(order.say("line-check.theirs"), 0, look="figures"),
            column(order.say("line-check.expected"), 0, unit="dBFS", look="figures"),
            column(order.say("line-check.ours_ticked"), 0, look="tick"),
            column(order.say("line-check.house_ticked"), 0, look="tick"),
            column(order.say("line-check.fault"), 1.8, look="write"),
        ],
        rows,
    )
    yield say(f"{order.say('line-check.expected_key')} {order.say('line-check.tails_apart')}")
    yield steps(order.say(f"line-check.step_{n}") for n in range(1, 5))


def _home(order: Order, rig: Rig) -> Iterator[str]:
    """Where knobs and switches stand before anybody plays, box by box from the bottom up."""
    boxes = sorted(rig.file.gear, key=lambda gear: (gear.unit or 99, gear.id))
    for gear in boxes:
        if gear.home:
            name = words.box(rig, gear.id)
            yield order.say("line-check.home_one", box=name, stands=gear.home)


def _at_the_house(hand: HandOff) -> Mapping[tuple[str, int], Sequence[str]]:
    """Source and lane -> the numbers of the house's ends that carry it."""
    found: dict[tuple[str, int], list[str]] = {}
    for line in hand.used:
        if line.source is not None:
            number = line.house_number or line.number
            found.setdefault((line.source.id, line.lane), []).append(str(number))
    return found


def _row(
    order: Order,
    view: View,
    channel: ChannelRow,
    tails: Mapping[tuple[str, int], Sequence[str]],
    peaks: Mapping[int, Cell],
) -> list[Cell]:
    assert channel.source is not None
    language = order.edition.language
    socket = words.place(view.rig, channel.socket, language) if channel.socket else ""
    theirs = ", ".join(tails.get((channel.source.id, channel.lane), ()))
    return [
        amount(channel.number),
        cell(channel.name),
        remark(socket or order.say("line-check.wired")),
        cell(theirs),
        peaks[channel.number],
        cell(""),
        cell(""),
        cell(""),
    ]


def _expected(order: Order, view: View, channel: ChannelRow) -> Cell:
    """The peaks that the meter of our channel shows, with how far they may likely be off."""
    found = expected(view, channel)
    if found is None:
        return cell("")
    edition = order.edition
    # The peak is told to a decibel, so no less than that is what it may be off.
    peak, off = edition.number(found.peak_dbfs, 0), edition.number(max(1.0, found.off_db), 0)
    return cell(f"{peak} \u00b1{off}", found.provenance)
