"""Each line is played as loud as its source will be, and told all the same."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from rigproof.checks.rule import look
from rigproof.linecheck import of_rig
from rigproof.linecheck.playing import MOST_UNDER_DB, playing
from rigproof.linecheck.score import Score, recognised, rendered
from rigproof.rigfile.load import load
from tests.cli.conftest import Run, run  # noqa: F401 (a fixture)
from tests.linecheck.simulated import Faults, through

TRIO = Path(__file__).resolve().parents[2] / "examples" / "trio"
RATE = 16_000
LOUD_DBU = 18.0


def test_every_preamp_sees_its_plan(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """Behind the planned gains all lines stand so far under the peaks that the plan has there."""
    path = tmp_path / "signal.wav"
    words = ("signal", TRIO, "-o", path, "--rate", RATE, "--full-scale", LOUD_DBU, "--level", -12)
    result = run(*words, "--json").json["result"]
    sound, _ = soundfile.read(path)
    view = look(load(TRIO / "rig.yaml"))
    lineup = of_rig(view.rig, view.graph, view.figures)
    assert [one["channel"] for one in result["planned"]] == [1, 2, 3, 4, 5, 6]
    for number, line in lineup.items():
        at_plug_dbu = 20 * np.log10(np.abs(sound[:, number - 1]).max()) + LOUD_DBU
        assert line.gain_db is not None
        node = view.graph.index[f"mixer.ch.{number}"]
        planned = view.levels.peaks.peak_db(node)
        assert planned is not None
        assert at_plug_dbu + line.gain_db == pytest.approx(planned - 12, abs=0.05)


def test_without_a_full_scale_the_loudest_stands_at_the_level(run: Run, tmp_path: Path) -> None:  # noqa: F811
    path = tmp_path / "signal.wav"
    words = ("signal", TRIO, "-o", path, "--rate", RATE, "--level", -26)
    result = run(*words, "--json").json["result"]
    sound, _ = soundfile.read(path)
    peaks = 20 * np.log10(np.abs(sound).max(axis=0))
    assert peaks.max() == pytest.approx(-26, abs=0.02)
    planned = [one["planned_dbu"] for one in result["planned"]]
    assert peaks - peaks.max() == pytest.approx(np.array(planned) - max(planned), abs=0.06)
    even = run(*words, "--even", "--json").json["result"]
    assert even["planned"] == []
    sound, _ = soundfile.read(path)
    assert 20 * np.log10(np.abs(sound).max(axis=0)) == pytest.approx(np.full(6, -26), abs=0.02)


def test_levels_are_held_within_what_can_be_played() -> None:
    loud = playing({1: 20.0, 2: -30.0}, channels=3, level_db=-10, full_scale_dbu=0.0)
    assert loud.level_of(1) == -3  # not +10: the player ends there, which is under the plan
    assert loud.held == (1,)
    assert loud.level_of(3) == loud.level_of(2) == -40
    soft = playing({1: 10.0, 2: -80.0}, channels=2, level_db=-20, full_scale_dbu=None)
    assert soft.level_of(1) == -20
    assert soft.under_db[1] == pytest.approx(71)  # not up to its plan, though that is beyond
    assert soft.under_db[1] > MOST_UNDER_DB
    none = playing({}, channels=2, level_db=-20, full_scale_dbu=None)
    assert none.under_db == (0.0, 0.0)


def test_the_file_tells_its_levels() -> None:
    score = Score(4, RATE, (0.0, 12.5, 40.0, 3.0))
    found = recognised(rendered(score, level_dbfs=-20), RATE)
    assert found is not None
    assert found[0].under_db == pytest.approx(score.under_db, abs=0.02)
    assert found[1] == pytest.approx(-20, abs=0.01)


def test_what_was_played_softly_is_not_low(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """Gains are read against what was played; a line 30 dB softer is told as any other."""
    signal, take = tmp_path / "signal.wav", tmp_path / "take.wav"
    played = rendered(Score(4, RATE, (0.0, 30.0, 12.0, 20.0)), level_dbfs=-20)
    soundfile.write(signal, played, RATE, "PCM_24")
    faults = Faults(flipped=frozenset({1}), leaks={(2, 1): -20.0}, gain_db={3: -4.0})
    soundfile.write(take, through(played, faults, rate_hz=RATE, seed=3), RATE, "PCM_24")
    result = run("prove", signal, take, "--json").json["result"]
    lines = {one["channel"]: one for one in result["lines"]}
    assert [round(lines[n]["gain_error_db"], 1) for n in (1, 2, 3, 4)] == [0, 0, 0, -4]
    kinds = {(one["kind"], one["channel"]) for one in result["findings"]}
    assert kinds == {("polarity", 2), ("crosstalk", 3), ("level", 4)}
    (leak,) = lines[3]["crosstalk"]
    assert leak["level_db"] == pytest.approx(-20, abs=0.3)


def test_a_phone_from_plug_to_plug(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """Each channel's own file, played one after another into plugs of which two are exchanged."""
    signal, lines, take = tmp_path / "signal.wav", tmp_path / "lines", tmp_path / "take.wav"
    words = ("signal", "--count", 4, "--rate", RATE, "-o", signal, "--lines", lines, "--json")
    assert run(*words).json["result"]["lines"] == str(lines)
    dice = np.random.default_rng(7)
    parts = []
    for number, channel, sign in ((1, 1, 1), (2, 3, 1), (3, 2, -1)):
        alone, _ = soundfile.read(lines / f"signal-{number:03d}.wav")
        part = np.zeros((len(alone) + int(dice.uniform(1, 3) * RATE), 4))
        part[-len(alone) :, channel - 1] = sign * alone
        parts.append(part)
    sound = np.concatenate(parts)
    soundfile.write(take, sound + dice.normal(0, 1e-5, sound.shape), RATE, "PCM_24")
    result = run("prove", signal, take, "--walk", "--json").json["result"]
    assert [one["holds"] for one in result["lines"]] == [1, 3, 2, None]
    kinds = {(one["kind"], one["channel"]) for one in result["findings"] if one["grade"] == "fail"}
    assert kinds == {("elsewhere", 2), ("polarity", 2), ("missing", 4)}


def test_a_plain_list_is_played_as_far_as_it_goes(run: Run, tmp_path: Path) -> None:  # noqa: F811
    listed, path = tmp_path / "my list.csv", tmp_path / "signal.wav"
    listed.write_text("number,name\n1,Kick\n3,Voice\n", encoding="utf-8")
    outcome = run("signal", "--channels", listed, "--rate", RATE, "-o", path)
    assert soundfile.info(path).channels == 3
    assert f"--channels '{listed}'" in " ".join(outcome.out.split())


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (("--full-scale", "18"), "come from a rig"),
        ((TRIO, "--full-scale", "99"), "no player"),
        ((TRIO, "--channels", TRIO / "rig.yaml"), "both named"),
        ((TRIO, "--even", "--full-scale", "18"), "are not even"),
        ((TRIO, "--level", "0"), "is refused"),
        ((TRIO, "--lines", TRIO / "rig.yaml"), "is a file"),
    ],
)
def test_what_cannot_be_meant(
    run: Run,  # noqa: F811
    tmp_path: Path,
    words: tuple[object, ...],
    fault: str,
) -> None:
    outcome = run("signal", *words, "-o", tmp_path / "s.wav")
    assert outcome.code == 2
    assert fault in " ".join(outcome.err.split())
    assert not (tmp_path / "s.wav").exists()
