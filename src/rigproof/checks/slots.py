"""Rules about the feeds of personal mixers: what is in each slot, and what is turned up."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Rig
from rigproof.rig.plan import Slot
from rigproof.signal.words import place, source
from rigproof.wording import counted, listed, noun, opening, ranges, some
from rigproof.wording.sentences import sentence


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
                    says=sentence(
                        "Slot {slot} has no bus and carries {channels}: {lost} would not be heard.",
                        slot=slot.slot,
                        channels=counted(len(slot.slot), "channel"),
                        lost=lost,
                    ),
                    found=len(lanes),
                    limit=len(slot.slot),
                    unit=noun(len(lanes), "channel"),
                )


def _slot_words(rig: Rig, slot: Slot) -> str:
    return slot.name or listed(source(rig, name) for name in slot.takes) or sentence("nothing")


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
                    says=sentence(
                        "{names} are both in slot {ranges}.",
                        names=opening(names),
                        ranges=ranges(doubled),
                    ),
                )
            if most and slot.slot.last > most:
                yield Finding(
                    at=(slot.where if slot.where.line else feed.where).of("slot"),
                    says=sentence(
                        "Slot {slot} is beyond the {most} of {place}.",
                        slot=slot.slot,
                        most=most,
                        place=place(view.rig, feed.port),
                    ),
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
                    says=sentence(
                        "The mix {mix} takes slots, and this send names none.",
                        mix=mix.name or mix.id,
                    ),
                )
            elif not filled & set(send.slot):
                yield Finding(
                    at=send.where.of("slot"),
                    says=sentence(
                        "The mix {mix} turns up slot {slot}, which carries nothing.",
                        mix=mix.name or mix.id,
                        slot=send.slot,
                    ),
                )


# Entries of a feed that one player oversees while playing; makers of personal mixers advise few
# and musical ones. From memory.
FEW_KNOBS = 12
# A kit of this many microphones in one place is more than a matter of taste. From memory.
WHOLE_KIT = 3


def desk_copied(view: View) -> Iterator[Finding]:
    """A feed gives every source a slot of its own, and there are many.

    Why: the desk was copied one to one; the player hunts for a knob among two dozen and mixes
        instead of playing.
    Fix: group what players ask for together (kit, horns, backing voices), and leave alone what
        each of them wants alone.
    Source: common practice, no source; what makers of such mixers advise, from memory.

    Fails:
        sources:
          - {id: a, name: A, family: keys, mic: mic-vocal-dynamic}
        gear: [{id: mixer, type: mixer-rack-24}]
        feeds:
          - id: feed
            port: mixer.feed
            slots:
              - {slot: 1, takes: [a]}
              - {slot: 2, takes: [a]}
              - {slot: 3, takes: [a]}
              - {slot: 4, takes: [a]}
              - {slot: 5, takes: [a]}
              - {slot: 6, takes: [a]}
              - {slot: 7, takes: [a]}
              - {slot: 8, takes: [a]}
              - {slot: 9, takes: [a]}
              - {slot: 10, takes: [a]}
              - {slot: 11, takes: [a]}
              - {slot: 12, takes: [a]}
              - {slot: 13, takes: [a]}
    Passes:
        sources:
          - {id: a, name: A, family: keys, mic: mic-vocal-dynamic}
          - {id: b, name: B, family: keys, mic: mic-vocal-dynamic}
        gear: [{id: mixer, type: mixer-rack-24}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, takes: [a, b], bus: 1}]}]
    """
    for feed in view.rig.file.feeds:
        taken = [view.rig.members(n) for slot in feed.slots for n in slot.takes]
        filled = [slot for slot in feed.slots if slot.takes]
        alone = all(len(members) == 1 for members in taken) and len(taken) == len(filled)
        if alone and len(filled) > FEW_KNOBS:
            yield Finding(
                at=feed.where,
                says=sentence(
                    "The feed {feed} has {filled} knobs, each for one source.",
                    feed=feed.name or feed.id,
                    filled=len(filled),
                ),
                found=len(filled),
                limit=FEW_KNOBS,
                unit="knobs",
            )


def kit_in_one(view: View) -> Iterator[Finding]:
    """The whole drum kit is in one place of a feed.

    Why: whoever wants more snare to hold the time gets all the cymbals with it, and the one who
        wants less drums loses the time.
    Fix: give kick and snare a slot each and leave the rest of the kit together; where slots are
        few, let something else share.
    Source: common practice, no source; from players' accounts.

    Fails:
        sources:
          - {id: k, name: Kick, family: drums, mic: mic-kick-dynamic}
          - {id: s, name: Snare, family: drums, mic: mic-instrument-dynamic}
          - {id: o, name: Overhead, family: drums, mic: mic-small-condenser}
        gear: [{id: mixer, type: mixer-rack-24}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, takes: [k, s, o], bus: 1}]}]
    Passes:
        sources:
          - {id: k, name: Kick, family: drums, mic: mic-kick-dynamic}
          - {id: s, name: Snare, family: drums, mic: mic-instrument-dynamic}
          - {id: o, name: Overhead, family: drums, mic: mic-small-condenser}
        gear: [{id: mixer, type: mixer-rack-24}]
        feeds:
          - id: feed
            port: mixer.feed
            slots: [{slot: 1, takes: [k]}, {slot: 2, takes: [s]}, {slot: 3, takes: [o]}]
    """
    drums = {source.id for source in view.rig.file.sources if source.family == "drums"}
    for feed in view.rig.file.feeds:
        carrying = [(slot, drums & _taken(view, slot)) for slot in feed.slots]
        carrying = [(slot, found) for slot, found in carrying if found]
        if len(carrying) == 1 and len(carrying[0][1]) >= WHOLE_KIT:
            slot, found = carrying[0]
            yield Finding(
                at=slot.where if slot.where.line else feed.where,
                says=sentence(
                    "All of the kit is in slot {slot}: nobody can turn up one of its {found} "
                    "sources alone.",
                    slot=slot.slot,
                    found=len(found),
                ),
                found=len(found),
                limit=WHOLE_KIT - 1,
                unit="sources",
            )


def _taken(view: View, slot: Slot) -> set[str]:
    return {name for given in slot.takes for name in view.rig.members(given)}


def own_in_group(view: View) -> Iterator[Finding]:
    """Somebody with a personal mixer can turn up the own sound only together with others.

    Why: the knob that a player needs most moves the neighbours as well.
    Fix: give one of the own sources a slot to itself; let sources that are nobody's own share.
    Source: common practice, no source.

    Fails:
        people:
          - {id: ana, name: Ana, ears: {plug: pm.phones}}
          - {id: ben, name: Ben}
        sources:
          - {id: va, name: Voice Ana, family: voices, player: ana, mic: mic-vocal-dynamic}
          - {id: vb, name: Voice Ben, family: voices, player: ben, mic: mic-vocal-dynamic}
        gear: [{id: mixer, type: mixer-rack-24}, {id: pm, type: personal-mixer-16}]
        mixes: [{id: ana, listeners: [ana], on: pm}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, takes: [va, vb], bus: 1}]}]
    Passes:
        people:
          - {id: ana, name: Ana, ears: {plug: pm.phones}}
          - {id: ben, name: Ben}
        sources:
          - {id: va, name: Voice Ana, family: voices, player: ana, mic: mic-vocal-dynamic}
          - {id: vb, name: Voice Ben, family: voices, player: ben, mic: mic-vocal-dynamic}
        gear: [{id: mixer, type: mixer-rack-24}, {id: pm, type: personal-mixer-16}]
        mixes: [{id: ana, listeners: [ana], on: pm}]
        feeds:
          - {id: feed, port: mixer.feed, slots: [{slot: 1, takes: [va]}, {slot: 2, takes: [vb]}]}
    """
    rig = view.rig
    places = [(slot, _taken(view, slot)) for feed in rig.file.feeds for slot in feed.slots]
    taking: dict[str, list[int]] = {}  # source -> the places that have it
    for number, (_, taken) in enumerate(places):
        for name in taken:
            taking.setdefault(name, []).append(number)
    playing: dict[str, set[str]] = {}
    for one in rig.file.sources:
        if one.player is not None:
            playing.setdefault(one.player, set()).add(one.id)
    for mix in rig.file.mixes:
        if mix.on is None or rig.type_of(mix.on).class_ != "personal-mixer":
            continue
        for name in mix.listeners:
            own = playing.get(name, set())
            numbers = {number for given in own for number in taking.get(given, ())}
            with_own = [places[number] for number in sorted(numbers)]
            if with_own and not any(taken <= own for _, taken in with_own):
                slot, taken = with_own[0]
                others = some(source(rig, other) for other in sorted(taken - own))
                yield Finding(
                    at=slot.where if slot.where.line else mix.where,
                    says=sentence(
                        "{person} turns up the own sound only with {others}, in slot {slot}.",
                        person=rig.people[name].name,
                        others=others,
                        slot=slot.slot,
                    ),
                )


RULES = (
    Rule(id="slot.too-small", severity="risk", check=slot_too_small, since="0.1"),
    Rule(id="slot.clash", severity="stop", check=slots_clash, since="0.1"),
    Rule(id="slot.desk-copied", severity="advice", check=desk_copied, since="0.1"),
    Rule(id="slot.kit-in-one", severity="advice", check=kit_in_one, since="0.1"),
    Rule(id="slot.own-in-group", severity="advice", check=own_in_group, since="0.1"),
    Rule(id="slot.turned-up-empty", severity="risk", check=send_of_empty_slot, since="0.1"),
)
