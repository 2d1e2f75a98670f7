"""A kept proof is the healthy reference: what has moved since is told, and nothing else."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from rigproof.linecheck.score import Score, rendered
from rigproof.physics.weighting import flat_to_a_dbu
from tests.cli.conftest import SMALL, Outcome, Run, run  # noqa: F401 (a fixture)
from tests.linecheck.simulated import Faults, through

RATE = 48_000
# As few channels as will do: a signal for many is longer.
RIG = SMALL.replace("plug: mixer.in.12, channel: 12", "plug: mixer.in.12, channel: 5")
CHANNELS = 6
USED = (0, 2, 3, 4)


@cache
def played() -> NDArray[np.float32]:
    """The test signal, made once."""
    return rendered(Score(CHANNELS, RATE), level_dbfs=-20)


class Rack:
    """A rig on disk, its test signal, and takes of it on different days."""

    def __init__(self, folder: Path, run: Run) -> None:  # noqa: F811
        self.folder, self.run = folder, run
        self.rig = folder / "rig"
        self.rig.mkdir()
        (self.rig / "rig.yaml").write_text(RIG, encoding="utf-8")
        self.signal = folder / "signal.wav"
        soundfile.write(self.signal, played(), RATE, subtype="PCM_24")

    def prove(self, faults: Faults, *words: object, seed: int = 1) -> Outcome:
        take = self.folder / "take.wav"
        dead = faults.dead | frozenset(range(CHANNELS)) - frozenset(USED)
        sound = through(played(), Faults(**{**vars(faults), "dead": dead}), rate_hz=RATE, seed=seed)
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


HEALTHY = {0: -12.0, 2: -11.6, 3: -12.2, 4: -12.1}


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
            noisy_dbfs={4: -75.0},
        )
    )
    assert later.code == 1
    assert drift(later) == {
        (1, "level", "lead"),
        (4, "polarity", "hands"),
        (5, "noise", "channel"),
    }
    told = {one["channel"]: one for one in later.json["result"]["drift"]}
    assert told[1]["now"] - told[1]["before"] == pytest.approx(-1.2, abs=0.05)
    assert told[5]["now"] - told[5]["before"] == pytest.approx(15, abs=0.5)
    assert {one["since"] for one in told.values()} == {"2027-03-01"}
    assert "A lead of this line or one of its plugs is going" in told[1]["says"]
    assert told[1]["leads"] == [
        "the lead plugged into Split, in 1",
        "the lead from Split, direct 1 to Mixer, in 1 (to-mixer)",
    ]
    assert all(lead in told[1]["says"] for lead in told[1]["leads"])


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
    fault = outcome.json["faults"][0]
    assert fault["file"] == "measured/proof-2027-01-01.json"
    assert "move it away" in fault["fix"]
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


# ---- what was measured replaces what was assumed ---------------------------------------------


LATE_MS, LOOP = 31.7, CHANNELS  # the player's and the recorder's own time, and where it is heard
WAY_MS = {0: 1.62, 2: 1.9, 3: 1.9, 4: 2.4}
NOISE_DBFS = -101.0


@pytest.fixture(scope="module")
def looped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A rig whose lines were measured beside a loop lead; delays and noise are ours."""
    folder = tmp_path_factory.mktemp("looped")
    (folder / "rig").mkdir()
    (folder / "rig" / "rig.yaml").write_text(RIG, encoding="utf-8")
    soundfile.write(folder / "signal.wav", played(), RATE, subtype="PCM_24")
    late = {at: (LATE_MS + way_ms) * RATE / 1000 for at, way_ms in WAY_MS.items()}
    faults = Faults(
        gain_db={**HEALTHY, LOOP - 1: -3.0},
        late_samples={**late, LOOP - 1: LATE_MS * RATE / 1000},
        dead=frozenset({1}),
        noise_dbfs=NOISE_DBFS,
    )
    sound = through(played(), faults, rate_hz=RATE, seed=3)
    soundfile.write(folder / "take.wav", sound, RATE, subtype="PCM_24")
    return folder


def test_what_a_rig_does_is_what_is_kept_and_what_counts(
    run: Run,  # noqa: F811
    looped: Path,
) -> None:
    """The law: delay and noise that a simulated rig has are those that the rig then shows."""
    rig, trace = looped / "rig", ("trace", looped / "rig", "voice", "ana", "--json")
    before = run(*trace).json["result"]
    outcome = run(
        "prove", looped / "signal.wav", looped / "take.wav", "--rig", rig, "--loop", LOOP,
        "--keep", "--date", "2027-03-01", "--json",
    )  # fmt: skip
    assert outcome.json["result"]["lines"][-1]["channel"] == CHANNELS - 1
    kept = {line["channel"]: line for line in _kept(rig / "measured" / "proof-2027-03-01.json")}
    assert {at: kept[at + 1]["way_ms"] for at in WAY_MS} == pytest.approx(WAY_MS, abs=0.002)
    for at in WAY_MS:
        assert kept[at + 1]["noise_dbfs"] == pytest.approx(NOISE_DBFS, abs=0.2)
        # White up to 24 kHz: less of it below 20, and less again A-weighted (IEC 61672-1).
        dba = flat_to_a_dbu(NOISE_DBFS + 10 * np.log10(20 / 24))
        assert kept[at + 1]["noise_dba"] == pytest.approx(dba, abs=0.3)
    after = run(*trace).json["result"]
    delay = {one["what"]: one for one in after["measured"]}["delay of the line"]
    assert delay == {
        "place": "mixer.ch.1",
        "what": "delay of the line",
        "value": kept[1]["way_ms"],
        "unit": "ms",
        "read": kept[1]["way_ms"],
        "date": "2027-03-01",
        "method": "test signal played into the plugs",
        "counts": True,
    }
    hops = {hop["lanes"][0]: hop for hop in after["ways"][0]["hops"]}
    assert hops["mixer.ch.1"]["delay_ms"] == [kept[1]["way_ms"]]
    assert hops["mixer.ch.1"]["delay_from"] == "measured"
    here, then = (_at_channel(result)["noise"] for result in (after, before))
    # A microphone without hiss of its own stands before the plug, so this is all there is.
    assert here["value"] == pytest.approx(kept[1]["noise_dba"], abs=0.05)
    assert (here["from"], then["from"]) == ("measured", "assumed")
    assert here["high"] - here["low"] == pytest.approx(1.0)
    assert then["high"] - then["low"] > 5
    assert after["ways"][0]["delay_ms"]["low"] != before["ways"][0]["delay_ms"]["low"]
    why = run("why", rig, "voice", "ana", "--of", "delay")
    assert "measured, 2027-03-01, test signal played into the plugs" in why.out
    # Taking the file away brings back what was assumed; the rig file was never touched.
    for path in (rig / "measured").iterdir():
        path.unlink()
    assert run(*trace).json["result"] == before
    assert (rig / "rig.yaml").read_text(encoding="utf-8") == RIG


def _at_channel(result: Any) -> Any:
    rungs = result["ways"][0]["levels"]["rungs"]
    return next(rung for rung in rungs if rung["place"] == "mixer.ch.1")


def _kept(path: Path) -> list[dict[str, Any]]:
    lines: list[dict[str, Any]] = json.loads(path.read_bytes())["lines"]
    return lines


@pytest.mark.parametrize(
    ("loop", "says"),
    [(0, "is no loop"), (2, "is no loop"), (40, "is no loop"), (5, "belongs to Click")],
)
def test_a_loop_that_is_none(
    run: Run,  # noqa: F811
    looped: Path,
    loop: int,
    says: str,
) -> None:
    """A dead channel, one that is not there, one of the rig."""
    outcome = run(
        "prove", looped / "signal.wav", looped / "take.wav", "--rig", looped / "rig",
        "--loop", loop, "--keep", "--json",
    )  # fmt: skip
    assert outcome.code == 2
    assert says in outcome.json["faults"][0]["says"]
    assert not list((looped / "rig").glob("measured/*"))


@pytest.mark.parametrize("words", [("--walk",), ("--at", "hall")])
def test_a_loop_wants_all_lines_at_once(
    run: Run,  # noqa: F811
    looped: Path,
    words: tuple[str, ...],
) -> None:
    outcome = run(
        "prove", looped / "signal.wav", looped / "take.wav", "--rig", looped / "rig",
        "--loop", LOOP, *words, "--json",
    )  # fmt: skip
    assert outcome.code == 2
    assert "all lines play at once" in outcome.json["faults"][0]["says"]
