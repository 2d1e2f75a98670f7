"""Rules about running out of outputs and of spare, and about the names of slots."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Feed, Gear, Mix, Rig, Where
from rigproof.rig.geartype import GearType, Port
from rigproof.rig.plan import Slot
from rigproof.signal.words import box, source
from rigproof.wording import counted, listed, noun, opening, some
from rigproof.wording.sentences import sentence

# Of the lines in use. Common practice, no source: bands that plan for themselves keep 20 to 25 %.
SPARE_RATIO = 0.20


def _mix_name(mix: Mix) -> str:
    return mix.name or mix.id


def _mixer_mixes(rig: Rig) -> Iterator[Mix]:
    """The mixes made on the buses of the band's own mixer."""
    mixer = rig.mixer
    for mix in rig.file.mixes:
        if mixer is not None and mix.on in (None, mixer.id):
            yield mix


def too_few_outputs(view: View) -> Iterator[Finding]:
    """More mixes leave the mixer than there are outputs for them.

    Why: counted as one line each, stereo mixes look half as many as they are.
    Fix: add a stage box with outputs, use personal mixers, or make mixes mono.
    Source: Derived: sum of the lines of all mixes, stereo counted as two.

    Fails:
        gear: [{id: mixer, type: mixer-rack-18}]
        people:
          - {id: a, name: Ada}
          - {id: b, name: Ben}
          - {id: c, name: Cleo}
          - {id: d, name: Dov}
          - {id: e, name: Eve}
        mixes:
          - {id: a-mix, listeners: [a], stereo: true, bus: 1-2}
          - {id: b-mix, listeners: [b], stereo: true, bus: 3-4}
          - {id: c-mix, listeners: [c], stereo: true, bus: 5-6}
          - {id: d-mix, listeners: [d], stereo: true, bus: 7-8}
          - {id: e-mix, listeners: [e], stereo: true, bank: main, bus: 1-2}
    Passes:
        gear: [{id: mixer, type: mixer-rack-18}]
        people: [{id: a, name: Ada}, {id: b, name: Ben}]
        mixes:
          - {id: a-mix, listeners: [a], stereo: true, bus: 1-2}
          - {id: b-mix, listeners: [b], bus: 3}
    """
    mixer = view.rig.mixer
    if mixer is None:
        return
    there = sum(_line_outputs(view.rig.type_of(g.id)) for g in _output_boxes(view.rig))
    leaving = [mix for mix in _mixer_mixes(view.rig) if _needs_output(view.rig, mix)]
    wanted = sum(len(mix.bus) if mix.bus else 1 + mix.stereo for mix in leaving)
    if wanted > there:
        yield Finding(
            at=mixer.where,
            says=sentence(
                "{mixes} need {wanted} outputs, and {box} with its stage boxes has {there}.",
                mixes=counted(len(leaving), "mix", "mixes"),
                wanted=wanted,
                box=box(view.rig, mixer.id),
                there=there,
            ),
            found=wanted,
            limit=there,
            unit=noun(wanted, "output"),
        )


def _output_boxes(rig: Rig) -> Iterator[Gear]:
    for gear in rig.file.gear:
        if gear is rig.mixer or rig.types[gear.type].class_ == "stage-box":
            yield gear


def _line_outputs(type_: GearType) -> int:
    return sum(
        port.count * port.lanes
        for port in type_.ports
        if port.way == "out" and port.carries == "line"
    )


def _needs_output(rig: Rig, mix: Mix) -> bool:
    """Whether a mix leaves by an analogue output: not by card, USB or into an effect."""
    if mix.purpose not in {"ears", "wedge", "house", "recording"}:
        return False
    if mix.out is not None and mix.out.gear in rig.gear:
        bank = rig.type_of(mix.out.gear).banks.get(mix.out.bank)
        return isinstance(bank, Port) and bank.carries in {"line", "link"}
    return bool(mix.listeners) or mix.purpose == "wedge"


def no_spare(view: View) -> Iterator[Finding]:
    """The mixer has hardly a channel left.

    Why: the next singer, the second keyboard and the broken channel all want one.
    Fix: plan the next bigger mixer or stage box, or drop a line that nobody hears.
    Source: common practice, no source (20 to 25 % of the lines in use).

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: a, name: A, family: voices, mic: mic-vocal-dynamic}]
        patch: [{source: a, plug: mixer.in.1, channel: 1-11}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: a, name: A, family: voices, mic: mic-vocal-dynamic}]
        patch: [{source: a, plug: mixer.in.1, channel: 1}]
    """
    mixer = view.rig.mixer
    bank = next(view.rig.type_of(mixer.id).stages("channel"), None) if mixer else None
    if mixer is None or bank is None:
        return
    used = {n for row in view.rig.file.patch for n in row.channel or () if n <= bank.count}
    free = bank.count - len(used)
    if used and free < SPARE_RATIO * len(used):
        yield Finding(
            at=mixer.where,
            says=sentence(
                "{used} of {count} channels of {box} are in use and {free} are left; a "
                "fifth of the lines in use is a good habit.",
                used=len(used),
                count=bank.count,
                box=box(view.rig, mixer.id),
                free=free,
            ),
            found=free,
            limit=SPARE_RATIO * len(used),
            unit=noun(free, "free channel"),
        )


# Slots of personal-mixer feeds


def _feed_at(feed: Feed, slot: Slot) -> Where:
    return slot.where if slot.where.line else feed.where


def _slot_name(rig: Rig, slot: Slot) -> str:
    takes = listed(source(rig, name) for name in slot.takes)
    return slot.name or takes or sentence("Slot {slot}", slot=slot.slot)


def slot_pair_not_odd_even(view: View) -> Iterator[Finding]:
    """A stereo pair of slots starts on an even number.

    Why: personal mixers link slots 1-2, 3-4 and so on; this pair falls apart into two knobs.
    Fix: start it on an odd slot.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 2-3, takes: [keys]}]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 3-4, takes: [keys]}]}]
    """
    for feed in view.rig.file.feeds:
        for slot in feed.slots:
            if len(slot.slot) == 2 and slot.slot.first % 2 == 0:
                yield Finding(
                    at=_feed_at(feed, slot),
                    says=sentence(
                        "{slot_name} is in slots {slot}; pairs start on odd ones.",
                        slot_name=opening(_slot_name(view.rig, slot)),
                        slot=slot.slot,
                    ),
                )


def slot_label_lies(view: View) -> Iterator[Finding]:
    """A slot carries the name of something that is not in it.

    Why: the player turns up "electric guitar", and the speaker at the lectern gets louder.
    Fix: rename the slot and print its label again.
    Source: common practice, no source (a published account of exactly this).

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: gtr, name: Guitar, family: guitar}, {id: lec, name: Lectern, family: voices}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, name: Guitar, takes: [lec]}]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        sources: [{id: gtr, name: Guitar, family: guitar}, {id: lec, name: Lectern, family: voices}]
        feeds: [{id: feed, port: mixer.feed, slots: [{slot: 1, name: Guitar, takes: [gtr]}]}]
    """
    called = _called(view.rig)
    for feed in view.rig.file.feeds:
        for slot in feed.slots:
            taken = {s for name in slot.takes for s in view.rig.members(name)}
            for text in dict.fromkeys((slot.name, slot.label)):
                meant = called.get(text.casefold().strip()) if text else None
                # A group's name may stand over part of it, a source's over it and its company.
                if not meant or not taken or any(taken <= m or m <= taken for m in meant):
                    continue
                yield Finding(
                    at=_feed_at(feed, slot),
                    says=sentence(
                        'Slot {slot} is called "{text}" and carries {names}.',
                        slot=slot.slot,
                        text=text,
                        names=some(view.rig.sources[s].name for s in sorted(taken)),
                    ),
                )
                break


def _called(rig: Rig) -> dict[str, list[frozenset[str]]]:
    """What people call the sources and groups, with the sources meant."""
    found: dict[str, list[frozenset[str]]] = {}
    for one in rig.file.sources:
        for text in {one.name, one.label, one.id}:
            found.setdefault(text.casefold(), []).append(frozenset({one.id}))
    for group in rig.file.groups:
        for text in {group.name, group.id}:
            found.setdefault(text.casefold(), []).append(frozenset(group.sources))
    return found


RULES = (
    Rule(id="capacity.outputs", severity="stop", check=too_few_outputs, since="0.1"),
    Rule(id="capacity.no-spare", severity="advice", check=no_spare, since="0.1"),
    Rule(id="slot.pair-not-odd-even", severity="risk", check=slot_pair_not_odd_even, since="0.1"),
    Rule(id="slot.label-lies", severity="risk", check=slot_label_lies, since="0.1"),
)
