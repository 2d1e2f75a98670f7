"""How well what leaks into other people's microphones is told from a take.

    python benchmarks/heard_leaks.py            six takes of a made band, of its own seed each
    python benchmarks/heard_leaks.py --write    the table into docs/first-mixes.md

The bands are those of the listening tests: every second one is laid from recorded drums, basses
and guitars where the Debian packages hydrogen-drumkits and sonic-pi-samples are there. What leaks
is known, because it was laid in; it is 12 dB louder than in those tests. The seeds begin at 6000.
"""

import argparse
import copy
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy.signal import sosfilt

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from benchmarks.heard_tails import DOCS, put
from rigproof.linecheck.leaking import held, leaks
from rigproof.linecheck.taking import opened
from rigproof.linecheck.tallying import gathered_of
from rigproof.physics.loudness import k_weighting_gain_ratio
from tests.linecheck import bandtakes
from tests.linecheck.bandtakes import RATE, Sound, Stage

FIRST_SEED, TAKES, LENGTH_S = 6000, 6, 40.0
LOUDER_DB = 12.0
COUNTS_DB = -24.0  # of a microphone's level: a decibel over what is told at all
# Who stands at which channels, from 0, and the microphones that are asked.
PLAYERS = {"drums": (0, 1, 2, 3), "guitar": (7,), "voice": (10,), "second": (11,), "fiddle": (15,)}
CHANNELS = {**PLAYERS, "drums": (0, 1, 2, 3, 4, 5)}
ASKED = {7: "guitar", 10: "voice", 11: "second", 15: "fiddle"}


def main() -> None:
    """Lay the takes, ask, and count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    pairs = [pair for take in range(TAKES) for pair in told(FIRST_SEED + take, recorded=take % 2)]
    table = counted(pairs)
    print(table)
    if asked.write:
        put(DOCS / "first-mixes.md", "leaks", table)


def counted(pairs: list[tuple[float, float]]) -> str:
    """The table. Each pair: what was laid in and what was told, in dB of the microphone's level."""
    loud = [(true, said) for true, said in pairs if true > COUNTS_DB]
    soft = [said for true, said in pairs if true <= COUNTS_DB]
    off = [abs(true - said) for true, said in loud]
    return "\n".join(
        [
            f"| {TAKES} takes of {LENGTH_S:.0f} s, by microphone and player | |",
            "|-|-|",
            f"| leaks over {COUNTS_DB:.0f} dB of a microphone's level | {len(loud)} |",
            f"| told within 2 dB | {sum(one <= 2 for one in off)} |",
            f"| told within 4 dB | {sum(one <= 4 for one in off)} |",
            f"| told more than 4 dB too loud | {sum(said - true > 4 for true, said in loud)} |",
            f"| not told, or more than 4 dB too soft | {sum(t - said > 4 for t, said in loud)} |",
            f"| softer leaks | {len(soft)} |",
            f"| of these told over {COUNTS_DB + 4:.0f} dB | "
            f"{sum(said > COUNTS_DB + 4 for said in soft)} |",
        ]
    )


def told(seed: int, *, recorded: int) -> list[tuple[float, float]]:
    """For each microphone and each other player: what is there, and what is told of it."""
    kits = bandtakes.kits() if recorded else []
    kept: dict[str, object] = {}
    lay_in = bandtakes._bled

    def remembered(own: Sound, dice: np.random.Generator, stage: Stage) -> Sound:
        kept["own"], kept["dice"] = own.copy(), copy.deepcopy(dice)
        return lay_in(own, dice, stage)

    bandtakes._bled = remembered
    try:
        take = bandtakes.band(
            seed,
            length_s=LENGTH_S,
            kit=kits[seed % len(kits)] if kits else None,
            loops=bandtakes.LOOPS if kits and bandtakes.LOOPS.exists() else None,
            stage=Stage(bleed_db=LOUDER_DB),
        )
    finally:
        bandtakes._bled = lay_in
    own = kept["own"]
    assert isinstance(own, np.ndarray)
    parts: dict[tuple[int, str], float] = {}
    for player, places in PLAYERS.items():
        alone = np.zeros_like(own)
        alone[list(places)] = own[list(places)]
        dice = copy.deepcopy(kept["dice"])
        assert isinstance(dice, np.random.Generator)
        heard = lay_in(alone, dice, Stage(bleed_db=LOUDER_DB, noise_db=-90))
        parts.update({(place, player): power(heard[place]) for place in ASKED})
    who = {place: player for player, places in CHANNELS.items() for place in places}
    hears = {
        place + 1: frozenset(n + 1 for n, other in who.items() if other != player)
        for place, player in ASKED.items()
    }
    with tempfile.TemporaryDirectory() as folder:
        found = opened(bandtakes.written(take, Path(folder) / "take.wav"))
        said = held(leaks(found, hears, {}), gathered_of(found).weighted)
    levels = {n: power(take.sound[n - 1]) for n in range(1, len(take.sound) + 1)}
    pairs = []
    for place, player in ASKED.items():
        whole = sum(parts[place, other] for other in PLAYERS)
        for other in PLAYERS:
            if other != player:
                there = sum(
                    ratio * levels[n]
                    for (channel, n), ratio in said.items()
                    if channel == place + 1 and who[n - 1] == other
                )
                pairs.append((db(parts[place, other] / whole), db(there / levels[place + 1])))
    return pairs


def power(sound: Sound) -> float:
    """K-weighted."""
    return float(np.square(sosfilt(np.array(k_weighting_gain_ratio(rate_hz=RATE)), sound)).mean())


def db(ratio: float) -> float:
    """A power, and what is nothing as -90."""
    return float(10 * np.log10(ratio + 1e-9))


if __name__ == "__main__":
    main()
