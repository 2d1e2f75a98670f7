"""The levels that somebody sets in a listener's mix: sends of a bus, or slots of a personal mixer.

What a mix is made of stays as the file has it; only levels, and pans that nobody wrote down, are
for a first mix to find.
"""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rigproof.mixes.relations import SIGNS
from rigproof.rig import Rig
from rigproof.rig.band import Family, Source
from rigproof.rig.plan import Mix, Slot
from rigproof.rig.ref import Numbers
from rigproof.rigfile.edit import Add, Edit, Set
from rigproof.rigfile.written import Plain
from rigproof.signal.build import bus_lanes, sends_by_source
from rigproof.signal.knobs import FADER_HIGH_DB, FADER_LOW_DB

# How finely sends are set, and how far they go. Common practice, no source.
STEP_DB = 0.5
LOW_DB, HIGH_DB = FADER_LOW_DB, FADER_HIGH_DB

# Common practice, no source: what carries time and bass stays in the middle, and so does what
# belongs to everybody; the rest is heard from where it stands, half-way out at most.
_MIDDLE: frozenset[Family] = frozenset({"drums", "bass", "playback", "click", "cue", "talk"})
_MOST_PAN = 0.5
_PAN_PER_M = 0.15


class Control(msgspec.Struct, frozen=True, kw_only=True):
    """One level of a mix. `stated_db`: as the file has it. `pan`: None where there is none."""

    key: str
    name: str
    sources: tuple[str, ...]
    slot: Numbers | None = None
    stated_db: float | None = None
    pan: float | None = None


class Draft(msgspec.Struct, frozen=True, kw_only=True):
    """A mix for somebody's ears, and its controls. `stated`: the file has an entry for it."""

    mix: Mix
    personal: bool
    stated: bool
    controls: tuple[Control, ...]
    ends: tuple[str, ...]  # the places where the mix comes together: its buses or sums


def drafts(stated: Rig, rig: Rig) -> tuple[Draft, ...]:
    """Every mix for ears or wedges of a completed rig, in its order.

    Of several mixes for the same person the first counts, as everywhere.
    """
    return tuple(_drafts(stated, rig))


def _drafts(stated: Rig, rig: Rig) -> Iterator[Draft]:
    known = {mix.id for mix in stated.file.mixes}
    served: set[str] = set()
    for mix in rig.file.mixes:
        gear = mix.on or (rig.mixer.id if rig.mixer else None)
        fresh = [who for who in mix.listeners if who not in served]
        if not fresh or gear is None or gear not in rig.gear:
            continue
        served.update(fresh)
        type_ = rig.type_of(gear)
        personal = type_.class_ == "personal-mixer"
        if personal:
            sums = next(type_.stages("sum"), None)
            lanes = bus_of(sums.id, sums.count) if sums is not None else ()
            controls = tuple(_slots(rig, mix))
        else:
            lanes = tuple(bus_lanes(type_, mix.bus, mix.bank)) if mix.bus or mix.bank else ()
            controls = tuple(_sends(rig, mix))
        yield Draft(
            mix=mix,
            personal=personal,
            stated=mix.id in known,
            controls=controls,
            ends=tuple(f"{gear}.{lane}" for lane in lanes),
        )


def bus_of(stage: str, count: int) -> tuple[str, ...]:
    """The lanes of a stage, as the graph names them."""
    return tuple(f"{stage}.{n}" for n in range(1, count + 1)) if count > 1 else (stage,)


def _sends(rig: Rig, mix: Mix) -> Iterator[Control]:
    stereo = mix.bus is not None and len(mix.bus) == 2
    for name, send in sends_by_source(rig, mix).items():
        source = rig.sources[name]
        pan = None
        if stereo and send.pan is not None:
            pan = float(send.pan)
        elif stereo and not source.stereo:
            pan = _pan(rig, mix, source)
        yield Control(
            key=name,
            name=source.name,
            sources=(name,),
            stated_db=None if send.level_db is None else float(send.level_db),
            pan=pan,
        )


def _slots(rig: Rig, mix: Mix) -> Iterator[Control]:
    gear = mix.on
    assert gear is not None
    slots = next(rig.type_of(gear).stages("slot"), None)
    most = slots.count if slots is not None else 0
    written = {str(send.slot): send for send in mix.sends if send.slot is not None}
    for slot in (slot for feed in rig.file.feeds for slot in feed.slots):
        if slot.slot.last > most:
            continue
        send = written.get(str(slot.slot))
        sources = tuple(dict.fromkeys(s for name in slot.takes for s in rig.members(name)))
        pan = None
        if len(slot.slot) == 1:
            alone = rig.sources[sources[0]] if len(sources) == 1 else None
            pan = _pan(rig, mix, alone) if alone is not None else 0.0
            pan = float(send.pan) if send is not None and send.pan is not None else pan
        yield Control(
            key=f"slot {slot.slot}",
            name=_slot_name(rig, slot, sources),
            sources=sources,
            slot=slot.slot,
            stated_db=float(send.level_db) if send and send.level_db is not None else None,
            pan=pan,
        )


def _slot_name(rig: Rig, slot: Slot, sources: Sequence[str]) -> str:
    return slot.name or " and ".join(rig.sources[source].name for source in sources)


def _pan(rig: Rig, mix: Mix, source: Source) -> float:
    """Where a mono source is heard from: its player's side, as the listener faces the audience."""
    listener = rig.people[mix.listeners[0]]
    player = rig.people.get(source.player) if source.player is not None else None
    place = source.at_m or (player.at_m if player is not None else None)
    if source.player in mix.listeners or source.family in _MIDDLE:
        return 0.0
    if place is None or listener.at_m is None:
        return 0.0
    # Stage left, where x grows, is at the left hand of whoever faces the audience.
    toward_right = (float(listener.at_m[0]) - float(place[0])) * _PAN_PER_M
    return round(min(_MOST_PAN, max(-_MOST_PAN, toward_right)), 1) + 0.0


def settable(draft: Draft, rig: Rig, levels_db: Mapping[str, float]) -> dict[str, float]:
    """Levels in steps and within reach, the highest of the music at 0 dB.

    What is no music goes as far over it as a send goes, and no further: a talkback that nobody
    spoke into must not push the band down.
    """
    signs = {
        control.key
        for control in draft.controls
        if all(rig.sources[source].family in SIGNS for source in control.sources)
    }
    music = [level for key, level in levels_db.items() if key not in signs]
    top = max(music or levels_db.values(), default=0.0)
    return {
        key: min(HIGH_DB, max(LOW_DB, round((level - top) / STEP_DB) * STEP_DB)) + 0.0
        for key, level in levels_db.items()
    }


# Putting levels into the file


def edits(draft: Draft, levels_db: Mapping[str, float]) -> tuple[Edit, ...]:
    """The change to the file that sets the controls of a mix; those without a level as stated."""
    sends: list[Plain] = [_entry(control, levels_db) for control in draft.controls]
    if not sends:
        return ()
    mix = draft.mix
    if draft.stated:
        return (Set(f"mixes/{mix.id}/sends", sends),)
    entry: dict[str, Plain] = {"id": mix.id}
    if mix.name:
        entry["name"] = mix.name
    entry["listeners"] = list(mix.listeners)
    entry["stereo"] = mix.stereo
    if mix.on is not None:
        entry["on"] = mix.on
    if mix.bus is not None and not draft.personal:
        entry["bus"] = _numbers(mix.bus)
    entry["sends"] = sends
    return (Add("mixes", entry),)


def _entry(control: Control, levels_db: Mapping[str, float]) -> Plain:
    entry: dict[str, Plain] = {}
    if control.slot is not None:
        entry["slot"] = _numbers(control.slot)
    else:
        entry["from"] = control.sources[0]
    level = levels_db.get(control.key, control.stated_db)
    if level is not None:
        entry["level_db"] = plain(level)
    if control.pan:
        entry["pan"] = plain(control.pan)
    return entry


def _numbers(numbers: Numbers) -> Plain:
    return numbers.first if len(numbers) == 1 else str(numbers)


def plain(value: float) -> float | int:
    """A figure as people write it: no tail of decimals, and no point where none is needed."""
    value = round(value, 1)
    return int(value) if value == int(value) else value
