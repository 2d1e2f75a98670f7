"""The gain of a line by itself: judged where the player's full scale is known, kept, counted."""

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from rigproof.checks.rule import look
from rigproof.linecheck import of_rig
from rigproof.rigfile.load import load
from tests.cli.conftest import Outcome, Run, run  # noqa: F401 (a fixture)
from tests.linecheck.simulated import Faults, through

TRIO = Path(__file__).resolve().parents[2] / "examples" / "trio"
RATE = 16_000
FULL_DBU = 18.0
VOICE = 6
OFF_DB = {1: -6.0, VOICE: 2.5}  # by channel; all others do as is planned


class Rack:
    """A rig, its test signal as a player of known full scale plays it, and what came back."""

    def __init__(self, folder: Path, run: Run) -> None:  # noqa: F811
        self.run, self.rig = run, folder / "rig"
        self.signal, self.take = folder / "signal.wav", folder / "take.wav"
        shutil.copytree(TRIO, self.rig)
        words = ("signal", self.rig, "-o", self.signal, "--rate", RATE, "--level", -10)
        assert run(*words, "--full-scale", FULL_DBU).code == 0
        view = look(load(self.rig / "rig.yaml"))
        lineup = of_rig(view.rig, view.graph, view.figures)
        self.planned_db = {n: line.gain_db or 0.0 for n, line in lineup.items()}
        self.real_db = {n: gain + OFF_DB.get(n, 0.0) for n, gain in self.planned_db.items()}
        played, _ = soundfile.read(self.signal, dtype="float32", always_2d=True)
        # By definition: a channel's dBFS are the dBu at its plug and the gain of the line.
        faults = Faults(
            gain_db={n - 1: FULL_DBU + gain for n, gain in self.real_db.items()}, noise_dbfs=-110
        )
        sound = through(played, faults, rate_hz=RATE, seed=4)
        soundfile.write(self.take, sound, RATE, "PCM_24")

    def prove(self, *words: object) -> Outcome:
        return self.run("prove", self.signal, self.take, "--rig", self.rig, *words, "--json")

    def voice(self) -> Any:
        """The rung of the voice's channel."""
        result = self.run("trace", self.rig, "voice", "wren", "--json").json["result"]
        rungs = result["ways"][0]["levels"]["rungs"]
        return next(rung for rung in rungs if rung["place"] == f"mixer.ch.{VOICE}")["level"]


@pytest.fixture
def rack(tmp_path: Path, run: Run) -> Rack:  # noqa: F811
    return Rack(tmp_path, run)


def test_what_a_line_does_is_kept_and_counts(rack: Rack) -> None:
    """The law: what a simulated rig does to a level is what the rig file then shows."""
    before = rack.voice()
    outcome = rack.prove("--full-scale", FULL_DBU, "--keep", "--date", "2027-03-01")
    result = outcome.json["result"]
    assert result["full_scale_dbu"] == FULL_DBU
    off_db = {one["channel"]: one["gain_error_db"] for one in result["lines"]}
    assert off_db == pytest.approx({n: OFF_DB.get(n, 0.0) for n in rack.planned_db}, abs=0.05)
    (found,) = [one for one in result["findings"] if one["kind"] == "level"]
    assert found["says"] == "Channel 1 (Kick) is 6.0 dB under its plan."
    kept = json.loads((rack.rig / "measured" / "proof-2027-03-01.json").read_bytes())
    way_db = {line["channel"]: line["way_db"] for line in kept["lines"]}
    assert way_db == pytest.approx(rack.real_db, abs=0.05)
    after = rack.voice()
    assert after["value"] - before["value"] == pytest.approx(OFF_DB[VOICE], abs=0.05)
    # Of the line only what was measured may be off: the wider half of what the plan was is gone.
    widths = [one["high"] - one["low"] for one in (before, after)]
    slack_db = look(load(TRIO / "rig.yaml"))
    lineup = of_rig(slack_db.rig, slack_db.graph, slack_db.figures)
    squares = (widths[0] / 2) ** 2 - lineup[VOICE].gain_off_db ** 2 + 0.5**2 + 0.5**2
    assert widths[1] == pytest.approx(2 * squares**0.5, abs=0.02)
    # The plan stays what was drawn.
    again = rack.prove("--full-scale", FULL_DBU).json["result"]
    assert {one["channel"]: one["gain_error_db"] for one in again["lines"]} == off_db
    assert again["drift"] == []
    checked = rack.run("check", rack.rig).out
    assert "channel 1 (Kick) has 6.0 dB less" in " ".join(checked.split())
    # A knob turned since goes with it; the file away, all is as before.
    rig = rack.rig / "rig.yaml"
    text = rig.read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if "source: voice" in line and "gain_db" in line)
    gain = float(row.partition("gain_db:")[2].strip(" }").split(",")[0].rstrip("}"))
    rig.write_text(text.replace(row, row.replace(f"gain_db: {gain:g}", f"gain_db: {gain - 3:g}")))
    assert rack.voice()["value"] - after["value"] == pytest.approx(-3, abs=0.01)
    rig.write_text(text)
    shutil.rmtree(rack.rig / "measured")
    assert rack.voice() == before


def test_a_full_scale_that_is_wrong(rack: Rack) -> None:
    """8 dB off on all lines is no fault of the lines: said once, and nothing of it is kept."""
    outcome = rack.prove("--full-scale", FULL_DBU - 8, "--keep", "--date", "2027-03-01")
    result = outcome.json["result"]
    assert result["full_scale_dbu"] is None
    assert result["not_tested"][0].startswith("levels by themselves: all lines together are 8.0 dB")
    assert [one["channel"] for one in result["findings"] if one["kind"] == "level"] == [1]
    kept = json.loads((rack.rig / "measured" / "proof-2027-03-01.json").read_bytes())
    assert all("way_db" not in line or line["way_db"] is None for line in kept["lines"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--full-scale", 18), "come from a rig"),
        (("--rig", TRIO, "--full-scale", 99), "no player"),
        (("--rig", TRIO, "--at", "cellar", "--full-scale", 18), "house's inputs"),
    ],
)
def test_what_cannot_be_meant(
    run: Run,  # noqa: F811
    tmp_path: Path,
    words: tuple[object, ...],
    says: str,
) -> None:
    path = tmp_path / "signal.wav"
    soundfile.write(path, np.zeros(100), RATE)
    outcome = run("prove", path, path, *words)
    assert outcome.code == 2
    assert says in " ".join(outcome.err.split())
