"""The text of a first rig file: a form to fill in that already holds together."""

from collections.abc import Iterator

from rigproof.rigfile.beginning import (
    AMP_SOCKETS,
    SPLIT_LINES,
    Start,
    Wishes,
    begin,
    run_of,
    split_id,
)
from rigproof.rigfile.written import inline


def starter(wishes: Wishes, *, schema: str = "") -> str:
    """The text of a first rig file; `schema` is where an editor finds its schema.

    Raises:
        NoStart: no mixer of the library is large enough, or nobody plays.
    """
    start = begin(wishes)
    lines = [
        *([f"# yaml-language-server: $schema={schema}"] if schema else []),
        "# One description of your rig. Change what is wrong, add what is missing, then run",
        "#   rigproof check                     what will go wrong",
        "#   rigproof trace SOURCE LISTENER     where the sound goes",
        "# A plain figure counts as assumed; {value: 4.2, from: measured} says you measured it.",
        "format: 1",
        "rig:",
        "  name: Our rig",
        f"  band: {inline(start.wishes.band)}",
        '  version: "1"',
        "  figures: assumed",
        "  mixer: mixer",
        "",
        *_people(start),
        *_sources(start),
        *_gear(start),
        *_leads(start),
        *_patch(start),
        *_mixes(start),
        *_radio(start),
        *_venues(start),
        *_LATER,
    ]
    return "\n".join(lines) + "\n"


# The sections


def _people(start: Start) -> Iterator[str]:
    yield "# at_m: metres from the middle of the stage's front edge, to stage left and upstage."
    yield "people:"
    middle = (len(start.heads) - 1) / 2
    for head in start.heads:
        own = [source for source in start.sources if source.player == head.id]
        family = own[0].sound.family
        part = "other" if family == "playback" else family
        upstage = 2.5 if family in {"drums", "percussion"} else 1
        x = round((head.number - middle) * 1.5, 2)
        yield (
            f"  - {{id: {head.id}, name: {inline(head.player.name)}, "
            f"plays: {inline(head.player.plays)}, part: {part}, at_m: [{x:g}, {upstage:g}],"
        )
        yield f"     ears: {{plug: pack-{head.id}.phones, earphones: earphones-dual}}}}"
    yield ""


def _sources(start: Start) -> Iterator[str]:
    yield "# Everything that makes sound. mic and di name a type of the library or one of your own."
    yield "sources:"
    for source in start.sources:
        stereo = ", stereo: true" if source.sound.stereo else ""
        yield (
            f"  - {{id: {source.id}, name: {inline(source.sound.name)}, "
            f"family: {source.sound.family}, player: {source.player}{stereo}, "
            f"{source.sound.through}}}"
        )
    yield ""


def _gear(start: Start) -> Iterator[str]:
    yield "# place: case, stage, desk, person. Give a box in the case its unit when you know it."
    yield "# label: the short name that fits on a strip of tape."
    yield "gear:"
    for number, lines in enumerate(start.splits):
        label = f"Split {number + 1}" if len(start.splits) > 1 else "Split"
        kind = f"splitter-transformer-{lines}"
        yield f"  - {{id: {split_id(number)}, label: {label}, type: {kind}, place: case}}"
    yield f"  - {{id: mixer, name: Mixer, type: {start.mixer}, place: case}}"
    amps = range(len(start.wired[::AMP_SOCKETS]))
    for number in amps:
        label = f"Amp {number + 1}" if len(amps) > 1 else "Amp"
        kind = "headphone-amp-6-quiet"
        yield f"  - {{id: {_amp_id(number)}, label: {label}, type: {kind}, place: case}}"
    for head in start.wireless:
        name = inline(f"Transmitter {head.player.name}")
        yield (
            f"  - {{id: tx-{head.id}, name: {name}, label: Tx {head.number + 1}, "
            "type: transmitter-ears, place: case}"
        )
    for head in start.heads:
        kind = "pack-wireless" if head.player.wireless else "pack-wired-passive"
        name = inline(f"Pack {head.player.name}")
        yield (
            f"  - {{id: pack-{head.id}, name: {name}, label: Pack {head.number + 1}, "
            f"type: {kind}, place: person, with_person: {head.id}}}"
        )
    yield ""


def _amp_id(number: int) -> str:
    return f"amp-{number + 1}" if number else "amp"


def _leads(start: Start) -> Iterator[str]:
    yield "# The signal enters a lead at from. Lengths are guesses: measure them."
    yield "leads:"
    for number, lines in enumerate(start.splits):
        split, before = split_id(number), number * SPLIT_LINES
        own = min(lines, start.ins - before)
        yield (
            f"  - {{id: {split}-to-mixer, type: lead-xlr, from: {split}.direct.{run_of(1, own)}, "
            f"to: mixer.in.{run_of(before + 1, before + own)}, length_m: 1}}"
        )
    for place, head in enumerate(start.wired):
        amp, socket = _amp_id(place // AMP_SOCKETS), place % AMP_SOCKETS + 1
        yield (
            f"  - {{id: mix-to-{head.id}, type: y-xlr-2-jack-stereo, "
            f"from: mixer.out.{head.out}, to: {amp}.in.{socket}, length_m: 1}}"
        )
        yield (
            f"  - {{id: ears-{head.id}, type: lead-jack-stereo, from: {amp}.phones.{socket}, "
            f"to: pack-{head.id}.in, length_m: 5, plugged: every show}}"
        )
    for head in start.wireless:
        yield (
            f"  - {{id: mix-to-{head.id}, type: lead-xlr, from: mixer.out.{head.out}, "
            f"to: tx-{head.id}.in.1-2, length_m: 1}}"
        )
    for number, lines in enumerate(start.splits):
        for first in range(1, lines, 8):
            there = number * SPLIT_LINES + first
            yield (
                f"  - {{id: tail-{there // 8 + 1}, type: tails-xlr-8, "
                f"from: {split_id(number)}.iso.{run_of(first, first + 7)}, "
                f"to: house.{run_of(there, there + 7)}, length_m: 10, plugged: every show}}"
            )
    if start.wishes.house == "mixed":
        yield (
            f"  - {{id: to-house, type: lead-xlr, from: mixer.out.{_last_pair(start)}, "
            "to: house.1-2, length_m: 20, plugged: every show}"
        )
    yield ""


def _last_pair(start: Start) -> str:
    return run_of(start.outs - 1, start.outs)


def _patch(start: Start) -> Iterator[str]:
    yield "# One number all the way: socket 3 is channel 3. Numbers here never move by themselves."
    yield "patch:"
    for source in start.sources:
        yield (
            f"  - {{source: {source.id}, plug: {start.plug(source)}, channel: {source.channel}}}"
        )
    yield ""


def _mixes(start: Start) -> Iterator[str]:
    yield "# What each hears: themselves in front, the others behind. Levels are a first draft."
    yield "mixes:"
    for head in start.heads:
        yield f"  - id: mix-{head.id}"
        yield f"    name: {inline(head.player.name)}"
        yield f"    listeners: [{head.id}]"
        yield f"    stereo: {'true' if head.stereo else 'false'}"
        yield f"    bus: {head.bus}"
        yield f"    out: mixer.out.{head.out}"
        yield "    sends:"
        for source in start.sources:
            level = -3 if source.player == head.id else -10
            yield f"      - {{from: {source.id}, level_db: {level}}}"
    if start.wishes.house == "mixed":
        yield "  - id: house-mix"
        yield "    name: For the house"
        yield "    purpose: house"
        yield "    stereo: true"
        yield "    bank: main"
        yield "    bus: 1-2"
        yield f"    out: mixer.out.{_last_pair(start)}"
        yield "    sends:"
        for source in start.sources:
            yield f"      - {{from: {source.id}, level_db: -6}}"
    yield ""


def _radio(start: Start) -> Iterator[str]:
    if not start.wireless:
        return
    yield "# frequency_mhz: what the licence of the country allows; ask before each tour."
    yield "radio:"
    for head in start.wireless:
        yield (f"  - {{id: radio-{head.id}, from: tx-{head.id}.rf, to: pack-{head.id}.rf}}")
    yield ""


def _venues(start: Start) -> Iterator[str]:
    if start.wishes.house == "unknown":
        yield "# What does the house take: tails, a link, network, a finished mix, nothing?"
        yield "# venues:"
        yield "#   - {id: club, name: A club, desk: {takes: tails, lines: 16, distance_m: 10}}"
        yield ""
        return
    lines = sum(start.splits) or 2
    yield "# A house as you expect it; ask the real one, then correct it."
    yield "venues:"
    yield "  - id: club"
    yield "    name: A club"
    yield (
        f"    desk: {{takes: {start.wishes.house}, lines: {lines}, connector: xlr-f, "
        "phantom: unknown, distance_m: 10}"
    )
    yield ""


_LATER = (
    "# Still to come, when you know it:",
    "# case: {type: case-10-castors, patch_face: front}   (and unit: 1 ... at each box in it)",
    "# power: {volts_v: 230, frequency_hz: 50, circuit_a: 16, lead_m: 10}",
    "# shows: [{id: first-night, date: 2030-05-01, venue: club}]",
    "# spares: [{type: lead-xlr, count: 4, length_m: 10}]",
)
