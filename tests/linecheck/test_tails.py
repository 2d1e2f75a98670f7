"""The house's end of the tails: broken pairs are named by what they do, whole ones are quiet."""

import json
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import resample_poly

import rigproof
from rigproof.linecheck.lineup import Line
from rigproof.linecheck.routing import Words, misplaced
from rigproof.linecheck.score import Score, rendered
from rigproof.linecheck.walking import matched
from tests.cli.conftest import Outcome, Run, run  # noqa: F401 (a fixture)
from tests.linecheck.house_end import (
    BAD_JOINT,
    DIRECT,
    DRIVEN,
    ISOLATED,
    LINE_IN,
    MIC_IN,
    ON_SHIELD,
    OPEN_2,
    OPEN_3,
    OPEN_AT_HOUSE,
    SHORT,
    House,
    at_house,
    automatic,
    walk,
)

DEMO = Path(rigproof.__file__).parent / "demo"
TRIO = Path(__file__).resolve().parents[2] / "examples" / "trio"
RATE = 16_000  # the cheapest at which all is judged that a tail does
TAILS = 6
SEED = 20_270_312

Frames = NDArray[np.float32]


@pytest.fixture(scope="module")
def played() -> Frames:
    return rendered(Score(TAILS, RATE), level_dbfs=-20)


@pytest.fixture(scope="module")
def signal(played: Frames, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("signal") / "signal.wav"
    soundfile.write(path, played, RATE, subtype="PCM_24")
    return path


def proved(run: Run, signal: Path, sound: Any, *words: object, rate_hz: int = RATE) -> Outcome:  # noqa: F811
    take = signal.with_name("take.wav")
    soundfile.write(take, sound, rate_hz, "PCM_24")
    return run("prove", signal, take, "--rig", TRIO, "--at", "cellar", "--json", *words)


def told(outcome: Outcome) -> set[tuple[str, int]]:
    return {
        (one["kind"], one["channel"])
        for one in outcome.json["result"]["findings"]
        if one["grade"] == "fail"
    }


def says(outcome: Outcome, tail: int) -> str:
    return " ".join(
        one["says"] for one in outcome.json["result"]["findings"] if one["channel"] == tail
    )


def test_broken_pairs(run: Run, played: Frames, signal: Path) -> None:  # noqa: F811
    house = House(
        broken={
            1: (DRIVEN, LINE_IN, OPEN_3),
            2: (ISOLATED, LINE_IN, OPEN_AT_HOUSE),
            4: (ISOLATED, LINE_IN, SHORT),
        },
        hum_dbfs={1: -62},
    )
    outcome = proved(run, signal, at_house(played, house, rate_hz=RATE, seed=SEED))
    assert told(outcome) == {("open-leg", 1), ("open-leg", 2), ("short", 4)}
    lines = {one["channel"]: one for one in outcome.json["result"]["lines"]}
    assert lines[1]["gain_error_db"] == pytest.approx(-6, abs=0.4)
    assert "hums as well" in says(outcome, 1)
    assert "thin" in says(outcome, 2)
    assert "touch" in says(outcome, 4)
    assert [lines[n]["grade"] for n in (3, 5, 6)] == ["pass", "pass", "pass"]


def test_polarity_silence_and_places(run: Run, played: Frames, signal: Path) -> None:  # noqa: F811
    house = House(
        broken={
            5: (DIRECT, LINE_IN, ON_SHIELD),  # hidden from any level
            6: (DRIVEN, MIC_IN, OPEN_2),
        },
        route={2: 3, 3: 2},
        flipped=frozenset({1}),
        dead=frozenset({4}),
        hum_dbfs={4: -50},
    )
    outcome = proved(run, signal, at_house(played, house, rate_hz=RATE, seed=SEED))
    expected = {("polarity", 1), ("elsewhere", 2), ("missing", 4), ("open-leg", 6)}
    assert told(outcome) - {("hum", 4)} == expected
    assert "48 V resistors" in says(outcome, 6)
    assert "are swapped" in says(outcome, 2)
    assert "open leg or shield than a short" in says(outcome, 4)
    lines = {one["channel"]: one for one in outcome.json["result"]["lines"]}
    assert [lines[n]["holds"] for n in range(1, 7)] == [1, 3, 2, None, 5, 6]
    assert lines[5]["grade"] == "pass"
    assert any("a line that floats" in one for one in outcome.json["result"]["not_tested"])


@pytest.mark.parametrize("seed", range(3))
def test_whole_tails_are_quiet(run: Run, played: Frames, signal: Path, seed: int) -> None:  # noqa: F811
    """Gains of a house set alike by hand, ordinary noise, a recorder that began earlier."""
    dice = np.random.default_rng(seed)
    house = House(
        gain_db={n: float(dice.uniform(-1, 1)) for n in range(1, 7)},
        noise_dbfs=float(dice.uniform(-100, -80)),
    )
    sound = np.pad(at_house(played, house, rate_hz=RATE, seed=seed), ((9000, 0), (0, 0)))
    outcome = proved(run, signal, sound)
    assert outcome.json["result"]["findings"] == []
    assert outcome.code == 0


def test_a_house_that_is_set_anyhow(run: Run, played: Frames, signal: Path) -> None:  # noqa: F811
    """Its levels tell nothing, and that is said; a thin line and a turned one are still told."""
    house = House(
        broken={3: (ISOLATED, LINE_IN, OPEN_AT_HOUSE)},
        flipped=frozenset({5}),
        gain_db={1: 0, 2: 9, 4: -8, 5: 17, 6: -15},
    )
    outcome = proved(run, signal, at_house(played, house, rate_hz=RATE, seed=SEED))
    assert told(outcome) == {("open-leg", 3), ("polarity", 5)}
    assert "set them all to one gain" in outcome.json["result"]["not_tested"][0]


def test_a_bad_joint(run: Run, played: Frames, signal: Path) -> None:  # noqa: F811
    """An ohm here and there is nobody's trouble; a thousand of them is a level."""
    house = House(broken={3: (ISOLATED, MIC_IN, BAD_JOINT)}, gain_db={3: -4})
    outcome = proved(run, signal, at_house(played, house, rate_hz=RATE, seed=SEED))
    (one,) = outcome.json["result"]["findings"]
    assert (one["kind"], one["channel"]) in {("level", 3), ("open-leg", 3)}


def test_on_paper(run: Run, played: Frames, signal: Path, tmp_path: Path) -> None:  # noqa: F811
    house = House(broken={1: (DRIVEN, LINE_IN, OPEN_3)}, flipped=frozenset({2}))
    sound = at_house(played, house, rate_hz=RATE, seed=SEED)
    for language, words in (("en", "one leg of the pair"), ("de", "Eine Ader des Paars")):
        report = tmp_path / f"{language}.pdf"
        outcome = proved(run, signal, sound, "--report", report, "--language", language)
        assert outcome.json["result"]["written"] == [str(report)]
        text = " ".join(
            page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(report)
        )
        assert words in " ".join(text.split())


# One tail after another


def test_a_walk(run: Run, played: Frames, signal: Path) -> None:  # noqa: F811
    """A dead tail, two swapped, one with half its level; a recorder at another rate."""
    house = House(
        broken={1: (DRIVEN, LINE_IN, OPEN_3)},
        route={3: 5, 5: 3},
        flipped=frozenset({6}),
        dead=frozenset({4}),
    )
    heard = at_house(played, house, rate_hz=RATE, seed=SEED)
    sound = walk(played, heard, rate_hz=RATE, order=(1, 2, 3, 4, 5, 6), seed=SEED)
    sound = resample_poly(sound, 441, 320)
    outcome = proved(run, signal, sound, "--walk", rate_hz=22_050)
    assert told(outcome) == {("open-leg", 1), ("elsewhere", 3), ("missing", 4), ("polarity", 6)}
    plugged = [(one["tail"], one["holds"]) for one in outcome.json["result"]["plugged"]]
    assert plugged == [(1, 1), (2, 2), (3, 5), (5, 3), (6, 6)]
    assert "heard on no tail" in says(outcome, 4)


def test_a_recorder_that_turns_its_level(run: Run, played: Frames, signal: Path) -> None:  # noqa: F811
    """With an automatic level no level counts; places and polarity do."""
    house = House(broken={2: (DRIVEN, LINE_IN, OPEN_3)}, flipped=frozenset({3}))
    heard = at_house(played, house, rate_hz=RATE, seed=SEED)
    sound = walk(played, heard, rate_hz=RATE, order=(3, 2, 1), seed=SEED)
    sound = automatic(sound, RATE)
    outcome = proved(run, signal, sound, "--walk", "3-1")
    assert told(outcome) == {("polarity", 3)}
    kinds = {one["kind"] for one in outcome.json["result"]["findings"]}
    assert "automatic" in kinds
    assert any("turned them by itself" in one for one in outcome.json["result"]["not_tested"])


@pytest.mark.parametrize(
    ("heard", "order", "pairs"),
    [
        ((1, 2, 3), (1, 2, 3), ((0, 1), (1, 2), (2, 3))),
        ((2, 1, 3), (1, 2, 3), ((0, 1), (1, 2), (2, 3))),
        ((1, 3, 4), (1, 2, 3, 4), ((0, 1), (1, 3), (2, 4))),
        ((2, 3, 4, 1), (1, 2, 3, 4), ((0, 1), (1, 2), (2, 3), (3, 4))),
        ((1, 2, 5, 3, 6), (1, 2, 3, 4, 5, 6), ((0, 1), (1, 2), (2, 3), (3, 5), (4, 6))),
        ((1, 2, 1, 2, 3), (1, 2, 3), ((2, 1), (3, 2), (4, 3))),
        ((4,), (1, 2, 3, 4), ((0, 4),)),
    ],
)
def test_which_stop_was_which_tail(
    heard: Sequence[int], order: Sequence[int], pairs: tuple[tuple[int, int], ...]
) -> None:
    assert matched(heard, order) == pairs


# Lines that are where they should not be


def test_a_private_line_at_the_house(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """The band's talk on the tail of the Kick, and softly on that of the Snare."""
    signal, take = tmp_path / "signal.wav", tmp_path / "take.wav"
    played = rendered(Score(28, RATE), level_dbfs=-20)
    soundfile.write(signal, played, RATE, subtype="PCM_24")
    carried = [1, 2, *range(11, 27)]  # what that house's first eighteen inputs get
    sound = played[:, [n - 1 for n in carried]].astype(float)
    sound[:, 0] = played[:, 27]
    sound[:, 1] += 0.03 * played[:, 27]
    soundfile.write(take, sound, RATE, subtype="PCM_24")
    outcome = run("prove", signal, take, "--rig", DEMO, "--at", "club", "--json")
    assert {("private", 1), ("private", 2)} <= told(outcome)
    assert "Band talk) is for the band alone" in says(outcome, 1)
    lines = {one["channel"]: one for one in outcome.json["result"]["lines"]}
    assert lines[1]["holds"] == 28
    assert lines[26]["grade"] == "pass"


def at_desk(run: Run, tmp_path: Path, played: Frames, house: Any, venue: str) -> Outcome:  # noqa: F811
    signal, take = tmp_path / "signal.wav", tmp_path / "take.wav"
    soundfile.write(signal, played, RATE, subtype="PCM_24")
    soundfile.write(take, house, RATE, subtype="PCM_24")
    return run("prove", signal, take, "--rig", DEMO, "--at", venue, "--json")


def test_lines_by_network_have_no_legs(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """A digital line 6 dB down is a level, and its pins are nobody's business."""
    played = rendered(Score(10, RATE), level_dbfs=-20)
    planned_db = [8, 6, 1, 7, 7, 0, -1, -1, -1, -1]  # what that rig's preamps plan
    house = played * [10 ** (db / 20) for db in planned_db]
    house = np.delete(house, 5, axis=1)
    house[:, 2] *= 0.3
    outcome = at_desk(run, tmp_path, played, house, "festival")
    kinds = {(one["kind"], one["channel"]) for one in outcome.json["result"]["findings"]}
    assert ("level", 43) in kinds
    assert not {kind for kind, _ in kinds} & {"open-leg", "short"}
    untested = outcome.json["result"]["not_tested"]
    assert not any("pins 2 and 3" in one for one in untested)
    assert "tail 51: the signal has no channel for it" in " ".join(untested)


def test_tails_that_nobody_plugged_are_told_together(
    run: Run,  # noqa: F811
    played: Frames,
    signal: Path,
) -> None:
    heard = at_house(played, House(), rate_hz=RATE, seed=SEED)
    sound = walk(played, heard, rate_hz=RATE, order=(2,), seed=SEED, hold_s=0.2)
    outcome = proved(run, signal, sound, "--walk")
    (one,) = outcome.json["result"]["findings"]
    assert (one["kind"], one["channel"], one["others"]) == ("missing", 1, [3, 4, 5, 6])
    assert "tails 1, 3-6 were" in one["says"]
    assert proved(run, signal, sound, "--walk", "2").json["result"]["findings"] == []


def test_two_looms_exchanged() -> None:
    lineup = {n: Line(number=n, name=f"s{n}") for n in range(1, 25)}
    ruling: dict[int, int | None] = {n: n for n in range(17, 25)}
    ruling |= {n: n + 8 for n in range(1, 9)} | {n: n - 8 for n in range(9, 17)}
    (one,) = misplaced(ruling, Words(lineup, "en"), 24)
    assert "lines 1 to 8 and 9 to 16 are exchanged row for row" in one.says.lower()
    assert {one.channel, *one.others} == set(range(1, 17))


def test_tails_that_are_kept(run: Run, played: Frames, signal: Path, tmp_path: Path) -> None:  # noqa: F811
    """Another night the house is 6 dB up: only what one tail did beside the others is told."""
    rig = tmp_path / "rig"
    shutil.copytree(TRIO, rig)
    words = ("--rig", rig, "--at", "cellar", "--json")

    def night(date: str, house: House, seed: int, *more: object) -> Outcome:
        take = tmp_path / "take.wav"
        sound = at_house(played, house, rate_hz=RATE, seed=seed)
        soundfile.write(take, sound, RATE, "PCM_24")
        return run("prove", signal, take, *words, "--keep", "--date", date, *more)

    first = night("2027-03-01", House(noise_dbfs=-80), 1)
    assert first.json["result"]["written"] == [str(rig / "measured" / "tails-2027-03-01.json")]
    kept = json.loads((rig / "measured" / "tails-2027-03-01.json").read_bytes())
    assert (kept["kind"], kept["venue"]) == ("tails", "cellar")
    assert len({line["socket"] for line in kept["lines"]}) == TAILS
    louder = House(gain_db=dict.fromkeys(range(1, 7), 6.0), noise_dbfs=-74)
    assert night("2027-03-08", louder, 2).json["result"]["drift"] == []
    gone = House(
        gain_db={**dict.fromkeys(range(1, 7), 6.0), 4: 4.2, 5: 1.0, 6: -8.0},
        flipped=frozenset({2}),
        hum_dbfs={3: -60},
        noise_dbfs=-74,
    )
    report = tmp_path / "tails.pdf"
    told = night("2027-03-15", gone, 3, "--report", report).json["result"]["drift"]
    assert {(one["matter"], one["channel"], one["grade"]) for one in told} == {
        ("polarity", 2, "fail"),
        ("hum", 3, "fail"),
        ("level", 4, "doubt"),
        ("level", 5, "fail"),
        ("level", 6, "fail"),
    }
    (level,) = [one for one in told if one["matter"] == "level" and one["channel"] == 4]
    assert level["says"].startswith("Level of tail 4 (")
    assert level["since"] == "2027-03-08"
    text = " ".join(
        page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(report)
    )
    assert "what was kept of this house" in " ".join(text.split())
    # Nothing of it stands for the lines to the mixer, and no rule takes it for another rig's.
    says = " ".join(run("check", rig).out.split())
    assert "no line is one of this rig" not in says
    assert "Level of tail 4 (" in says
    assert "is going (from memory): change it" in says
    sound = at_house(played, House(), rate_hz=RATE, seed=1)
    walked = walk(played, sound, rate_hz=RATE, order=(1, 2), seed=1, hold_s=0.2)
    take = tmp_path / "walk.wav"
    soundfile.write(take, walked, RATE, "PCM_24")
    other = run("prove", signal, take, *words, "--walk", "1,2").json["result"]
    assert other["drift"] == []  # a walk is not held against inputs of the house


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (("--at", "cellar"), "no rig"),
        (("--rig", TRIO, "--at", "celar"), "no venue"),
        (("--rig", TRIO, "--walk", "1-3"), "those of a venue"),
        (("--rig", TRIO, "--at", "cellar", "--walk", "1,x"), "is no tail"),
        (("--rig", TRIO, "--at", "cellar", "--walk", "9"), "is not plugged there"),
        (("--rig", TRIO, "--at", "cellar", "--walk", "1,1"), "twice"),
        (("--rig", TRIO, "--at", "cellar", "--walk"), "recorded on one"),
        (("--rig", DEMO, "--at", "hall"), "plugs no line"),
    ],
)
def test_what_cannot_be_meant(
    run: Run,  # noqa: F811
    signal: Path,
    words: tuple[object, ...],
    fault: str,
) -> None:
    outcome = run("prove", signal, signal, *words)
    assert outcome.code == 2
    assert fault in " ".join(outcome.err.split())


def test_a_walk_without_a_signal(run: Run, signal: Path) -> None:  # noqa: F811
    sound = np.random.default_rng(SEED).normal(0, 0.01, 40 * RATE)
    outcome = proved(run, signal, sound, "--walk")
    assert outcome.code == 2
    assert "nowhere whole" in outcome.json["faults"][0]["says"]
