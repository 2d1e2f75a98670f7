"""A rig as a client of a sound server: the second process that a measurement plays into.

Run as a program: `fake_rig.py CHANNELS FAULTS.json`. It says "ready" when its ports are there, and
"plugged" when somebody is plugged to them; then it lets the server run free of the clock, unless
told not to: half a minute passes in a few seconds.
"""

import json
import signal
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 48_000
TAPS = 64  # every line is as late; those that are late beside it have a sinc around that place


class Rig:
    """What the rig does to a block of what it is sent. Channels count from 0."""

    def __init__(self, channels: int, faults: Mapping[str, Any]) -> None:
        self.route = [int(faults.get("route", {}).get(str(n), n)) for n in range(channels)]
        self.gain = np.ones((channels, 1), np.float32)
        for at, db in faults.get("gain_db", {}).items():
            self.gain[int(at)] = 10 ** (db / 20)
        self.gain[faults.get("flipped", [])] *= -1
        self.gain[faults.get("dead", [])] = 0
        self.leaks = [(int(a), int(b), 10 ** (db / 20)) for a, b, db in faults.get("leaks", ())]
        self.hum = {int(at): 10 ** (db / 20) for at, db in faults.get("hum_dbfs", {}).items()}
        self.late = {int(at): fractional(n) for at, n in faults.get("late_samples", {}).items()}
        scale = 10 ** (-100 / 20) / 2**0.5  # a full-scale sine is 0 dBFS
        self.noise = np.random.default_rng(5).normal(0, scale, 1 << 20).astype(np.float32)
        self.before = np.zeros((channels, 2 * TAPS), np.float32)
        self.played = 0

    def block(self, taken: NDArray[np.float32]) -> NDArray[np.float32]:
        frames = taken.shape[1]
        whole = np.concatenate((self.before, taken), axis=1)
        self.before = whole[:, -2 * TAPS :]
        routed = whole[self.route] * self.gain
        given: NDArray[np.float32] = routed[:, TAPS : TAPS + frames].copy()
        for at, kernel in self.late.items():
            given[at] = np.convolve(routed[at, 1:], kernel, "valid")
        for at, source, ratio in self.leaks:
            given[at] += ratio * whole[source, TAPS : TAPS + frames]
        t = (self.played + np.arange(frames)) / RATE
        for at, level in self.hum.items():
            given[at] += level * np.sin(2 * np.pi * 50 * t)
            given[at] += 0.3 * level * np.sin(2 * np.pi * 150 * t)
        for at, row in enumerate(given):
            begin = (self.played + at * 7919) % (len(self.noise) - frames)
            row += self.noise[begin : begin + frames]
        self.played += frames
        return given


def fractional(late: float) -> NDArray[np.float64]:
    """A delay that is no whole number of samples: a windowed sinc."""
    kernel: NDArray[np.float64] = np.sinc(np.arange(2 * TAPS) - TAPS - late)
    return kernel * np.kaiser(2 * TAPS, 9)


def main() -> None:
    import jack

    channels = int(sys.argv[1])
    faults = json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    rig = Rig(channels, faults)
    # A client that leaves without a word keeps its server waiting for it, and a server that is then
    # killed keeps one of the eight places that this computer has for servers.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    client = jack.Client("fakerig", no_start_server=True)
    ins = [client.inports.register(f"in_{n + 1}") for n in range(channels)]
    outs = [client.outports.register(f"out_{n + 1}") for n in range(channels)]

    def process(_frames: int) -> None:
        given = rig.block(np.stack([port.get_array() for port in ins]))
        for port, samples in zip(outs, given, strict=True):
            port.get_array()[:] = samples

    client.set_process_callback(process)
    with client:
        print("ready", flush=True)
        # The server must not run free while somebody still plugs himself in.
        while not (ins[-1].connections and outs[-1].connections):
            time.sleep(0.05)
        print("plugged", flush=True)
        if faults.get("freewheel", True):
            client.set_freewheel(True)
        time.sleep(120)


if __name__ == "__main__":
    main()
