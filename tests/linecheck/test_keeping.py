"""A kept proof is the healthy reference: what has moved since is told, and nothing else."""

import json
from pathlib import Path

import pytest
import soundfile

from rigproof.linecheck.score import Score, rendered
from tests.cli.conftest import SMALL, Outcome, Run, run  # noqa: F401 (a fixture)
from tests.linecheck.simulated import Faults, through

RATE = 48_000
CHANNELS = 12
USED = (0, 2, 3, 11)


class Rack:
    """A rig on disk, its test signal, and takes of it on different days."""

    def __init__(self, folder: Path, run: Run) -> None:  # noqa: F811
        self.folder, self.run = folder, run
        self.rig = folder / "rig"
        self.rig.mkdir()
        (self.rig / "rig.yaml").write_text(SMALL, encoding="utf-8")
        self.signal = folder / "signal.wav"
        self.played = rendered(Score(CHANNELS, RATE), level_dbfs=-20)
        soundfile.write(self.signal, self.played, RATE, subtype="PCM_24")

    def prove(self, faults: Faults, *words: object, seed: int = 1) -> Outcome:
        take = self.folder / "take.wav"
        dead = faults.dead | frozenset(range(CHANNELS)) - frozenset(USED)
        sound = through(
            self.played, Faults(**{**vars(faults), "dead": dead}), rate_hz=RATE, seed=seed
        )
        soundfile.write(take, sound, RATE, subtype="PCM_24")
        return self.run("prove", self.signal, take, "--rig", self.rig, *words, "--json")

    @property
    def kept(self) -> list[str]:
        return sorted(path.name for path in (self.rig / "measured").glob("*"))


@pytest.fixture
def rack(tmp_path: Path, run: Run) -> Rack:  # noqa: F811
    return Rack(tmp_path, run)


def drift(outcome: Outcome) -> set[tuple[int, str, str]]:
    return {
        (one["channel"], one["matter"], one["suspect"]) for one in outcome.json["result"]["drift"]
    }


HEALTHY = {0: -12.0, 2: -11.6, 3: -12.2, 11: -12.1}


def test_a_rig_left_alone_has_not_moved(rack: Rack) -> None:
    """Another player level, another latency, other noise of the same strength: no drift."""
    kept = rack.prove(
        Faults(gain_db=HEALTHY, noise_dbfs=-85), "--keep", "--date", "2027-03-01"
    ).json["result"]
    assert kept["written"] == [str(rack.rig / "measured" / "proof-2027-03-01.json")]
    for seed in range(2, 5):
        later = Faults(
            gain_db={at: db - 4 for at, db in HEALTHY.items()},
            late_samples=dict.fromkeys(USED, 33.3),
            noise_dbfs=-85,
            start_s=seed,
        )
        assert drift(rack.prove(later, seed=seed)) == set()


def test_what_has_moved_is_told(rack: Rack) -> None:
    rack.prove(Faults(gain_db=HEALTHY, noise_dbfs=-90), "--keep", "--date", "2027-03-01")
    later = rack.prove(
        Faults(
            gain_db={**HEALTHY, 0: HEALTHY[0] - 1.2},
            flipped=frozenset({3}),
            noise_dbfs=-90,
            noisy_dbfs={11: -75.0},
        )
    )
    assert later.code == 1
    assert drift(later) == {
        (1, "level", "lead"),
        (4, "polarity", "hands"),
        (12, "noise", "channel"),
    }
    told = {one["channel"]: one for one in later.json["result"]["drift"]}
    assert told[1]["now"] - told[1]["before"] == pytest.approx(-1.2, abs=0.05)
    assert told[12]["now"] - told[12]["before"] == pytest.approx(15, abs=0.5)
    assert {one["since"] for one in told.values()} == {"2027-03-01"}
    assert "lead or one of its plugs is going" in told[1]["says"]


def test_earlier_proofs_stay_and_the_newest_counts(rack: Rack) -> None:
    louder = {**HEALTHY, 2: HEALTHY[2] - 3}
    for gains, date in ((HEALTHY, "2027-03-01"), (HEALTHY, "2027-03-01"), (louder, "2027-04-01")):
        rack.prove(Faults(gain_db=gains), "--keep", "--date", date)
    assert rack.kept == [
        "proof-2027-03-01-2.json",
        "proof-2027-03-01.json",
        "proof-2027-04-01.json",
    ]
    assert drift(rack.prove(Faults(gain_db=louder))) == set()
    assert drift(rack.prove(Faults(gain_db=HEALTHY))) == {(3, "level", "hands")}


def test_exchanged_lines_have_not_drifted(rack: Rack) -> None:
    """Channels 3 and 4 hold each other's lines, 6 dB apart: that is said once, as what it is."""
    apart = {**HEALTHY, 3: HEALTHY[2] - 6}
    rack.prove(Faults(gain_db=apart), "--keep", "--date", "2027-03-01")
    swapped = {**apart, 2: apart[3], 3: apart[2]}
    outcome = rack.prove(Faults(gain_db=swapped, route={2: 3, 3: 2}))
    assert "are swapped" in outcome.json["result"]["findings"][0]["says"]
    assert drift(outcome) == set()


def test_a_line_that_failed_is_no_reference(rack: Rack) -> None:
    """Kept with channel 4 upside down: that it is right again is no drift."""
    flipped = Faults(gain_db=HEALTHY, flipped=frozenset({3}))
    rack.prove(flipped, "--keep", "--date", "2027-03-01")
    kept = json.loads((rack.rig / "measured" / "proof-2027-03-01.json").read_bytes())
    assert {one["channel"] for one in kept["lines"] if one["grade"] == "fail"} == {4}
    assert drift(rack.prove(Faults(gain_db=HEALTHY))) == set()


def test_most_lines_of_a_box_point_at_the_box(rack: Rack) -> None:
    """The three lines of the split grow noisy, the one beside it does not."""
    rack.prove(Faults(gain_db=HEALTHY), "--keep", "--date", "2027-03-01")
    noisy = rack.prove(Faults(gain_db=HEALTHY, noisy_dbfs={0: -70, 2: -70, 3: -70}))
    assert drift(noisy) == {(n, "noise", "box") for n in (1, 3, 4)}
    assert "Split" in noisy.json["result"]["drift"][0]["says"]


@pytest.mark.parametrize(
    "text", ["", "{", '{"form": 1}', '{"form": 9, "date": "x", "rig": "", "lines": []}', "\xff"]
)
def test_a_broken_reference_is_named(rack: Rack, text: str) -> None:
    (rack.rig / "measured").mkdir()
    (rack.rig / "measured" / "proof-2027-01-01.json").write_bytes(text.encode("latin-1"))
    outcome = rack.prove(Faults(gain_db=HEALTHY), "--keep", "--date", "2027-03-01")
    assert outcome.code == 2
    assert "proof-2027-01-01.json" in outcome.json["faults"][0]["says"]
    assert rack.kept == ["proof-2027-01-01.json"]


@pytest.mark.parametrize("date", ["yesterday", "2027-02-30", "20270301", "../../x"])
def test_a_date_that_is_none(rack: Rack, date: str) -> None:
    outcome = rack.prove(Faults(gain_db=HEALTHY), "--keep", "--date", date)
    assert outcome.code == 2
    assert "is no date" in outcome.json["faults"][0]["says"]
    assert rack.kept == []


def test_keeping_wants_a_rig(rack: Rack) -> None:
    outcome = rack.run("prove", rack.signal, rack.signal, "--keep")
    assert outcome.code == 2
    assert "no rig is named" in outcome.err
