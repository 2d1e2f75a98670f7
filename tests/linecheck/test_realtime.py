"""Sound at the pace of the clock: through PipeWire, and through JACK into a rig that is a process.

Both skip where the server is not installed, and where the computer is too busy to keep up: that is
no fault of ours, and says nothing.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.linecheck.test_measure import Server, needs_jack, server  # noqa: F401 (a fixture)

PLAY = Path(__file__).with_name("play_once.py")
CHANNELS = 4
PROGRAMS = ("pipewire", "wireplumber", "pw-jack", "dbus-run-session")

# A card of PipeWire's own that gives back what it is sent.
SINK = """\
context.objects = [
  { factory = adapter
    args = {
      factory.name = support.null-audio-sink
      node.name = "fakerig"
      media.class = "Audio/Duplex"
      audio.rate = 48000
      audio.position = "AUX0,AUX1,AUX2,AUX3"
    } } ]
"""
SESSION = """\
pipewire & first=$!
wireplumber & second=$!
for tried in 1 2 3 4 5 6 7 8; do
  sleep 0.5
  [ -S "$XDG_RUNTIME_DIR/pipewire-0" ] && echo up
  pw-jack "$@" && break
done
kill $second $first
wait
"""


def gains(path: Path) -> NDArray[np.float64]:
    """What each input holds of each output, by the best fit at the one lag that there is."""
    with np.load(path) as kept:
        played, recorded, faults = kept["played"], kept["recorded"], int(kept["faults"])
    if faults:
        pytest.skip(f"this computer is too busy: sound was lost {faults} times")
    likeness = [
        np.abs(np.correlate(recorded[:, n], played[: len(played) * 2 // 3, 0], "valid"))
        for n in range(recorded.shape[1])
    ]
    late = int(max(likeness, key=np.max).argmax())
    sent, came = played[: len(played) - late], recorded[late:]
    fit, *_ = np.linalg.lstsq(sent.astype(float), came.astype(float), rcond=None)
    found: NDArray[np.float64] = fit.T
    return found


@pytest.mark.skipif(
    not all(map(shutil.which, PROGRAMS)),
    reason="no PipeWire: apt install pipewire pipewire-jack wireplumber dbus",
)
def test_through_pipewire(tmp_path: Path) -> None:
    """A null sink with four channels gives back each as it was sent."""
    runtime, config = tmp_path / "run", tmp_path / "config" / "pipewire" / "pipewire.conf.d"
    runtime.mkdir(mode=0o700)
    config.mkdir(parents=True)
    (config / "sink.conf").write_text(SINK, encoding="utf-8")
    taken = tmp_path / "taken.npz"
    words = ["dbus-run-session", "--", "sh", "-c", SESSION, "sh"]
    done = subprocess.run(
        [*words, sys.executable, str(PLAY), "fakerig", str(CHANNELS), str(taken)],
        env={
            **os.environ,
            "XDG_RUNTIME_DIR": str(runtime),
            "XDG_CONFIG_HOME": str(tmp_path / "config"),
        },
        capture_output=True,
        text=True,
        timeout=60,
    )
    if "up" not in done.stdout.split():
        pytest.skip(f"PipeWire did not come up here: {done.stderr[-300:]}")
    assert taken.exists(), done.stderr[-2000:]
    assert gains(taken) == pytest.approx(np.eye(CHANNELS), abs=0.01)


@needs_jack
def test_through_jack_by_the_clock(server: Server) -> None:  # noqa: F811
    """A rig with two lines exchanged, one turned over and one 6 dB down."""
    server.rig(CHANNELS, route={"0": 1, "1": 0}, flipped=[2], gain_db={"3": -6.0}, freewheel=False)
    taken = server.folder / "taken.npz"
    subprocess.run(
        [sys.executable, str(PLAY), "fakerig", str(CHANNELS), str(taken)],
        env=server.env,
        check=True,
        timeout=60,
    )
    expected = np.array([[0, 1, 0, 0], [1, 0, 0, 0], [0, 0, -1, 0], [0, 0, 0, 10**-0.3]])
    assert gains(taken) == pytest.approx(expected, abs=0.01)
