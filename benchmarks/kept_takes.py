"""How often another healthy night is blamed, and which faults beside a kept take are found.

    python benchmarks/kept_takes.py             six takes of each kind, each fault six times
    python benchmarks/kept_takes.py --takes 3   fewer, which is quicker

Every take is of its own seed: its own tempo, notes, levels, bleed and noise. Half are synthesised,
half laid from recorded sounds where the Debian packages are there. Each is kept and held against
every other of its kind. Then faults are built into one and held against another.
"""

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.drifting import Matter, drifts
from rigproof.linecheck.keeping import take_kept
from rigproof.linecheck.lineup import of_list
from rigproof.linecheck.listening import listen
from rigproof.rig.measured import Kept
from rigproof.signal.readings import LineWay
from tests.linecheck import bandtakes
from tests.linecheck.bandtakes import FAULTS, LIST, RATE, Band

FIRST_SEED = 7000
LENGTH_S = 24.0
LINEUP = of_list(LIST, name="list")
WIRED = {7: "bass", 9: "keys", 10: "keys", 13: "tracks", 14: "tracks", 15: "click"}
Sound = NDArray[np.float64]


def ways() -> tuple[LineWay, ...]:
    """The lines of the list as a rig would have them."""
    return tuple(
        LineWay(
            channel=number,
            source=WIRED.get(number, f"source-{number}"),
            socket="",
            node=0,
            hops=(),
            plugged=0,
            through=(),
            taken_with="",
            microphone=number not in WIRED,
            knobs_db=0.0,
            fixed_db=0.0,
            alone=True,
        )
        for number in LINEUP
    )


def thin(sound: Sound) -> Sound:
    """A line that lost one of its legs, into a transformer: its lows are gone."""
    high: Sound = sosfilt(butter(2, 1500, "highpass", fs=RATE, output="sos"), sound)
    return high


def hissing(sound: Sound) -> Sound:
    """Noise well above that of any healthy line of these takes."""
    return sound + np.random.default_rng(1).normal(0, 10 ** (-72 / 20) / 2**0.5, len(sound))


def late(sound: Sound) -> Sound:
    """Half a millisecond later."""
    return np.roll(sound, round(0.0005 * RATE))


def upside_down(sound: Sound) -> Sound:
    """Two wires of a plug exchanged."""
    return -sound


def weak(sound: Sound) -> Sound:
    """A contact that hardly touches."""
    return sound * 10 ** (-20 / 20)


# What is built in, what should be told of which channel.
BUILT: Mapping[str, tuple[Callable[[Sound], Sound] | None, Matter, int]] = {
    "lows gone": (thin, "response", 7),
    "20 dB weaker": (weak, "level", 8),
    "hiss": (hissing, "noise", 7),
    "hum": (None, "hum", 12),
    "one side of keys turned over": (upside_down, "polarity", 10),
    "one side of tracks 0.5 ms late": (late, "delay", 14),
}


def taken(seed: int, fault: str = "") -> Kept:
    """A take as it is kept; recorded sounds where the seed is odd."""
    recorded = seed % 2 and bandtakes.KITS.exists() and bandtakes.LOOPS.exists()
    kits = bandtakes.kits() if recorded else []
    band = bandtakes.band(
        seed,
        length_s=LENGTH_S,
        kit=kits[seed // 2 % len(kits)] if kits else None,
        loops=bandtakes.LOOPS if recorded else None,
    )
    take = Band(band.sound.copy(), seed)
    if fault:
        build, _, channel = BUILT[fault]
        if build is None:
            FAULTS["hum"].build(take, channel - 1, np.random.default_rng(seed))
        else:
            take.sound[channel - 1] = build(take.sound[channel - 1])
    with tempfile.TemporaryDirectory() as folder:
        heard = listen(bandtakes.written(take, Path(folder) / "take.wav"), LINEUP)
    return take_kept(heard, ways(), date="2027-03-01", rig="")


def main() -> None:
    """Count and print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--takes", type=int, default=6, help="of each kind")
    count = parser.parse_args().takes
    seeds = range(FIRST_SEED, FIRST_SEED + 2 * count)
    healthy = {seed: taken(seed) for seed in seeds}
    pairs = [(a, b) for a in seeds for b in seeds if a != b and (a - b) % 2 == 0]
    blamed: Counter[str] = Counter()
    for then, now in pairs:
        blamed.update(
            f"{one.matter}, {one.grade}" for one in drifts(healthy[now], [healthy[then]], {})
        )
    print(f"{len(pairs)} pairs of healthy takes of {len(LINEUP)} lines; blamed:")
    for what, often in sorted(blamed.items()):
        print(f"  {what}: {often}")
    if not blamed:
        print("  none")
    print("faults found:")
    for fault, (_, matter, channel) in BUILT.items():
        found = tried = 0
        for then, now in zip(seeds[2:], seeds, strict=False):
            if tried == count:
                break
            tried += 1
            moved = drifts(taken(now, fault), [healthy[then]], {})
            found += any(one.channel == channel and one.matter == matter for one in moved)
        print(f"  {fault}: {found} of {tried}")


if __name__ == "__main__":
    main()
