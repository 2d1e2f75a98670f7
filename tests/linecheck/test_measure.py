"""Playing and recording at once: through a real sound server into a rig that is another process."""

import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from ctypes.util import find_library
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

import rigproof
from rigproof.checks.rule import look
from rigproof.linecheck import of_rig
from rigproof.linecheck.cards import opened
from rigproof.linecheck.lineup import Refused
from rigproof.linecheck.looping import TRIES, loop
from rigproof.linecheck.sounding import Passage, exchange
from rigproof.rigfile.load import load
from tests.cli.conftest import Run, published, run  # noqa: F401 (a fixture)

DEMO = Path(rigproof.__file__).parent / "demo"
RATE = 48_000
FAKE = Path(__file__).with_name("fake_rig.py")
WAIT_S = 20.0

needs_jack = pytest.mark.skipif(
    shutil.which("jackd") is None, reason="no sound server to play through: apt install jackd2"
)


class Server:
    """A sound server without a card, and a rig plugged to nobody yet."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.name = f"rigproof-{os.getpid()}-{time.monotonic_ns() % 1_000_000}"
        self.env = {
            **os.environ,
            "JACK_DEFAULT_SERVER": self.name,
            "JACK_NO_AUDIO_RESERVATION": "1",
        }
        words = f"jackd -n {self.name} -r -m -p 2048 -d dummy -r {RATE} -p 1024 -C 2 -P 2"
        self.running: list[subprocess.Popen[Any]] = [
            subprocess.Popen(
                words.split(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env=self.env,
            )
        ]

    def rig(self, channels: int, **faults: object) -> None:
        """Start the rig; wait until its ports are there."""
        asked = self.folder / "faults.json"
        asked.write_text(json.dumps(faults), encoding="utf-8")
        until = time.monotonic() + WAIT_S
        while time.monotonic() < until:
            process = subprocess.Popen(
                [sys.executable, str(FAKE), str(channels), str(asked)],
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                env=self.env,
            )
            assert process.stdout is not None
            if process.stdout.readline() == "ready\n":
                self.running.append(process)
                return
            process.communicate()  # the server was not up yet
            time.sleep(0.2)
        pytest.fail("the rig did not come up beside the sound server")

    def words(self, channels: int, *more: object) -> list[str]:
        take = self.folder / "take.wav"
        asked = ["measure", "-o", take, "--count", channels, "--through", "jack"]
        return [
            *[sys.executable, "-m", "rigproof"],
            *map(str, (*asked, "--device", "fakerig", "--json", *more)),
        ]

    def measure(self, channels: int, *more: object) -> tuple[int, Mapping[str, Any]]:
        done = subprocess.run(
            self.words(channels, *more), capture_output=True, text=True, env=self.env, timeout=300
        )
        answer = json.loads(done.stdout)
        published().validate(answer)
        return done.returncode, answer

    def close(self) -> None:
        for process in reversed(self.running):
            process.terminate()
            try:
                process.communicate(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.communicate()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    found = Server(tmp_path)
    try:
        yield found
    finally:
        found.close()


@needs_jack
def test_a_faulty_rig_is_told_exactly(server: Server) -> None:
    """32 lines of the demo: rotated, turned, humming, leaking, missing, 1.7 samples late.

    Gains are those that the plan has for each channel, and 30 dB less of all.
    """
    view = look(load(DEMO / "rig.yaml"))
    lineup = of_rig(view.rig, view.graph, view.figures)
    planned_db = {number: line.gain_db or 0.0 for number, line in lineup.items()}
    gain_db = {n: planned_db.get(n + 1, 0.0) - 30 for n in range(32)}
    server.rig(
        32,
        gain_db=gain_db,
        route={"0": 1, "1": 2, "2": 3, "3": 0},
        flipped=[4],
        hum_dbfs={"6": -45},
        leaks=[[8, 9, gain_db[8] - 30]],
        dead=[5, 10, 26],  # nothing is plugged into two of them
        late_samples={"11": 1.7},
    )
    code, answer = server.measure(32, DEMO, "--even")
    result = answer["result"]
    assert code == 1
    assert (result["outputs"], result["inputs"]) == (32, 32)
    told = {one["says"] for one in result["findings"] if one["grade"] == "fail"}
    assert told == {
        "Channels 1 to 4 are one round on at Split A: Split A, in 1 holds what belongs in Split A, "
        "in 2; Split A, in 4 holds what belongs in Split A, in 1, and so on between them.",
        "Channel 5 (Floor tom) is upside down: pins 2 and 3 are crossed on its way, or a polarity "
        "switch is set.",
        "Channel 7 (Overheads SR) hums at -45 dBFS (50 Hz -45, 150 Hz -55). Likely a loop of "
        "earths or a transformer beside the lead (from memory).",
        "Channel 9 (Drum pads L) also holds line 10 (Drum pads R), 30 dB under its own.",
        "Line 11 (Tuba) arrives nowhere: follow it from Split A, in 11.",
    }
    (late,) = [one for one in result["findings"] if one["grade"] == "doubt"]
    assert late["says"] == (
        "Channel 12 (Bass synth) is 0.035 ms late beside the other lines (1.7 samples at 48 kHz)."
    )
    holds = {one["channel"]: one["holds"] for one in result["lines"]}
    assert [holds[n] for n in range(1, 5)] == [2, 3, 4, 1]
    gone = {6, 11, 27}
    assert {n for n, held in holds.items() if held is None} == gone
    assert all(holds[n] == n for n in range(5, 33) if n not in gone)
    assert (server.folder / "take.wav").exists()


@needs_jack
@pytest.mark.skipif(
    find_library("portaudio") is None, reason="no PortAudio here: apt install libportaudio2"
)
def test_through_portaudio(server: Server) -> None:
    """The same rig as a sound card among others: PortAudio shows a client of the server as one."""
    server.rig(4, route={"0": 1, "1": 0}, flipped=[2])
    _, answer = server.measure(4, "--through", "portaudio")
    found = answer["result"]["findings"]
    assert [(one["kind"], one["channel"]) for one in found] == [("elsewhere", 1), ("polarity", 3)]


@needs_jack
def test_a_rig_that_is_loud_already_is_left_alone(server: Server) -> None:
    server.rig(4, hum_dbfs={"2": -12}, freewheel=False)
    code, answer = server.measure(4)
    assert code == 2
    assert "channel 3 is at -" in answer["faults"][0]["says"]
    assert not (server.folder / "take.wav").exists()


@needs_jack
def test_a_rig_that_would_clip_is_played_low_only(server: Server) -> None:
    server.rig(4, gain_db={"1": 30}, freewheel=False)
    code, answer = server.measure(4)
    assert code == 2
    assert "channel 2 would clip" in answer["faults"][0]["says"]
    assert "--level -3" in answer["faults"][0]["fix"]
    assert not (server.folder / "take.wav").exists()


@needs_jack
def test_stopped_by_hand(server: Server) -> None:
    """Ctrl-C while the sweeps play: it ends at once and leaves no take."""
    server.rig(4, freewheel=False)
    process = subprocess.Popen(
        server.words(4),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=server.env,
        # A script that runs the tests behind itself leaves Ctrl-C switched off for its children.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    rig = server.running[-1]
    assert rig.stdout is not None
    assert rig.stdout.readline() == "plugged\n"
    time.sleep(4)  # past listening and the low chirp, into the sweeps
    # As a person would: press again where nothing happens.
    for _ in range(10):
        process.send_signal(signal.SIGINT)
        try:
            _, err = process.communicate(timeout=5)
            break
        except subprocess.TimeoutExpired:
            continue
    assert process.returncode == 130
    assert "Traceback" not in err
    assert not (server.folder / "take.wav").exists()


@needs_jack
def test_a_device_that_is_not_there(server: Server) -> None:
    server.rig(4, freewheel=False)
    code, answer = server.measure(4, "--device", "fakerick")
    assert code == 2
    assert '"fakerick"' in answer["faults"][0]["says"]
    assert "fakerig" in answer["faults"][0]["fix"]


def test_no_server(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: F811
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "rigproof-nobody")
    take = tmp_path / "take.wav"
    outcome = run("measure", "-o", take, "--through", "jack")
    assert outcome.code == 2
    assert "JACK" in outcome.err
    assert not take.exists()


def test_without_the_libraries(
    run: Run,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ("jack", "sounddevice"):
        monkeypatch.setitem(sys.modules, name, None)
    outcome = run("measure", "-o", tmp_path / "take.wav")
    assert outcome.code == 2
    assert "pip install JACK-Client sounddevice" in " ".join(outcome.err.split())
    with pytest.raises(Refused, match="library is missing"):
        opened("jack", None, channels=2, rate_hz=RATE)


class Wire:
    """A card whose sockets are joined; it loses a block in as many passages as it is told."""

    rate_hz = RATE
    outputs = inputs = 2

    def __init__(self, lossy: int = 0, *, gone: bool = False) -> None:
        self.lossy, self.gone = lossy, gone
        self.given: list[NDArray[np.float32]] = []
        self.worker = threading.Thread()

    def begin(self, passage: Passage) -> None:
        if self.worker.is_alive():
            self.worker.join()
        if len(passage.recorded) > 5 * RATE and self.lossy:
            self.lossy -= 1
            passage.faults += 1
        self.worker = threading.Thread(target=self._work, args=(passage,))
        if not self.gone:
            self.worker.start()

    def _work(self, passage: Passage) -> None:
        wires = np.zeros((2, 512), np.float32)
        for _ in range(100 * RATE // 512):
            taken = wires.copy()
            passage.block(list(taken), list(wires))
            self.given.append(wires.copy())
            if passage.ended.is_set():
                break
        passage.block(list(wires.copy()), list(wires))
        self.given.append(wires.copy())

    def close(self) -> None:
        self.worker.join()


@pytest.mark.parametrize("lossy", [0, 1, TRIES - 1])
def test_lost_sound_is_played_again(lossy: int) -> None:
    made = loop(Wire(lossy), level_dbfs=-20)
    assert made.tries == lossy + 1
    assert np.abs(made.recorded).max() == pytest.approx(0.1, abs=0.001)


def test_a_computer_that_cannot_keep_up() -> None:
    with pytest.raises(Refused, match="lost sound 1 times"):
        loop(Wire(TRIES), level_dbfs=-20)


def test_a_card_that_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rigproof.linecheck.sounding.PATIENCE_S", 0.2)
    with pytest.raises(Refused, match="hands over no sound"):
        loop(Wire(gone=True), level_dbfs=-20)


def test_a_stop_fades_out_and_stays_silent() -> None:
    """Whoever stops it, by any exception: the next block falls to nothing, and all after it."""
    card = Wire()
    tone = np.full((200 * 512, 2), 0.5, np.float32)

    def progress(share: float) -> None:
        raise KeyboardInterrupt

    passage = Passage(tone, inputs=2)
    given = np.zeros((2, 512), np.float32)
    passage.block(list(given.copy()), list(given))
    assert given.min() == 0.5
    passage.stop()
    passage.block(list(given.copy()), list(given))
    assert given[0, 0] == pytest.approx(0.5)
    assert given[0, -1] == 0
    assert (np.diff(given[0]) <= 0).all()
    assert passage.ended.is_set()
    passage.block(list(given.copy()), list(given))
    assert not given.any()
    with pytest.raises(KeyboardInterrupt):
        exchange(Slow(card), tone, progress=progress)
    card.close()
    assert not card.given[-1].any()


class Slow:
    """A card of which each block takes its time, so that there is time to be stopped."""

    rate_hz, outputs, inputs = RATE, 2, 2

    def __init__(self, card: Wire) -> None:
        self.card = card

    def begin(self, passage: Passage) -> None:
        block = passage.block

        def slowly(taken: Any, given: Any) -> None:
            time.sleep(0.01)
            block(taken, given)

        passage.block = slowly  # type: ignore[method-assign]
        self.card.begin(passage)

    def close(self) -> None:
        self.card.close()
