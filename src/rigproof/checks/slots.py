"""Rules about the feeds of personal mixers: what is in each slot, and what is turned up."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Rig
from rigproof.rig.plan import Slot
from rigproof.signal.words import place, source
from rigproof.wording import counted, listed, noun, opening, ranges, some


def slot_too_small(view: View) -> Iterator[Finding]:
    """A slot of the personal mixers is given more than it holds.

    Why: without a bus a slot carries one channel; of a pair or a group only the first is heard,
        and half the keys are missing in every ear that hangs on the feed.
    Fix: give the slot a bus that mixes them, or two slots for a pair.
    Source: common practice, no source: a stereo source takes two slots.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-16}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, takes: [keys]}]}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: mixer, type: mixer-rack-16}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1-2, takes: [keys]}]}]
    """
    for feed in view.rig.file.feeds:
        for slot in feed.slots:
            lanes = _lane_names(view, slot)
            if slot.bus is None and len(lanes) > len(slot.slot):
                lost = some(lanes[len(slot.slot) :])
                yield Finding(
                    at=slot.where if slot.where.line else feed.where,
                    says=f"Slot {slot.slot} has no bus and carries "
                    f"{counted(len(slot.slot), 'channel')}: {lost} would not be heard.",
                    found=len(lanes),
                    limit=len(slot.slot),
                    unit=noun(len(lanes), "channel"),
                )


def _slot_words(rig: Rig, slot: Slot) -> str:
    return slot.name or listed(source(rig, name) for name in slot.takes) or "nothing"


def _lane_names(view: View, slot: Slot) -> list[str]:
    names = [name for taken in slot.takes for name in view.rig.members(taken)]
    return [
        lane
        for name in names
        if name in view.rig.sources
        for lane in view.rig.sources[name].lane_names
    ]


def slots_clash(view: View) -> Iterator[Finding]:
    """Two entries of a feed use the same slot, or one beyond the last.

    Why: the slot carries one of them, its label names the other, and whoever turns the knob hears
        nothing change.
    Fix: give each entry slots of its own, within those the feed has.
    Source: common practice, no source; the count is the sending port's.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        feeds:
          - {id: feed, port: mixer.feed,
             slots: [{slot: 1, takes: [kick]}, {slot: 1, takes: [snare]}]}
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        feeds:
          - {id: feed, port: mixer.feed,
             slots: [{slot: 1, takes: [kick]}, {slot: 2, takes: [snare]}]}
    """
    for feed in view.rig.file.feeds:
        port = view.rig.type_of(feed.port.gear).banks.get(feed.port.bank)
        most = getattr(port, "lanes_tx", 0) or getattr(port, "lanes", 0) * getattr(port, "count", 1)
        first: dict[int, Slot] = {}
        for slot in feed.slots:
            doubled = [n for n in slot.slot if first.setdefault(n, slot) is not slot]
            if doubled:
                other = first[doubled[0]]
                names = listed(_slot_words(view.rig, s) for s in (other, slot))
                yield Finding(
                    at=slot.where if slot.where.line else feed.where,
                    says=f"{opening(names)} are both in slot {ranges(doubled)}.",
                )
            if most and slot.slot.last > most:
                yield Finding(
                    at=(slot.where if slot.where.line else feed.where).of("slot"),
                    says=f"Slot {slot.slot} is beyond the {most} of {place(view.rig, feed.port)}.",
                    found=slot.slot.last,
                    limit=most,
                    unit=noun(slot.slot.last, "slot"),
                )


def send_of_empty_slot(view: View) -> Iterator[Finding]:
    """A personal mix turns up a slot that carries nothing.

    Why: the musician turns the knob named "electric guitar", and nothing happens.
    Fix: fill the slot in the feed, or take it out of the mix and off the label.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: pm.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}, {id: pm, type: personal-mixer-16}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, takes: [kick]}]}]
        mixes: [{id: ana, listeners: [ana], on: pm, sends: [{slot: 1}, {slot: 5}]}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: pm.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}, {id: pm, type: personal-mixer-16}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, takes: [kick]}]}]
        mixes: [{id: ana, listeners: [ana], on: pm, sends: [{slot: 1}]}]
    """
    filled = {
        number
        for feed in view.rig.file.feeds
        for slot in feed.slots
        if slot.takes
        for number in slot.slot
    }
    for mix in view.rig.file.mixes:
        if mix.on is None or view.rig.type_of(mix.on).class_ != "personal-mixer":
            continue
        for send in mix.sends:
            if send.slot is None:
                yield Finding(
                    at=send.where,
                    says=f"The mix {mix.name or mix.id} takes slots, and this send names none.",
                )
            elif not filled & set(send.slot):
                yield Finding(
                    at=send.where.of("slot"),
                    says=f"The mix {mix.name or mix.id} turns up slot {send.slot}, "
                    f"which carries nothing.",
                )


RULES = (
    Rule(id="slot.too-small", severity="risk", check=slot_too_small, since="0.1"),
    Rule(id="slot.clash", severity="stop", check=slots_clash, since="0.1"),
    Rule(id="slot.turned-up-empty", severity="risk", check=send_of_empty_slot, since="0.1"),
)
