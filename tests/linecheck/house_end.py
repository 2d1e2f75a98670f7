"""The house's end of our tails, with broken ones among them: each as its circuit has it."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

from rigproof.physics.tails import Fault, Receiver, Sender, received

Sound = NDArray[np.float64]

# Usual ends, from data sheets of several makers, rounded (from memory).
ISOLATED = Sender(source_ohm=200, winding_pf=200)
DIRECT = Sender(source_ohm=200, reference_ohm=6810, load_ohm=2000)
DRIVEN = Sender(source_ohm=100, centre_ohm=0)
HALF_DRIVEN = Sender(source_ohm=100, centre_ohm=0, hot_share_ratio=1)
LINE_IN = Receiver(across_ohm=math.inf, leg_ohm=10_000)
MIC_IN = Receiver(across_ohm=2800, leg_ohm=6810)

OPEN_2, OPEN_3 = Fault(pin2_ohm=math.inf), Fault(pin3_ohm=math.inf)
OPEN_AT_HOUSE = Fault(pin3_ohm=math.inf, before_m=10, behind_m=0.1)
SHORT = Fault(across_ohm=0.5)
ON_SHIELD = Fault(pin3_shield_ohm=0.5)
BAD_JOINT = Fault(pin2_ohm=1200)

Broken = tuple[Sender, Receiver, Fault]
Shape = tuple[NDArray[np.float64], NDArray[np.complex128]]


@dataclass(frozen=True)
class House:
    """What stands between the player and the house's recorder. Tails count from 1."""

    broken: Mapping[int, Broken] = field(default_factory=dict)
    # What else lets through a part of each frequency: frequencies, and the share of each.
    shapes: Mapping[int, Shape] = field(default_factory=dict)
    route: Mapping[int, int] = field(default_factory=dict)  # tail -> the tail whose line it holds
    flipped: frozenset[int] = frozenset()
    dead: frozenset[int] = frozenset()
    gain_db: Mapping[int, float] = field(default_factory=dict)
    hum_dbfs: Mapping[int, float] = field(default_factory=dict)
    noise_dbfs: float = -95.0


def at_house(played: NDArray[np.float32], house: House, *, rate_hz: int, seed: int) -> Sound:
    """What arrives of the lines at the house's inputs, one column for each tail."""
    dice = np.random.default_rng(seed)
    length, tails = played.shape
    at = np.arange(length) / rate_hz
    heard = np.zeros((length, tails))
    for tail in range(1, tails + 1):
        sound = played[:, house.route.get(tail, tail) - 1].astype(float)
        if tail in house.broken:
            sound = through(sound, house.broken[tail], rate_hz)
        if tail in house.shapes:
            sound = shaped(sound, house.shapes[tail], rate_hz)
        sound *= 10 ** (house.gain_db.get(tail, 0.0) / 20)
        sound = -sound if tail in house.flipped else sound
        sound = np.zeros(length) if tail in house.dead else sound
        if tail in house.hum_dbfs:
            for harmonic, under_db in ((1, 0), (2, 25), (3, 12), (5, 20)):
                size = 10 ** ((house.hum_dbfs[tail] - under_db) / 20)
                sound = sound + size * np.sin(2 * np.pi * 50 * harmonic * at)
        heard[:, tail - 1] = sound + noise(length, house.noise_dbfs, dice)
    return heard


def noise(length: int, level_dbfs: float, dice: np.random.Generator) -> Sound:
    """White noise; a sine of full scale would be 0 dBFS."""
    return dice.normal(0, 10 ** (level_dbfs / 20) / 2**0.5, length)


def through(sound: Sound, broken: Broken, rate_hz: int) -> Sound:
    """A sound through a broken pair, by the level that its circuit lets through."""
    sender, receiver, fault = broken
    asked = np.geomspace(20, rate_hz / 2, 40)
    levels = [
        received(frequency_hz=float(hz), sender=sender, receiver=receiver, fault=fault).level_db
        for hz in asked
    ]
    shares = (10 ** (np.array(levels) / 20)).astype(np.complex128)
    return shaped(sound, (asked, shares), rate_hz)


def shaped(sound: Sound, shape: Shape, rate_hz: int) -> Sound:
    """A sound of which so much of each frequency is left, levels and phases in between."""
    at_hz, shares = shape
    size = next_fast_len(len(sound) + rate_hz // 2, real=True)
    frequencies = np.log(np.maximum(rfftfreq(size, 1 / rate_hz), at_hz[0]))
    levels = np.interp(frequencies, np.log(at_hz), np.log(np.maximum(np.abs(shares), 1e-12)))
    phases = np.interp(frequencies, np.log(at_hz), np.unwrap(np.angle(shares)))
    made: Sound = irfft(rfft(sound, size) * np.exp(levels + 1j * phases), size)[: len(sound)]
    return made


def walk(
    played: NDArray[np.float32],
    heard: Sound,
    *,
    rate_hz: int,
    order: tuple[int, ...],
    seed: int,
    hold_s: float = 3.0,
) -> Sound:
    """One tail after another plugged into a recorder while the signal plays over and over.

    Each is held for a whole pass and up to `hold_s` of another; between them lie some seconds of
    nothing and a thump.
    """
    dice = np.random.default_rng(seed)
    length = len(played)
    parts, now = [], 0
    for tail in order:
        gap = int(dice.uniform(1.0, 3.0) * rate_hz)
        silent = noise(gap, -90, dice)
        silent[gap - 200 : gap] += 0.3 * np.hanning(200)
        parts.append(silent)
        now += gap
        # Until the signal begins again, then all of it, then a little more.
        rest = -now % length
        stay = rest + length + int(dice.uniform(0, hold_s) * rate_hz)
        at = (now + np.arange(stay)) % length
        parts.append(heard[at, tail - 1])
        now += stay
    return np.concatenate(parts)


def automatic(sound: Sound, rate_hz: int, *, aim: float = 0.2, slow_s: float = 1.5) -> Sound:
    """A recorder's automatic level: down at once, up slowly, never by more than 30 dB."""
    step = rate_hz // 50
    blocks = sound[: len(sound) // step * step].reshape(-1, step)
    gain, gains = 1.0, []
    for peak in np.abs(blocks).max(axis=1):
        wanted = min(30.0, aim / max(peak, 1e-6))
        gain = wanted if wanted < gain else gain + (wanted - gain) * (0.02 / slow_s)
        gains.append(gain)
    turned: Sound = (blocks * np.array(gains)[:, None]).ravel()
    return turned
