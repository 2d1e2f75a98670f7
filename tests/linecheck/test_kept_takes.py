"""A take that is kept tells levels and hiss, and what later takes are held against."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from rigproof.physics.weighting import flat_to_a_dbu
from tests.cli.conftest import SMALL, Outcome, Run, run  # noqa: F401 (a fixture)

RATE = 48_000
LENGTH_S = 11
NOISE_DBFS = -94.0
RIG = SMALL.replace("plug: mixer.in.12, channel: 12", "plug: mixer.in.12, channel: 5, gain_db: 10")
RIG = RIG.replace("channel: 3-4}", "channel: 3-4, gain_db: 6}")
VOICE_DBFS = -21.0

Sound = NDArray[np.float64]


def band(random: np.random.Generator, low_hz: float, high_hz: float) -> Sound:
    """Noise of a band at -0 dBFS, as a level."""
    sound: Sound = sosfilt(
        butter(2, (low_hz, high_hz), "bandpass", fs=RATE, output="sos"),
        random.standard_normal(LENGTH_S * RATE),
    )
    sound /= np.sqrt(2 * np.square(sound).mean())
    return sound


def played(seed: int) -> Sound:
    """Five channels: a voice that rests at times, keys of which both sides have much in common."""
    random = np.random.default_rng(seed)
    t = np.arange(LENGTH_S * RATE) / RATE
    sings = np.where((t % 5) < 3.5, 1.0, 0.0)
    plays = np.where((t % 4) < 3.0, 1.0, 0.0)
    both, right = band(random, 90, 5000), band(random, 200, 4000)
    sound = np.zeros((len(t), 5))
    sound[:, 0] = sings * band(random, 150, 6000) * 10 ** (VOICE_DBFS / 20)
    sound[:, 2] = plays * both * 10 ** (-24 / 20)
    sound[:, 3] = plays * (both + 0.3 * right) * 10 ** (-24 / 20)
    sound[:, 4] = np.where((t % 0.5) < 0.03, np.sin(2 * np.pi * 1500 * t), 0.0) * 0.2
    return sound


def hissing(sound: Sound, seed: int, more_db: dict[int, float] | None = None) -> Sound:
    random = np.random.default_rng(1000 + seed)
    for channel in range(sound.shape[1]):
        dbfs = NOISE_DBFS + (more_db or {}).get(channel, 0.0)
        sound[:, channel] += random.normal(0, 10 ** (dbfs / 20) / 2**0.5, len(sound))
    return sound


class Nights:
    """A rig on disk, and takes of it on different nights."""

    def __init__(self, folder: Path, run: Run) -> None:  # noqa: F811
        self.take, self.run, self.rig = folder / "take.wav", run, folder / "rig"
        self.rig.mkdir()
        (self.rig / "rig.yaml").write_text(RIG, encoding="utf-8")

    def listen(self, sound: Sound, *words: object) -> Outcome:
        soundfile.write(self.take, sound, RATE, subtype="PCM_24")
        return self.run("listen", self.take, "--rig", self.rig, *words, "--json")

    def keep(self, sound: Sound, date: str) -> Any:
        written = self.listen(sound, "--keep", "--date", date).json["result"]["written"]
        return json.loads(Path(written[0]).read_bytes())


@pytest.fixture
def nights(tmp_path: Path, run: Run) -> Nights:  # noqa: F811
    return Nights(tmp_path, run)


def drift(outcome: Outcome) -> dict[tuple[int, str], Any]:
    return {(one["channel"], one["matter"]): one for one in outcome.json["result"]["drift"]}


def test_what_a_take_tells_is_what_the_rig_then_shows(nights: Nights) -> None:
    """The law: level and hiss of a made take are those that the rig shows at its channel."""
    sound = hissing(played(1), 1)
    lines = {line["channel"]: line for line in nights.keep(sound, "2027-03-01")["lines"]}
    squares = np.convolve(np.square(sound[:, 0]).reshape(-1, RATE // 10).mean(axis=1), np.ones(30))
    loudest_dbfs = 10 * np.log10(2 * squares.max() / 30)
    assert lines[1]["loudest_dbfs"] == pytest.approx(loudest_dbfs, abs=0.06)
    # White up to 24 kHz: less of it below 20, and less again A-weighted (IEC 61672-1).
    dba = flat_to_a_dbu(NOISE_DBFS + 10 * np.log10(20 / 24))
    assert lines[1]["noise_dba"] == pytest.approx(dba, abs=0.5)
    assert "thirds_db" in lines[1]
    assert nights.take.stat().st_size > 100 * (nights.rig / "measured").stat().st_size
    result = nights.run("trace", nights.rig, "voice", "ana", "--json").json["result"]
    assert [(one["what"], one["date"], one["method"]) for one in result["measured"]] == [
        ("loudest three seconds", "2027-03-01", "a take of the band playing"),
        ("hiss of the line", "2027-03-01", "a take of the band playing"),
    ]
    rungs = {rung["place"]: rung for rung in result["ways"][0]["levels"]["rungs"]}
    level = rungs["mixer.ch.1"]["level"]
    assert level["value"] == pytest.approx(lines[1]["loudest_dbfs"])
    assert (level["from"], round(level["high"] - level["low"], 6)) == ("measured", 1.0)
    why = nights.run("why", nights.rig, "voice", "ana")
    assert "from what stood at mixer.ch.1" in why.out
    assert "(measured, 2027-03-01, a take of the band playing)" in why.out


def test_another_night_with_other_songs_has_not_moved(nights: Nights) -> None:
    nights.keep(hissing(played(1), 1), "2027-03-01")
    quieter = 10 ** (-10 / 20) * played(2)
    assert drift(nights.listen(hissing(quieter, 2))) == {}


def test_what_has_moved_since_is_told_with_its_leads(nights: Nights) -> None:
    nights.keep(hissing(played(1), 1), "2027-03-01")
    later = played(2)
    later[:, 3] *= -1
    sosfilt_low = butter(3, 1200, "highpass", fs=RATE, output="sos")
    later[:, 0] = sosfilt(sosfilt_low, later[:, 0])
    outcome = nights.listen(hissing(later, 2, {0: 9.0, 4: 3.0}))
    found = drift(outcome)
    assert {(channel, matter): one["suspect"] for (channel, matter), one in found.items()} == {
        (1, "noise"): "channel",
        (1, "response"): "lead",
        (4, "polarity"): "hands",
    }
    assert outcome.code == 1
    hiss = found[1, "noise"]
    assert hiss["now"] - hiss["before"] == pytest.approx(9, abs=0.7)
    assert (hiss["since"], hiss["grade"]) == ("2027-03-01", "doubt")
    assert hiss["leads"] == [
        "the lead plugged into Split, in 1",
        "the lead from Split, direct 1 to Mixer, in 1 (to-mixer)",
    ]
    assert found[4, "polarity"]["others"] == [3]


def test_a_side_that_comes_late(nights: Nights) -> None:
    nights.keep(hissing(played(1), 1), "2027-03-01")
    later = played(2)
    later[:, 3] = np.roll(later[:, 3], 24)
    late = drift(nights.listen(hissing(later, 2)))[4, "delay"]
    assert late["now"] - late["before"] == pytest.approx(0.5, abs=0.02)
    assert late["others"] == [3]


def test_a_line_that_hisses_more_each_night_is_in_the_verdict(nights: Nights) -> None:
    """Two or three decibels a night are no drift by themselves; three nights in a row are."""
    for night, more_db in enumerate((0.0, 2.0, 4.5), 1):
        outcome = nights.listen(
            hissing(played(night), night, {0: more_db}),
            "--keep", "--date", f"2027-03-0{night}",
        )  # fmt: skip
        assert drift(outcome) == {}
        verdict = nights.run("check", nights.rig, "--json").json["result"]
        going = [one for one in verdict["findings"] if one["rule"] == "log.line-going"]
        assert len(going) == (night == 3)
    (one,) = going
    assert "Lead voice" in one["says"]
    assert "in each of 3 measurements" in one["says"]
    assert "the lead plugged into Split, in 1" in one["says"]
    assert one["found"] == pytest.approx(4.5, abs=0.5)


def test_keeping_wants_a_rig_and_all_of_the_take(nights: Nights) -> None:
    soundfile.write(nights.take, hissing(played(1), 1), RATE, subtype="PCM_24")
    outcome = nights.run("listen", nights.take, "--keep")
    assert outcome.code == 2
    assert "no rig is named" in outcome.err
    outcome = nights.run("listen", nights.take, "--rig", nights.rig, "--date", "May")
    assert outcome.code == 2
    assert "is no date" in outcome.err
