"""A first rig file: a form to fill in that already holds together.

From who plays what and what the houses take, the plainest rig of the library: microphones and DI
boxes as the words suggest, one split where the houses take tails, one mixer, one mix a head.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rigproof.rig.band import FAMILY_ORDER, Family
from rigproof.rigfile.library import library_type
from rigproof.rigfile.written import inline

House = Literal["tails", "mixed", "unknown"]


@dataclass(frozen=True, slots=True)
class Player:
    """One person of the band, what they play and sing in their own words, and how they hear."""

    name: str
    plays: str
    wireless: bool = False


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is known at the start. No mixer named: the smallest that is large enough."""

    band: str
    players: tuple[Player, ...]
    inputs: int = 0  # at least so many; what the players bring counts anyhow
    house: House = "tails"
    mixer: str = ""


class NoStart(ValueError):
    """A rig that cannot be begun like this; says why and what to do."""

    def __init__(self, says: str, fix: str) -> None:
        super().__init__(says)
        self.says = says
        self.fix = fix


@dataclass(frozen=True, slots=True)
class _Sound:
    key: str
    name: str
    family: Family
    through: str  # "mic: TYPE" or "di: TYPE"
    stereo: bool = False
    phantom: bool = False


_VOICE = _Sound("voice", "voice", "voices", "mic: mic-vocal-dynamic")
_LEVEL = "connector: jack-ts-f, level_dbu"
# Words of an instrument -> what it is taken with. The first that fits wins, so "acoustic guitar"
# stands before "guitar". Common practice, no source.
_SOUNDS: tuple[tuple[tuple[str, ...], tuple[_Sound, ...]], ...] = (
    (
        ("drum", "kit"),
        (
            _Sound("kick", "Kick", "drums", "mic: mic-kick-dynamic"),
            _Sound("snare", "Snare", "drums", "mic: mic-instrument-dynamic"),
        ),
    ),
    (
        ("percussion", "conga", "cajon", "bongo"),
        (_Sound("percussion", "Percussion", "percussion", "mic: mic-instrument-dynamic"),),
    ),
    (("bass",), (_Sound("bass", "Bass", "bass", f"di: di-passive, {_LEVEL}: -10"),)),
    (
        ("acoustic", "ukulele", "mandolin", "banjo"),
        (_Sound("acoustic", "Acoustic guitar", "guitar", f"di: di-passive, {_LEVEL}: -10"),),
    ),
    (("guitar",), (_Sound("guitar", "Guitar", "guitar", "mic: mic-instrument-dynamic"),)),
    (
        ("key", "piano", "synth", "organ"),
        (_Sound("keys", "Keys", "keys", f"di: di-passive-stereo, {_LEVEL}: 0", stereo=True),),
    ),
    (
        ("accordion",),
        (_Sound("accordion", "Accordion", "keys", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("violin", "fiddle", "viola", "cello"),
        (_Sound("strings", "Strings", "strings", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("trumpet", "trombone", "horn", "tuba", "brass"),
        (_Sound("brass", "Brass", "brass", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("sax", "flute", "clarinet", "oboe", "whistle", "winds"),
        (_Sound("winds", "Winds", "winds", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("track", "laptop", "playback", "sampler", "electronics"),
        (_Sound("tracks", "Tracks", "playback", f"di: di-passive-stereo, {_LEVEL}: 4", True),),
    ),
)
_SINGS = re.compile(r"\b(?:voice|vocal|vox|sing|choir)")
_MIXERS = ("mixer-rack-12", "mixer-rack-16", "mixer-rack-24", "mixer-rack-32")
_AMP_SOCKETS = 6  # of the headphone amplifier
_SPLIT = 16  # lines of a large split; the small one has eight, as a tail has


@dataclass(frozen=True, slots=True)
class _Source:
    id: str
    player: str
    sound: _Sound
    first: int = 0  # its socket and channel

    @property
    def last(self) -> int:
        return self.first + self.sound.stereo

    @property
    def channel(self) -> str:
        return _run(self.first, self.last)


@dataclass(frozen=True, slots=True)
class _Head:
    """A player with their place in the rig."""

    id: str
    player: Player
    number: int  # from 0
    stereo: bool

    @property
    def bus(self) -> str:
        return self.out if self.stereo else str(self.number + 1)

    @property
    def out(self) -> str:
        """Two outputs a head: a mono mix goes to both ears too."""
        return _run(2 * self.number + 1, 2 * self.number + 2)


@dataclass(frozen=True, slots=True)
class _Start:
    wishes: Wishes
    heads: tuple[_Head, ...]
    sources: tuple[_Source, ...]
    mixer: str
    ins: int
    outs: int
    splits: tuple[int, ...]  # the lines of each

    def plug(self, source: _Source) -> str:
        """The socket of a source: on a split, or straight at the mixer."""
        if not self.splits:
            return f"mixer.in.{source.channel}"
        number, first = divmod(source.first - 1, _SPLIT)
        return f"{_split_id(number)}.in.{_run(first + 1, first + 1 + source.sound.stereo)}"

    @property
    def wired(self) -> tuple[_Head, ...]:
        return tuple(h for h in self.heads if not h.player.wireless)

    @property
    def wireless(self) -> tuple[_Head, ...]:
        return tuple(h for h in self.heads if h.player.wireless)


def starter(wishes: Wishes, *, schema: str = "") -> str:
    """The text of a first rig file; `schema` is where an editor finds its schema.

    Raises:
        NoStart: no mixer of the library is large enough, or nobody plays.
    """
    start = _start(wishes)
    lines = [
        *([f"# yaml-language-server: $schema={schema}"] if schema else []),
        "# One description of your rig. Change what is wrong, add what is missing, then run",
        "#   rigproof check                     what will go wrong",
        "#   rigproof trace SOURCE LISTENER     where the sound goes",
        "# A plain figure counts as assumed; {value: 4.2, from: measured} says that you measured it.",
        "format: 1",
        "rig:",
        "  name: Our rig",
        f"  band: {inline(wishes.band)}",
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


# What the wishes come to


def _start(wishes: Wishes) -> _Start:
    if not wishes.players:
        raise NoStart(
            "nobody plays in this band yet.", 'Name at least one: --player "Ana:bass and voice"'
        )
    ids = _ids(player.name for player in wishes.players)
    played = sorted(_played(wishes.players, ids), key=lambda s: FAMILY_ORDER.index(s.sound.family))
    sources = tuple(_numbered(played))
    brought = max(source.last for source in sources)
    heads = len(ids)
    mixer = wishes.mixer or _mixer(max(brought, wishes.inputs), heads, wishes.house)
    ins, outs, buses = _abilities(mixer)
    if ins < brought or not _room(mixer, 0, heads, wishes.house):
        raise NoStart(
            f"{mixer} has {ins} inputs and {outs} outputs; this band brings {brought} inputs and "
            f"{heads} pairs of ears.",
            "Name a larger mixer, or leave --mixer out.",
        )
    named = enumerate(zip(ids, wishes.players, strict=True))
    return _Start(
        wishes,
        tuple(_Head(who, player, n, 2 * heads <= buses) for n, (who, player) in named),
        sources,
        mixer,
        ins,
        outs,
        _splits(brought) if wishes.house == "tails" else (),
    )


def _ids(names: Iterable[str]) -> tuple[str, ...]:
    """A short word for each name; a number where two would be alike."""
    found: list[str] = []
    for name in names:
        plain = unicodedata.normalize("NFKD", name.lower()).encode("ascii", "ignore").decode()
        word = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:24].strip("-") or "player"
        number, unique = 2, word
        while unique in found:
            unique, number = f"{word}-{number}", number + 1
        found.append(unique)
    return tuple(found)


def _played(players: Sequence[Player], ids: Sequence[str]) -> Iterator[_Source]:
    """The sources of everybody, in file order of the players."""
    taken: set[str] = set()
    for player, who in zip(players, ids, strict=True):
        for sound in _sounds(player.plays):
            if sound is _VOICE:
                named = replace(sound, name=f"{player.name} voice")
                yield _Source(f"{who}-voice", who, named)
            elif sound.key in taken:
                named = replace(sound, name=f"{player.name} {sound.name.lower()}")
                yield _Source(f"{who}-{sound.key}", who, named)
            else:
                taken.add(sound.key)
                yield _Source(sound.key, who, sound)


def _sounds(plays: str) -> list[_Sound]:
    """What the words of a player mean; words that mean nothing here get one microphone."""
    words = plays.lower()
    found: list[_Sound] = []
    for keys, sounds in _SOUNDS:
        if any(key in words for key in keys) and not (
            sounds[0].key == "guitar" and re.search(r"(?:acoustic|bass)[ -]guitar", words)
        ):
            found += sounds
    if _SINGS.search(words):
        found.append(_VOICE)
    name = plays.strip()[:60] or "Microphone"
    return found or [_Sound(_ids([name])[0], name, "other", "mic: mic-instrument-dynamic")]


def _numbered(sources: Sequence[_Source]) -> Iterator[_Source]:
    """Sockets and channels in a row, pairs on odd and even: 7-8, never 6-7."""
    free = 1
    for source in sources:
        first = free + (source.sound.stereo and free % 2 == 0)
        yield replace(source, first=first)
        free = first + 1 + source.sound.stereo


def _abilities(mixer: str) -> tuple[int, int, int]:
    """Inputs, outputs and buses of a mixer of the library."""
    type_ = library_type(mixer)
    ports = {port.id: port.count for port in type_.ports}
    bus = next((stage.count for stage in type_.stages("bus")), 0)
    return ports.get("in", 0), ports.get("out", 0), bus


def _room(mixer: str, inputs: int, heads: int, house: House) -> bool:
    ins, outs, buses = _abilities(mixer)
    # A house that takes a mix of ours gets the last two outputs.
    return ins >= inputs and outs - 2 * (house == "mixed") >= 2 * heads and buses >= heads


def _mixer(inputs: int, heads: int, house: House) -> str:
    """The smallest with room for all; of those, the smallest with a stereo mix for each."""
    able = [mixer for mixer in _MIXERS if _room(mixer, inputs, heads, house)]
    if not able:
        raise NoStart(
            f"{inputs} inputs and {heads} pairs of ears are more than one mixer of this form has.",
            "A rig of that size wants stage boxes or personal mixers: begin from the demo, which "
            "has them (rigproof demo), or begin with fewer and add.",
        )
    return next((m for m in able if _abilities(m)[2] >= 2 * heads), able[0])


def _splits(lines: int) -> tuple[int, ...]:
    whole, rest = divmod(lines, _SPLIT)
    return (_SPLIT,) * whole + ((8 if rest <= 8 else _SPLIT,) if rest else ())


def _split_id(number: int) -> str:
    return f"split-{number + 1}" if number else "split"


def _run(first: int, last: int) -> str:
    return f"{first}-{last}" if last > first else str(first)


# The sections


def _people(start: _Start) -> Iterator[str]:
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


def _sources(start: _Start) -> Iterator[str]:
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


def _gear(start: _Start) -> Iterator[str]:
    yield "# place: case, stage, desk, person. Give a box in the case its unit when you know it."
    yield "gear:"
    for number, lines in enumerate(start.splits):
        yield f"  - {{id: {_split_id(number)}, type: splitter-transformer-{lines}, place: case}}"
    yield f"  - {{id: mixer, name: Mixer, type: {start.mixer}, place: case}}"
    for number, _ in enumerate(start.wired[::_AMP_SOCKETS]):
        yield f"  - {{id: {_amp_id(number)}, type: headphone-amp-6-quiet, place: case}}"
    for head in start.wireless:
        yield f"  - {{id: tx-{head.id}, type: transmitter-ears, place: case}}"
    for head in start.heads:
        kind = "pack-wireless" if head.player.wireless else "pack-wired-passive"
        yield f"  - {{id: pack-{head.id}, type: {kind}, place: person, with_person: {head.id}}}"
    yield ""


def _amp_id(number: int) -> str:
    return f"amp-{number + 1}" if number else "amp"


def _leads(start: _Start) -> Iterator[str]:
    yield "# The signal enters a lead at from. Lengths are guesses: measure them."
    yield "leads:"
    for number, lines in enumerate(start.splits):
        split, before = _split_id(number), number * _SPLIT
        own = min(lines, start.ins - before)
        yield (
            f"  - {{id: {split}-to-mixer, type: lead-xlr, from: {split}.direct.{_run(1, own)}, "
            f"to: mixer.in.{_run(before + 1, before + own)}, length_m: 1}}"
        )
    for place, head in enumerate(start.wired):
        amp, socket = _amp_id(place // _AMP_SOCKETS), place % _AMP_SOCKETS + 1
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
            there = number * _SPLIT + first
            yield (
                f"  - {{id: tail-{there // 8 + 1}, type: tails-xlr-8, "
                f"from: {_split_id(number)}.iso.{_run(first, first + 7)}, "
                f"to: house.{_run(there, there + 7)}, length_m: 10, plugged: every show}}"
            )
    if start.wishes.house == "mixed":
        yield (
            f"  - {{id: to-house, type: lead-xlr, from: mixer.out.{_last_pair(start)}, "
            "to: house.1-2, length_m: 20, plugged: every show}"
        )
    yield ""


def _last_pair(start: _Start) -> str:
    return _run(start.outs - 1, start.outs)


def _patch(start: _Start) -> Iterator[str]:
    yield "# One number all the way: socket 3 is channel 3. Numbers here never move by themselves."
    yield "patch:"
    for source in start.sources:
        yield (
            f"  - {{source: {source.id}, plug: {start.plug(source)}, channel: {source.channel}}}"
        )
    yield ""


def _mixes(start: _Start) -> Iterator[str]:
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


def _radio(start: _Start) -> Iterator[str]:
    if not start.wireless:
        return
    yield "# frequency_mhz: what the licence of the country allows; ask before each tour."
    yield "radio:"
    for head in start.wireless:
        yield (f"  - {{id: radio-{head.id}, from: tx-{head.id}.rf, to: pack-{head.id}.rf}}")
    yield ""


def _venues(start: _Start) -> Iterator[str]:
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
