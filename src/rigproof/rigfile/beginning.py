"""What a first rig needs, from who plays what and what the houses take.

The plainest rig of the library: microphones and DI boxes as the words suggest, one split where the
houses take tails, one mixer with a mix a head.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

import msgspec

from rigproof.rig.band import FAMILY_ORDER, Family
from rigproof.rigfile.library import library_type
from rigproof.rigfile.written import inline

House = Literal["tails", "mixed", "unknown"]


class Player(msgspec.Struct, frozen=True):
    """One person of the band, what they play and sing in their own words, and how they hear."""

    name: str
    plays: str
    wireless: bool = False


class Wishes(msgspec.Struct, frozen=True):
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


class Sound(msgspec.Struct, frozen=True):
    """One source as the words of a player suggest it."""

    key: str
    name: str
    family: Family
    through: str  # "mic: TYPE" or "di: TYPE"
    stereo: bool = False


_VOICE = Sound("voice", "voice", "voices", "mic: mic-vocal-dynamic")
_LEVEL = "connector: jack-ts-f, level_dbu"
# How the words for an instrument begin -> what it is taken with. Common practice, no source.
_SOUNDS: tuple[tuple[tuple[str, ...], tuple[Sound, ...]], ...] = (
    (
        ("drum", "kit"),
        (
            Sound("kick", "Kick", "drums", "mic: mic-kick-dynamic"),
            Sound("snare", "Snare", "drums", "mic: mic-instrument-dynamic"),
        ),
    ),
    (
        ("percussion", "conga", "cajon", "bongo"),
        (Sound("percussion", "Percussion", "percussion", "mic: mic-instrument-dynamic"),),
    ),
    (("bass(?!oon)",), (Sound("bass", "Bass", "bass", f"di: di-passive, {_LEVEL}: -10"),)),
    (
        ("acoustic", "ukulele", "mandolin", "banjo"),
        (Sound("acoustic", "Acoustic guitar", "guitar", f"di: di-passive, {_LEVEL}: -10"),),
    ),
    (("guitar",), (Sound("guitar", "Guitar", "guitar", "mic: mic-instrument-dynamic"),)),
    (
        ("key", "piano", "synth", "organ"),
        (Sound("keys", "Keys", "keys", f"di: di-passive-stereo, {_LEVEL}: 0", stereo=True),),
    ),
    (
        ("accordion",),
        (Sound("accordion", "Accordion", "keys", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("violin", "fiddle", "viola", "cello"),
        (Sound("strings", "Strings", "strings", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("trumpet", "trombone", "horn", "tuba", "brass"),
        (Sound("brass", "Brass", "brass", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("sax", "bassoon", "flute", "clarinet", "oboe", "whistle", "winds"),
        (Sound("winds", "Winds", "winds", "mic: mic-instrument-dynamic"),),
    ),
    (
        ("electronic", "sampler", "modular", "groovebox"),
        (
            Sound(
                "electronics",
                "Electronics",
                "electronics",
                f"di: di-passive-stereo, {_LEVEL}: 4",
                True,
            ),
        ),
    ),
    (
        ("track", "laptop", "playback"),
        (Sound("tracks", "Tracks", "playback", f"di: di-passive-stereo, {_LEVEL}: 4", True),),
    ),
)
_SINGS = re.compile(
    r"\b(?:voice|vocal|vox|sing|choir|narrat|speak|spoken|rapp?\b|rapper|reader|reciter|poet|actor)"
)
_MIXERS = ("mixer-rack-12", "mixer-rack-16", "mixer-rack-24", "mixer-rack-32")
AMP_SOCKETS = 6  # of the headphone amplifier
SPLIT_LINES = 16  # lines of a large split; the small one has eight, as a tail has


class Brought(msgspec.Struct, frozen=True):
    id: str
    player: str
    sound: Sound
    first: int = 0  # its socket and channel

    @property
    def last(self) -> int:
        return self.first + self.sound.stereo

    @property
    def channel(self) -> str:
        return run_of(self.first, self.last)


class Head(msgspec.Struct, frozen=True):
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
        return run_of(2 * self.number + 1, 2 * self.number + 2)


class Start(msgspec.Struct, frozen=True):
    wishes: Wishes
    heads: tuple[Head, ...]
    sources: tuple[Brought, ...]
    mixer: str
    ins: int
    outs: int
    splits: tuple[int, ...]  # the lines of each

    def plug(self, source: Brought) -> str:
        """The socket of a source: on a split, or straight at the mixer."""
        if not self.splits:
            return f"mixer.in.{source.channel}"
        number, first = divmod(source.first - 1, SPLIT_LINES)
        return f"{split_id(number)}.in.{run_of(first + 1, first + 1 + source.sound.stereo)}"

    @property
    def wired(self) -> tuple[Head, ...]:
        return tuple(h for h in self.heads if not h.player.wireless)

    @property
    def wireless(self) -> tuple[Head, ...]:
        return tuple(h for h in self.heads if h.player.wireless)


# What the wishes come to


def _printable(text: str) -> str:
    """A text on one line, without the characters that no rig file may hold."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def begin(wishes: Wishes) -> Start:
    """The rig that serves these wishes.

    Raises:
        NoStart: no mixer of the library is large enough, or nobody plays.
    """
    wishes = msgspec.structs.replace(
        wishes,
        band=_printable(wishes.band),
        players=tuple(
            msgspec.structs.replace(
                player, name=_printable(player.name), plays=_printable(player.plays)
            )
            for player in wishes.players
        ),
    )
    if not wishes.players:
        raise NoStart(
            "nobody plays in this band yet.", 'Name at least one: --player "Ana:bass and voice"'
        )
    ids = short_words(player.name for player in wishes.players)
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
    return Start(
        wishes,
        tuple(Head(who, player, n, 2 * heads <= buses) for n, (who, player) in named),
        sources,
        mixer,
        ins,
        outs,
        _splits(max(brought, min(wishes.inputs, ins))) if wishes.house == "tails" else (),
    )


def short_words(names: Iterable[str], taken: Iterable[str] = ()) -> tuple[str, ...]:
    """A short word for each name, unlike those taken; a number where two would be alike."""
    found: list[str] = []
    used = set(taken)
    counts: dict[str, int] = {}  # where to go on counting, so that a thousand alike take no age
    for name in names:
        plain = unicodedata.normalize("NFKD", name.lower()).encode("ascii", "ignore").decode()
        word = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:24].strip("-") or "player"
        if inline(word) != word or word[0].isdigit():  # YAML would read 0 or true, not a name
            word = f"p-{word}"
        number, unique = counts.get(word, 2), word
        while unique in used:
            unique, number = f"{word}-{number}", number + 1
        counts[word] = number
        used.add(unique)
        found.append(unique)
    return tuple(found)


def _played(players: Sequence[Player], ids: Sequence[str]) -> Iterator[Brought]:
    """The sources of everybody, in file order of the players."""
    taken: set[str] = set()
    for player, who in zip(players, ids, strict=True):
        for sound in _sounds(player.plays):
            if sound is _VOICE:
                named = msgspec.structs.replace(sound, name=f"{player.name} voice")
                yield Brought(f"{who}-voice", who, named)
            elif sound.key in taken:
                named = msgspec.structs.replace(sound, name=f"{player.name} {sound.name.lower()}")
                yield Brought(f"{who}-{sound.key}", who, named)
            else:
                taken.add(sound.key)
                yield Brought(sound.key, who, sound)


def _sounds(plays: str) -> list[Sound]:
    """What the words of a player mean; words that mean nothing here get one microphone."""
    # An acoustic guitar and a bass guitar are no (electric) guitar.
    words = re.sub(r"\b(acoustic|bass)[ -]guitars?\b", r"\1", plays.lower())
    found: list[Sound] = []
    for keys, sounds in _SOUNDS:
        if any(re.search(rf"\b{key}", words) for key in keys):
            found += sounds
    if _SINGS.search(words):
        found.append(_VOICE)
    name = plays.strip()[:60] or "microphone"
    return found or [
        Sound(
            short_words([name])[0],
            name[:1].upper() + name[1:],
            "other",
            "mic: mic-instrument-dynamic",
        )
    ]


def _numbered(sources: Sequence[Brought]) -> Iterator[Brought]:
    """Sockets and channels in a row, pairs on odd and even: 7-8, never 6-7."""
    free = 1
    for source in sources:
        first = free + (source.sound.stereo and free % 2 == 0)
        yield msgspec.structs.replace(source, first=first)
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
    whole, rest = divmod(lines, SPLIT_LINES)
    return (SPLIT_LINES,) * whole + ((8 if rest <= 8 else SPLIT_LINES,) if rest else ())


def split_id(number: int) -> str:
    """What the split of this number, from 0, is called."""
    return f"split-{number + 1}" if number else "split"


def run_of(first: int, last: int) -> str:
    """A run of sockets or channels as a rig file writes it."""
    return f"{first}-{last}" if last > first else str(first)
