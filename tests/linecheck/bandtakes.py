"""Recordings of an invented band, with faults that are known because we made them.

The music is synthesised, or laid from recorded sounds of a Debian package; bleed, noise and every
fault are ours. A seed decides tempo, notes, levels, bleed and noise.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, resample_poly, sosfilt

RATE = 48_000
Sound = NDArray[np.float64]

LIST = """\
number,name,pair,family
1,Kick,,drums
2,Snare,,drums
3,Hi-hat,,drums
4,Floor tom,,drums
5,Overhead left,6,drums
6,Overhead right,5,drums
7,Bass,,bass
8,Guitar,,guitar
9,Keys left,10,keys
10,Keys right,9,keys
11,Lead voice,,voices
12,Second voice,,voices
13,Tracks left,14,playback
14,Tracks right,13,playback
15,Click,,click
16,Fiddle,,strings
17,Room left,18,ambience
18,Room right,17,ambience
"""
CHANNELS = 18
NAMES = {int(line.split(",")[0]): line.split(",")[1] for line in LIST.splitlines()[1:]}
KITS = Path("/usr/share/hydrogen/data/drumkits")
LOOPS = Path("/usr/share/sonic-pi/samples")
SPOKEN = Path("/usr/share/sounds/alsa")


@dataclass
class Band:
    """One recording before anything is wrong with it: channels by frames."""

    sound: Sound
    seed: int
    notes: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Stage:
    """How one stage and its music differ from another; as it stands, what limits were tuned on.

    `bleed_db`: on top of what microphones hear of one another. `far`: times the distances.
    `low_db`: how much lower all is recorded. `beats`: a minute, at least and at most. `higher`:
    semitones. `samples`: by place, how the names of the recorded sounds laid there begin.
    """

    bleed_db: float = 0.0
    far: float = 1.0
    noise_db: float = 0.0
    low_db: float = 0.0
    beats: tuple[float, float] = (84, 150)
    higher: int = 0
    samples: tuple[tuple[int, tuple[str, ...], float], ...] = (
        (6, ("bass_",), 0.4),
        (7, ("guit_",), 0.4),
        (3, ("tabla_",), 0.4),
    )


TUNED = Stage()


def _band(sound: Sound, low_hz: float, high_hz: float) -> Sound:
    filtered: Sound = sosfilt(
        butter(2, (low_hz, high_hz), "bandpass", fs=RATE, output="sos"), sound
    )
    return filtered


def _decay(length: int, half_s: float) -> Sound:
    return 0.5 ** (np.arange(length) / RATE / half_s)


class _Kit:
    """Single strokes; synthesised, or recorded ones by their names."""

    def __init__(self, dice: np.random.Generator, kit: Path | None) -> None:
        self.dice = dice
        self.recorded: dict[str, list[Sound]] = {}
        if kit is not None:
            for word, like in (
                ("kick", ("kick", "bass", "bd")),
                ("snare", ("snare", "sd")),
                ("hat", ("hat", "hh")),
                ("tom", ("tom",)),
            ):
                files = sorted(
                    path
                    for path in kit.iterdir()
                    if path.suffix.lower() in (".flac", ".wav")
                    and any(one in path.stem.lower() for one in like)
                )
                self.recorded[word] = [_loaded(path) for path in files[:6]]

    def stroke(self, word: str) -> Sound:
        found = self.recorded.setdefault(word, [])
        if not found:
            found.extend(self._made(word) for _ in range(4))
        return found[int(self.dice.integers(len(found)))]

    def _made(self, word: str) -> Sound:
        t = np.arange(int(RATE * 0.6)) / RATE
        noise = self.dice.standard_normal(len(t))
        attack = np.minimum(1, t / 0.0008) * np.minimum(1, (0.6 - t) / 0.05)
        if word == "kick":
            sweep = np.cumsum(50 + 90 * np.exp(-t / 0.03)) / RATE
            return attack * (
                np.sin(2 * np.pi * sweep) * _decay(len(t), 0.08)
                + 0.1 * _band(noise, 1500, 6000) * _decay(len(t), 0.006)
            )
        if word == "tom":
            sweep = np.cumsum(90 + 40 * np.exp(-t / 0.05)) / RATE
            return attack * (
                np.sin(2 * np.pi * sweep) * _decay(len(t), 0.13)
                + 0.08 * _band(noise, 800, 5000) * _decay(len(t), 0.01)
            )
        if word == "snare":
            return attack * (
                0.6 * np.sin(2 * np.pi * 190 * t) * _decay(len(t), 0.04)
                + 0.6 * _band(noise, 400, 9000) * _decay(len(t), 0.05)
            )
        return attack * 0.5 * _band(noise, 5000, 16_000) * _decay(len(t), 0.04)


def _loaded(path: Path) -> Sound:
    sound, rate_hz = soundfile.read(path, always_2d=True)
    mono: Sound = sound.mean(axis=1)[: rate_hz * 12]
    if rate_hz != RATE:
        common = np.gcd(rate_hz, RATE)
        mono = resample_poly(mono, RATE // common, rate_hz // common)
    # Samples are trimmed to the attack and cut at the end; a microphone hears neither edge.
    edge, end = RATE // 2000, min(RATE // 50, len(mono) // 2)
    mono[:edge] *= np.linspace(0, 1, edge)
    mono[-end:] *= np.linspace(1, 0, end)
    return mono / max(1e-9, float(np.abs(mono).max()))


def kits() -> list[Path]:
    """Recorded drum kits; those that are electronic, distorted or cut from records are left out."""
    left_out = {"HardElectro1", "VariBreaks", "Gimme A Hand 1.0", "circAfrique v4"}
    if not KITS.exists():
        return []
    return sorted(path for path in KITS.iterdir() if path.is_dir() and path.name not in left_out)


def band(
    seed: int,
    *,
    length_s: float = 30.0,
    kit: Path | None = None,
    loops: Path | None = None,
    stage: Stage = TUNED,
) -> Band:
    """A healthy recording: bleed, spaced microphones, uneven playing, ordinary noise."""
    dice = np.random.default_rng(seed)
    size = int(length_s * RATE)
    beat = int(RATE * 60 / dice.uniform(*stage.beats))
    own = np.zeros((CHANNELS, size))
    drums = _Kit(dice, kit)

    def lay(into: Sound, at: int, sound: Sound, level: float) -> None:
        end = min(size, at + len(sound))
        if at < size:
            into[at:end] += level * sound[: end - at]

    starts = np.arange(int(RATE * dice.uniform(0.5, 2)), size, beat // 2)
    for place, start in enumerate(starts):
        at = int(start + dice.normal(0, 0.004 * RATE))
        hard = float(dice.uniform(0.35, 1))
        if at < 0:
            continue
        if place % 4 == 0 or dice.random() < 0.1:
            lay(own[0], at, drums.stroke("kick"), 0.5 * hard)
        if place % 4 == 2:
            lay(own[1], at, drums.stroke("snare"), 0.45 * hard)
        if dice.random() < 0.8:
            lay(own[2], at, drums.stroke("hat"), 0.3 * hard)
        if place % 16 >= 13:
            lay(own[3], at, drums.stroke("tom"), 0.5 * hard)
        if dice.random() < 0.7:
            lay(own[6], at, _pluck(_note(dice, 33, 50, stage), 0.4, 900), 0.4 * hard)
        if place % 2 == 0 and dice.random() < 0.9:
            lay(own[14], at, _click(), 0.25)
    _sustained(own, dice, beat, lay, stage)
    if loops is not None:
        _loops(own, dice, loops, lay, stage)
    return Band(_bled(own, dice, stage), seed, {"beat_s": beat / RATE})


def _note(dice: np.random.Generator, low: int, high: int, stage: Stage) -> float:
    return float(440 * 2 ** ((int(dice.integers(low, high)) + stage.higher - 69) / 12))


@cache
def _pluck(pitch_hz: float, half_s: float, dull_hz: float) -> Sound:
    t = np.arange(int(RATE * 3 * half_s)) / RATE
    sound = np.zeros(len(t))
    for partial in range(1, 30):
        if partial * pitch_hz > 9000:
            break
        strength = 1 / partial / (1 + (partial * pitch_hz / dull_hz) ** 2) ** 0.5
        sound += strength * np.sin(2 * np.pi * partial * pitch_hz * t + partial**2)
    sound *= np.minimum(1, t / 0.003) * _decay(len(t), half_s)
    sound[-200:] *= np.linspace(1, 0, 200)
    return sound / max(1e-9, float(np.abs(sound).max()))


def _click() -> Sound:
    t = np.arange(int(RATE * 0.03)) / RATE
    return np.sin(2 * np.pi * 1200 * t) * np.hanning(len(t))


def _sung(dice: np.random.Generator, pitch_hz: float, length_s: float) -> Sound:
    t = np.arange(int(RATE * length_s)) / RATE
    vibrato = pitch_hz * (1 + 0.01 * np.sin(2 * np.pi * dice.uniform(4.5, 6) * t))
    phase = 2 * np.pi * np.cumsum(vibrato) / RATE
    raw: Sound = np.sum([np.sin(n * phase) / n for n in range(1, 24)], axis=0)
    formants = (dice.uniform(400, 800), dice.uniform(1000, 1800), dice.uniform(2400, 3200))
    voiced = [_band(raw, f * 0.85, f * 1.15) / (n + 1) for n, f in enumerate(formants)]
    sound: Sound = np.sum(voiced, axis=0)
    sound += (
        0.15 * _band(dice.standard_normal(len(t)), 3000, 10_000) * np.minimum(1, np.exp(-t / 0.05))
    )
    edge = int(0.04 * RATE)
    sound[:edge] *= np.linspace(0, 1, edge) ** 2
    sound[-edge:] *= np.linspace(1, 0, edge)
    return sound / max(1e-9, float(np.abs(sound).max()))


Lay = Callable[[Sound, int, Sound, float], None]


def _sustained(own: Sound, dice: np.random.Generator, beat: int, lay: Lay, stage: Stage) -> None:
    """Guitar, keys, voices, fiddle and tracks."""
    size = own.shape[1]
    at = beat * 4
    while at < size:
        chord = [_note(dice, 48, 72, stage) for _ in range(3)]
        for pitch in chord:
            lay(own[7], at + int(dice.integers(0, 900)), _pluck(pitch, 0.5, 2500), 0.15)
            pad = _pluck(pitch, 0.9, 3500)
            left = float(dice.uniform(0.2, 0.8))
            lay(own[8], at, pad, 0.2 * left)
            lay(own[9], at, pad, 0.2 * (1 - left))
            track = _pluck(2 * pitch, 0.6, 5000)
            pan = float(dice.uniform(0.3, 0.7))
            lay(own[12], at, track, 0.2 * pan)
            lay(own[13], at, track, 0.2 * (1 - pan))
        if dice.random() < 0.75:
            lay(own[10], at, _sung(dice, _note(dice, 52, 66, stage), dice.uniform(0.4, 1.6)), 0.35)
        if dice.random() < 0.5:
            lay(own[11], at, _sung(dice, _note(dice, 57, 70, stage), dice.uniform(0.4, 1.4)), 0.3)
        if dice.random() < 0.6:
            lay(own[15], at, _sung(dice, _note(dice, 67, 84, stage), dice.uniform(0.3, 1.2)), 0.3)
        at += 2 * beat


def _loops(own: Sound, dice: np.random.Generator, loops: Path, lay: Lay, stage: Stage) -> None:
    """Recorded guitar, bass, tabla and spoken words in place of what was synthesised."""
    for place, words, level in stage.samples:
        files = [path for path in sorted(loops.glob("*.flac")) if path.stem.startswith(words)]
        if not files:
            continue
        own[place] = 0
        at = RATE
        while at < own.shape[1]:
            sound = _loaded(files[int(dice.integers(len(files)))])
            lay(own[place], at, sound, level * float(dice.uniform(0.4, 1)))
            at += len(sound) + int(RATE * dice.uniform(0.1, 1))
    spoken = sorted(SPOKEN.glob("*.wav")) if SPOKEN.exists() else []
    if spoken:
        own[10] = 0
        at = RATE
        while at < own.shape[1]:
            lay(own[10], at, _loaded(spoken[int(dice.integers(len(spoken)))]), 0.35)
            at += int(RATE * dice.uniform(1.0, 2.5))


_LINES = frozenset({6, 8, 9, 12, 13, 14})  # no air between source and channel


def _bled(own: Sound, dice: np.random.Generator, stage: Stage) -> Sound:
    """What the microphones hear of one another, overheads of the kit, and each its own noise."""
    heard = own.copy()
    size = own.shape[1]
    loud = [0, 1, 2, 3, 7, 10, 11, 15]
    for to in range(CHANNELS):
        if to in _LINES:
            continue
        for source in loud:
            if source == to or to in (4, 5, 16, 17):
                continue
            near = to < 4 and source < 4
            metres = stage.far * (dice.uniform(0.3, 0.9) if near else dice.uniform(1.2, 5))
            under_db = (dice.uniform(14, 24) if near else dice.uniform(24, 40)) - stage.bleed_db
            level = 10 ** (-under_db / 20)
            _add(heard[to], own[source], level, metres, dice.uniform(3000, 9000))
    stands = {source: float(dice.uniform(0.25, 0.75)) for source in loud} | {2: 0.72, 3: 0.28}
    for source in (0, 1, 2, 3):
        for to, share in ((4, stands[source]), (5, 1 - stands[source])):
            _add(heard[to], own[source], 0.9 * share, 0.8 + 0.5 * (1 - share), 14_000)
    for source in loud:
        for to, share in ((16, stands[source]), (17, 1 - stands[source])):
            _add(heard[to], own[source], 0.3 * share, 5 + 2 * (1 - share), 8_000)
    for to in range(CHANNELS):
        level_dbfs = dice.uniform(-100, -90) if to in _LINES else dice.uniform(-92, -82)
        level_dbfs += stage.noise_db
        heard[to] += dice.standard_normal(size) * 10 ** (level_dbfs / 20) / 2**0.5
        heard[to] *= 10 ** (float(dice.uniform(-4, 2)) / 20) if to not in (5, 9, 13, 17) else 1.0
    top = np.abs(heard).max(axis=1)
    over = np.where(top > 0.6, 0.6 / np.maximum(top, 1e-9), 1.0)
    for left_, right in ((4, 5), (8, 9), (12, 13), (16, 17)):
        over[left_] = over[right] = min(over[left_], over[right])
    return heard * over[:, None] * 10 ** (-stage.low_db / 20)


def _add(into: Sound, source: Sound, level: float, metres: float, dull_hz: float) -> None:
    late = int(metres / 343 * RATE)
    one = 1 - np.exp(-2 * np.pi * dull_hz / RATE)
    far = lfilter([one], [1, one - 1], source[: len(source) - late])
    into[late:] += level * far


# ---- faults ------------------------------------------------------------------------------------

Fault = Callable[[Band, int, np.random.Generator], tuple[float, ...]]


def _busy(
    sound: Sound, dice: np.random.Generator, count: int, *, margin_s: float = 0.5
) -> list[int]:
    """Places where a channel plays."""
    step = RATE // 20
    level = np.sqrt(np.square(sound[: len(sound) // step * step].reshape(-1, step)).mean(axis=1))
    edge = int(margin_s * 20)
    usable = np.flatnonzero(level > np.quantile(level, 0.8))
    usable = usable[(usable > edge) & (usable < len(level) - edge)]
    picked = np.sort(dice.choice(usable, size=min(count, len(usable)), replace=False))
    return [int(one * step + dice.integers(step)) for one in picked]


def silent(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] = 0
    return ()


def dead(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] = dice.standard_normal(take.sound.shape[1]) * 10 ** (dice.uniform(-90, -72) / 20)
    return ()


def intermittent(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    places = _busy(take.sound[at], dice, 6)
    for place in places:
        length = int(RATE * dice.uniform(0.03, 0.6))
        take.sound[at, place : place + length] *= 10 ** (-dice.uniform(55, 80) / 20)
    return tuple(place / RATE for place in places)


def low(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    peak = float(np.abs(take.sound[at]).max())
    take.sound[at] *= 10 ** (dice.uniform(-52, -40) / 20) / peak
    take.sound[at] += dice.standard_normal(take.sound.shape[1]) * 10 ** (-95 / 20)
    return ()


def hot(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] *= 10 ** (-dice.uniform(0.15, 0.5) / 20) / np.abs(take.sound[at]).max()
    return ()


def clipped(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    sound = take.sound[at] / np.abs(take.sound[at]).max() * 10 ** (dice.uniform(3, 9) / 20)
    take.sound[at] = np.clip(sound, -1, 1)
    return tuple((np.flatnonzero(np.abs(sound) > 1) / RATE)[:1].tolist())


def clipped_before(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """At a preamp, some way under the recorder's full scale."""
    sound = take.sound[at] / np.abs(take.sound[at]).max() * 10 ** (dice.uniform(4, 9) / 20)
    take.sound[at] = np.clip(sound, -1, 1) * 10 ** (-dice.uniform(4, 12) / 20)
    take.sound[at] += dice.standard_normal(take.sound.shape[1]) * 10 ** (-98 / 20)
    return ()


def offset(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] += dice.choice((-1, 1)) * dice.uniform(0.006, 0.05)
    return ()


def click(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """Missing samples on one channel."""
    places = _busy(take.sound[at], dice, 4)
    for place in places:
        lost = int(dice.integers(20, 300))
        take.sound[at, place:-lost] = take.sound[at, place + lost :].copy()
    return tuple(place / RATE for place in places)


def tick(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """Single samples that are wrong."""
    places = _busy(take.sound[at], dice, 4)
    for place in places:
        take.sound[at, place] += dice.choice((-1, 1)) * dice.uniform(0.15, 0.5)
    return tuple(place / RATE for place in places)


def gap(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """A buffer of silence on all channels."""
    places = _busy(take.sound[at], dice, 3)
    for place in places:
        take.sound[:, place : place + 256] = 0
    return tuple(place / RATE for place in places)


def repeat(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """A buffer written twice on all channels."""
    places = _busy(take.sound[at], dice, 3)
    for place in places:
        take.sound[:, place : place + 128] = take.sound[:, place - 128 : place].copy()
    return tuple(place / RATE for place in places)


def hum(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    mains = float(dice.choice((50.0, 60.0))) * (1 + dice.uniform(-1, 1) * 1e-3)
    t = np.arange(take.sound.shape[1]) / RATE
    top = dice.uniform(-58, -42)
    for harmonic in (1, 2, 3, 5, 7):
        level = top - dice.uniform(3, 12) * (harmonic > 1)
        take.sound[at] += 10 ** (level / 20) * np.sin(
            2 * np.pi * mains * harmonic * t + dice.uniform(0, 6)
        )
    return ()


def hiss(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    noise = dice.standard_normal(take.sound.shape[1])
    take.sound[at] += noise * 10 ** (dice.uniform(-62, -52) / 20)
    return ()


def polarity(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] *= -1
    return ()


def copied_late(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """The other side of a pair holds the same signal, some samples later."""
    late = dice.uniform(0.8, 40)
    size = take.sound.shape[1]
    spectrum = np.fft.rfft(take.sound[at - 1], size + 4096)
    spectrum *= np.exp(-2j * np.pi * np.fft.rfftfreq(size + 4096) * late)
    take.sound[at] = np.fft.irfft(spectrum, size + 4096)[:size]
    take.notes["late_samples"] = late
    return ()


def sides(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[[at - 1, at]] = take.sound[[at, at - 1]]
    return ()


def unequal(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] *= 10 ** (-dice.uniform(14, 24) / 20)
    return ()


def collapsed(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] = take.sound[at - 1]
    return ()


def comb(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    late = int(RATE * dice.uniform(0.0015, 0.012))
    take.notes["comb_ms"] = 1000 * late / RATE
    clean = take.sound[at].copy()
    take.sound[at, late:] += 10 ** (-dice.uniform(0, 4) / 20) * clean[:-late]
    return ()


def crosstalk(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    take.sound[at] += 10 ** (-30 / 20) * take.sound[at - 1]
    return ()


def _off_clock(sound: Sound, ppm: float) -> Sound:
    fine = resample_poly(sound, 8, 1)
    at = np.arange(len(sound)) * (1 + ppm * 1e-6) * 8
    made: Sound = np.interp(at, np.arange(len(fine)), fine)
    return made


def clock(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """One side of a pair was recorded by a device whose clock is off."""
    ppm = float(dice.choice((-1, 1))) * dice.uniform(20, 120)
    take.notes["ppm"] = ppm
    take.sound[at] = _off_clock(take.sound[at], ppm)
    return ()


def clock_of_a_pair(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """Both microphones of a pair went to a recorder of their own."""
    ppm = float(dice.choice((-1, 1))) * dice.uniform(20, 120)
    take.notes["ppm"] = ppm
    for side in (at - 1, at):
        take.sound[side] = _off_clock(take.sound[side], ppm)
    return ()


def wrong_rate(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """Both sides of a pair were made at 44.1 kHz and played as if at 48, or the other way round."""
    up, down = (147, 160) if dice.random() < 0.5 else (160, 147)
    size = take.sound.shape[1]
    for side in (at - 1, at):
        played = resample_poly(take.sound[side], up, down)
        edge = np.minimum(1, np.arange(len(played)) / (RATE // 10))
        take.sound[side] = np.tile(played * edge * edge[::-1], 2)[:size]
    return ()


def late(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    begin = int(RATE * dice.uniform(3, 9))
    take.sound[at, :begin] = 0
    return (begin / RATE,)


def swapped(take: Band, at: int, dice: np.random.Generator) -> tuple[float, ...]:
    """Kick or bass and the hi-hat changed places."""
    take.sound[[at, 2]] = take.sound[[2, at]]
    return ()


@dataclass(frozen=True)
class Known:
    """A fault that can be built in: the kind that should be reported, and where it fits."""

    build: Fault
    kind: str
    at: tuple[int, ...]  # channels from 0
    whole: bool = False  # concerns every channel, so stands alone in a take


FAULTS: Mapping[str, Known] = {
    "silent": Known(silent, "silent", (0, 1, 3, 6, 7, 10, 15)),
    "dead": Known(dead, "dead", (0, 1, 3, 6, 7, 10, 11)),
    "intermittent": Known(intermittent, "intermittent", (6, 7, 10, 15)),
    "low": Known(low, "low", (0, 1, 6, 7, 10, 11)),
    "hot": Known(hot, "hot", (0, 1, 6, 7, 10)),
    "clipped": Known(clipped, "clipped", (0, 1, 6, 7, 10, 15)),
    "clipped before the recorder": Known(clipped_before, "clipped", (0, 1, 6, 7, 10, 15)),
    "dc": Known(offset, "dc", (0, 1, 3, 6, 7, 10, 15)),
    "missing samples": Known(click, "click", (6, 7, 10, 15)),
    "single wrong samples": Known(tick, "click", (0, 6, 7, 10, 15)),
    "gap on all channels": Known(gap, "gap", (6, 10), whole=True),
    "buffer twice on all channels": Known(repeat, "gap", (6, 10), whole=True),
    "hum": Known(hum, "hum", (1, 6, 7, 10, 11, 15)),
    "hiss": Known(hiss, "hiss", (1, 6, 7, 10, 11, 15)),
    "polarity of a pair": Known(polarity, "polarity", (5, 9, 13)),
    "copy that comes late": Known(copied_late, "delay", (9, 13)),
    "sides of overheads": Known(sides, "sides", (5,)),
    "unequal pair": Known(unequal, "unequal", (5, 9, 13)),
    "collapsed pair": Known(collapsed, "same", (9, 13)),
    "comb": Known(comb, "comb", (1, 7, 10, 11, 15)),
    "crosstalk at -30 dB": Known(crosstalk, "crosstalk", (7, 10, 11, 15)),
    "clock": Known(clock, "clock", (9, 13)),
    "clock of a pair in the room": Known(clock_of_a_pair, "clock", (5, 17)),
    "clock of one microphone": Known(clock, "clock", (0, 1, 10, 15)),
    "playback at a wrong rate": Known(wrong_rate, "pitch", (9, 13)),
    "late start": Known(late, "late", (0, 1, 6, 7, 10, 15)),
    "swapped with the hi-hat": Known(swapped, "swapped", (0, 6)),
}


def written(take: Band, path: Path) -> Path:
    """The take as a 24-bit file."""
    soundfile.write(path, np.clip(take.sound.T, -1, 1), RATE, subtype="PCM_24")
    return path
