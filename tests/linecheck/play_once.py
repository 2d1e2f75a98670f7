"""A burst through a sound server, as a program: `play_once.py DEVICE CHANNELS OUT.npz`.

What was played and recorded, and how often sound was lost, stands in the file afterwards.
"""

import sys

import numpy as np

from rigproof.linecheck.cards import opened
from rigproof.linecheck.sounding import exchange

RATE = 48_000
BURST_S, LENGTH_S = 0.5, 1.0


def main() -> None:
    device, channels, path = sys.argv[1], int(sys.argv[2]), sys.argv[3]
    played = np.zeros((int(LENGTH_S * RATE), channels), np.float32)
    dice = np.random.default_rng(channels)
    burst = dice.normal(0, 0.05, (int(BURST_S * RATE), channels))
    played[RATE // 10 : RATE // 10 + len(burst)] = burst
    card = opened("jack", device, channels=channels, rate_hz=RATE)
    try:
        passage = exchange(card, played)
    finally:
        card.close()
    np.savez(path, played=played, recorded=passage.recorded, faults=passage.faults)


if __name__ == "__main__":
    main()
