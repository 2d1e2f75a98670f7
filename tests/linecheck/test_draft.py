"""First mixes from a take: the wished relations, hiss and delays are in the files one can hear."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pyloudnorm
import pypdfium2
import pytest
import soundfile
from scipy.signal import butter, sosfilt

import rigproof
from rigproof.checks.rule import look
from rigproof.mixes.exposure import CRITERIA
from rigproof.physics.exposure import allowed_h
from rigproof.rigfile.load import load
from tests.cli.conftest import Outcome, Run, run  # noqa: F401 (a fixture)

DEMO = Path(rigproof.__file__).parent / "demo"
RATE = 48_000
SEED = 20_270_301
# Each track plays alone for so long, so that a meter can tell them apart in the mix.
ALONE_S = 3.0

RIG = """\
format: 1
rig: {name: Small rig, band: Mossgate Three}
people:
  - {id: ana, name: Ana Ørn, plays: voice, part: voices, at_m: [0, 1], hours_per_week_h: 4,
     ears: {plug: amp.phones.1, earphones: earphones-dual}}
  - {id: bo, name: Bo, plays: keys, part: keys, at_m: [2, 1],
     ears: {plug: amp.phones.2, earphones: earphones-dual}}
sources:
  - {id: voice, name: Lead voice, family: voices, player: ana, mic: mic-vocal-dynamic, spl_db: 104}
  - {id: keys, name: Keys, family: keys, player: bo, stereo: true, di: di-passive-stereo,
     connector: jack-ts-f, level_dbu: -4, impedance_ohm: 600}
  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 118}
  - {id: snare, name: Snare, family: drums, mic: mic-instrument-dynamic, spl_db: 116}
  - {id: bass, name: Bass, family: bass, di: di-active, connector: jack-ts-f, level_dbu: -10,
     impedance_ohm: 10000}
  - {id: click, name: Click, family: click, mic: mic-vocal-dynamic, spl_db: 100}
gear:
  - {id: mixer, name: Mixer, type: mixer-rack-24}
  - {id: amp, name: Amp, type: headphone-amp-4}
leads:
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1, length_m: 1}
  - {id: to-amp-2, type: y-xlr-2-jack-stereo, from: mixer.out.3-4, to: amp.in.2, length_m: 1}
patch:
  - {source: voice, plug: mixer.in.1, channel: 1, gain_db: 30}
  - {source: keys, plug: mixer.in.3-4, channel: 3-4, gain_db: 20}
  - {source: kick, plug: mixer.in.5, channel: 5, gain_db: 20}
  - {source: snare, plug: mixer.in.6, channel: 6, gain_db: 20}
  - {source: bass, plug: mixer.in.7, channel: 7, gain_db: 20, phantom: "on"}
  - {source: click, plug: mixer.in.8, channel: 8, gain_db: 30}
mixes:
  - {id: ana, name: Ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{from: voice, level_db: -3}, {from: keys}, {from: kick}, {from: snare, level_db: -9},
       {from: bass}, {from: click}]}
  - {id: bo, name: Bo, listeners: [bo], stereo: true, bus: 3-4, out: mixer.out.3-4,
     sends: [{from: voice}, {from: keys}, {from: kick}, {from: bass}, {from: click}]}
settings:
  - {at: mixer.dac.1-4, gain_db: 0}
  - {at: amp.amp.1-4, gain_db: -20}
"""
CHANNELS: Mapping[str, tuple[int, ...]] = {
    "voice": (1,), "keys": (3, 4), "kick": (5,), "snare": (6,), "bass": (7,), "click": (8,),
}  # fmt: skip
BANDS_HZ: Mapping[str, tuple[float, float]] = {
    "voice": (200, 4000), "keys": (100, 6000), "kick": (40, 120), "snare": (150, 8000),
    "bass": (40, 400), "click": (900, 1100),
}  # fmt: skip
LEVELS_DBFS: Mapping[str, float] = {
    "voice": -31, "keys": -18, "kick": -12, "snare": -22, "bass": -35, "click": -8,
}  # fmt: skip

Frames = Any


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    folder = tmp_path / "rig"
    folder.mkdir()
    (folder / "rig.yaml").write_text(RIG, encoding="utf-8")
    return folder


def noise(name: str, count: int) -> Frames:
    """A track of its own colour, at a peak of its own."""
    dice = np.random.default_rng([SEED, len(name), ord(name[0])])
    sound = sosfilt(
        butter(2, BANDS_HZ[name], "band", fs=RATE, output="sos"), dice.standard_normal(count)
    )
    return sound * 10 ** (LEVELS_DBFS[name] / 20) / np.abs(sound).max()


def alone(order: tuple[str, ...], *, channels: int = 8) -> Frames:
    """Each track by itself, one after the other."""
    count = round(ALONE_S * RATE)
    take = np.zeros((count * len(order), channels))
    for place, name in enumerate(order):
        for number in CHANNELS[name]:
            take[place * count : (place + 1) * count, number - 1] = noise(name, count)
    return take


def written(path: Path, take: Frames, *, subtype: str = "PCM_24") -> Path:
    soundfile.write(path, take, RATE, subtype=subtype)
    return path


def heard(path: Path, order: tuple[str, ...]) -> dict[str, float]:
    """The loudness of each track in a mix, by a meter that is not ours: clear of the joints."""
    mix, rate = soundfile.read(path)
    meter = pyloudnorm.Meter(rate)
    count = round(ALONE_S * rate)
    edge = rate // 4
    return {
        name: meter.integrated_loudness(mix[place * count + edge : (place + 1) * count - edge])
        for place, name in enumerate(order)
    }


def together(levels: Mapping[str, float], *names: str) -> float:
    """Loudness of several, as powers add."""
    return float(10 * np.log10(sum(10 ** (levels[name] / 10) for name in names)))


def listener(outcome: Outcome, who: str) -> Any:
    return next(one for one in outcome.json["result"]["listeners"] if one["person"] == who)


def channel(outcome: Outcome, source: str) -> Any:
    return next(one for one in outcome.json["result"]["channels"] if one["source"] == source)


ALL = ("voice", "keys", "kick", "snare", "bass", "click")


@pytest.mark.published("ITU-R BS.1770-5, by pyloudnorm")
def test_the_usual_relations_are_in_the_mixes(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """Me 6 dB over the rest, the click 3 dB over the drums: tracks 27 dB apart as recorded."""
    take = written(tmp_path / "take.wav", alone(ALL))
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--json")
    assert outcome.code == 0
    ana = heard(tmp_path / "mixes" / "ana.wav", ALL)
    rest = together(ana, "keys", "kick", "snare", "bass")
    assert ana["voice"] - rest == pytest.approx(6, abs=0.5)
    assert ana["click"] - together(ana, "kick", "snare") == pytest.approx(3, abs=0.5)
    assert ana["kick"] - ana["snare"] == pytest.approx(0, abs=0.5)
    bo = heard(tmp_path / "mixes" / "bo.wav", ALL)
    # Bo's mix has no snare, and gets none.
    assert bo["snare"] == -np.inf or bo["snare"] < bo["keys"] - 40
    assert bo["keys"] - together(bo, "voice", "kick", "bass") == pytest.approx(6, abs=0.5)
    assert bo["click"] - bo["kick"] == pytest.approx(3, abs=0.5)
    told = {(one["of"], one["over"]): one for one in listener(outcome, "ana")["relations"]}
    assert told["me", "rest"]["reached_db"] == pytest.approx(ana["voice"] - rest, abs=0.3)
    assert told["talk", "rest"]["reached_db"] is None


def test_wishes_of_ones_own(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """A file of relations: for everybody, and nearer ones for one person."""
    wishes = tmp_path / "wishes.yaml"
    wishes.write_text(
        "relations:\n"
        "  - {of: snare, over: kick, by_db: -4}\n"
        "balance: {bass: -10, voices: 2}\n"
        "people:\n"
        "  bo:\n"
        "    relations:\n"
        "      - {of: me, over: voice, by_db: 9}\n"
        "      - {of: click, over: me, by_db: -8}\n",
        encoding="utf-8",
    )
    take = written(tmp_path / "take.wav", alone(ALL))
    out = tmp_path / "mixes"
    assert run("draft", take, "--rig", rig, "-o", out, "--relations", wishes).code == 0
    ana, bo = heard(out / "ana.wav", ALL), heard(out / "bo.wav", ALL)
    assert ana["snare"] - ana["kick"] == pytest.approx(-4, abs=0.5)
    assert ana["voice"] - together(ana, "keys", "kick", "snare", "bass") == pytest.approx(
        6, abs=0.5
    )
    assert bo["keys"] - bo["voice"] == pytest.approx(9, abs=0.5)
    assert bo["click"] - bo["keys"] == pytest.approx(-8, abs=0.5)
    assert bo["voice"] - bo["bass"] == pytest.approx(12, abs=0.5)


def test_preamps_leave_the_stated_room(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """The true peak counts: a sine between its samples is 3 dB higher than they are."""
    frames = alone(ALL)
    at = np.arange(round(ALONE_S * RATE))
    # A quarter of the rate, an eighth of a turn off: all samples at 0.707 of the top.
    frames[: len(at), 0] = 0.09 * np.sin(np.pi / 2 * at + np.pi / 4)
    take = written(tmp_path / "take.wav", frames)
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "m", "--headroom-db", "9", "--json")
    voice = channel(outcome, "voice")
    # 0.09 is -20.9 dBFS: 11.9 dB up to 9 dB of room, in whole decibels. By samples it were 14.
    assert voice["channels"][0]["peak_dbfs"] == pytest.approx(-23.92, abs=0.1)
    assert (voice["now_db"], voice["then_db"]) == (30, 41)
    for source, level in LEVELS_DBFS.items():
        if source != "voice":
            one = channel(outcome, source)
            assert -10 - 0.3 <= level + one["change_db"] <= -9 + 0.05, source
    keys = channel(outcome, "keys")
    assert [one["channel"] for one in keys["channels"]] == [3, 4]


def test_silent_channels_are_left_alone(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """No gain and no send is guessed for who did not play, be it nothing or a preamp's hiss."""
    order = ("voice", "keys", "kick", "click")
    frames = alone(order)
    dice = np.random.default_rng(SEED)
    frames[:, 6] = 10 ** (-75 / 20) * dice.standard_normal(len(frames))
    take = written(tmp_path / "take.wav", frames)
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--json")
    for source in ("snare", "bass"):
        one = channel(outcome, source)
        assert (one["held"], one["change_db"]) == ("silent", 0)
    controls = {one["from"]: one for one in listener(outcome, "ana")["controls"]}
    assert controls["snare"]["then_db"] is None
    assert controls["bass"]["then_db"] is None
    (sends,) = (
        one["value"] for one in outcome.json["result"]["changes"] if one["at"] == "mixes/ana/sends"
    )
    assert {"from": "snare", "level_db": -9} in sends
    assert {"from": "bass"} in sends
    ana = heard(tmp_path / "mixes" / "ana.wav", order)
    assert ana["voice"] - together(ana, "keys", "kick") == pytest.approx(6, abs=0.5)
    said = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes").out
    assert "as the file has them: Snare and Bass." in " ".join(said.split())


def test_a_mix_of_nothing_is_no_file(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    take = written(tmp_path / "take.wav", np.zeros((RATE, 8)))
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--json")
    assert outcome.code == 1
    assert listener(outcome, "ana")["file"] is None
    assert not list((tmp_path / "mixes").iterdir())
    assert [one["at"] for one in outcome.json["result"]["changes"] if "patch" in one["at"]] == []


# IEC 61672-1:2013, table 3, A: thirds from 20 Hz to 20 kHz.
A_HZ = 1000 * 10 ** (np.arange(-17, 14) / 10)
A_DB = [
    -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9, -8.6, -6.6, -4.8,
    -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1, -2.5, -4.3, -6.6, -9.3,
]  # fmt: skip


def weighted_db(sound: Frames) -> float:
    """A-weighted level against a sine of full scale, by the printed table."""
    spectrum = np.square(np.abs(np.fft.rfft(sound))) * 2 / len(sound) ** 2
    at = np.fft.rfftfreq(len(sound), 1 / RATE)
    inside = (at > A_HZ[0]) & (at < A_HZ[-1])
    gain = np.interp(np.log(at[inside]), np.log(A_HZ), A_DB)
    return float(10 * np.log10(2 * (spectrum[inside] * 10 ** (gain / 10)).sum()))


@pytest.mark.published("IEC 61672-1:2013, Table 3, A")
def test_hiss_and_level_are_those_that_are_told(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """The file stands for sound pressure: full scale, level and hiss agree with what is said."""
    frames = np.concatenate((alone(ALL), np.zeros((2 * RATE, 8))))
    take = written(tmp_path / "take.wav", frames)
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--json")
    ana = listener(outcome, "ana")
    mix, _ = soundfile.read(tmp_path / "mixes" / "ana.wav")
    full = ana["full_scale_spl"]
    rest = mix[-RATE - RATE // 2 :]
    for side in (0, 1):
        assert weighted_db(rest[:, side]) + full == pytest.approx(ana["hiss_dba"], abs=0.3)
    assert np.corrcoef(rest.T)[0, 1] == pytest.approx(0, abs=0.05)
    levels = [weighted_db(mix[:, side]) + full for side in (0, 1)]
    assert max(levels) == pytest.approx(ana["level_dba"], abs=0.3)
    assert 20 * np.log10(np.abs(mix).max()) == pytest.approx(-1, abs=0.2)
    # What the recording brings itself is not added again: less than all the hiss of the plan.
    whole = look(load(rig)).ears.ears["ana"].hiss_dba
    assert whole is not None
    assert ana["hiss_dba"] <= whole + 0.01


def test_delays_are_those_of_the_plan(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """To the sample, behind the channels, over every joint between blocks of a long take."""
    folder = tmp_path / "rig"
    folder.mkdir()
    (folder / "rig.yaml").write_text(RIG, encoding="utf-8")
    frames = np.zeros((9 * RATE, 8))
    places = [round(s * RATE) for s in (0.5, 3.9995, 4.0, 7.9999)]
    for at in places:
        frames[at, 0] = 0.9
    take = written(tmp_path / "take.wav", frames)
    outcome = run("draft", take, "--rig", folder, "-o", tmp_path / "mixes", "--json")
    view = look(load(folder))
    behind = [
        part.delay_ms
        for part in view.delays.parts("voice", "ana")
        if ".adc" not in part.place  # what lies before is in the recording
    ]
    assert behind
    late = round(sum(map(float, behind)) * RATE / 1000)
    mix, _ = soundfile.read(tmp_path / "mixes" / "ana.wav")
    strong = np.flatnonzero(np.abs(mix[:, 0]) > 0.5)
    assert strong.tolist() == [at + late for at in places]
    assert listener(outcome, "ana")["delay_ms"] == pytest.approx(sum(map(float, behind)))


def test_never_above_what_the_hours_allow(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """A wish for 100 dB is met only as far as the criterion of the rig goes."""
    take = written(tmp_path / "take.wav", alone(ALL))
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "m", "--level", "100", "--json")
    for who in ("ana", "bo"):
        one = listener(outcome, who)
        assert one["held_by"] == "exposure"
        assert max(dose["percent"] for dose in one["doses"]) <= 100
        assert allowed_h(level_dba=one["level_dba"], criterion=CRITERIA["85/3"]) >= 3
    assert outcome.code == 1


def test_never_above_the_limiter(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    text = RIG.replace("bus: 1-2,", "bus: 1-2, limiter_dbu: -30,")
    (rig / "rig.yaml").write_text(text, encoding="utf-8")
    take = written(tmp_path / "take.wav", alone(ALL))
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "m", "--json")
    limited = look(load(rig)).ears.ears["ana"].limited
    assert limited is not None
    ana = listener(outcome, "ana")
    assert ana["held_by"] == "limiter"
    assert limited.level_spl - 0.6 < ana["peak_spl"] <= limited.level_spl + 0.01


def test_writing_is_an_edit_that_history_keeps(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """What was shown as the difference stands in the file then; without --write nothing does."""
    take = written(tmp_path / "take.wav", alone(ALL))
    words = ("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--json")
    shown = run(*words).json["result"]
    assert (rig / "rig.yaml").read_text(encoding="utf-8") == RIG
    made = run(*words, "--write").json["result"]
    assert made["changes"] == shown["changes"]
    assert made["version"] is not None
    then = load(rig).file
    gains = {row.source: float(row.gain_db or 0) for row in then.patch}
    assert gains == {one["source"]: one["then_db"] for one in shown["channels"]}
    (ana,) = (mix for mix in then.mixes if mix.id == "ana")
    wanted = next(one for one in shown["listeners"] if one["person"] == "ana")["controls"]
    assert {str(send.from_): float(send.level_db or 0) for send in ana.sends} == {
        one["from"]: one["then_db"] for one in wanted
    }
    first = run("history", rig, "--show", "1")
    assert "{from: voice, level_db: -3}" in first.out


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("relations:\n  - {of: me, over: rest, by_db: loud}", 2, "no number of decibels"),
        ("relations:\n  - {of: me, over: rest, by_db: 90}", 2, "cannot be meant"),
        ("relations:\n  - {of: me, over: drumms, by_db: 3}", 2, 'nothing is called "drumms"'),
        ("relations:\n  - {of: me, over: rest}", 2, "lacks by_db"),
        ("relations: loud", 0, "relations are a list"),
        ("people:\n  anna:\n    relations: []", 2, 'no person is called "anna"'),
        ("balance:\n  click: 3", 2, 'no family of the music is called "click"'),
        ("relation: []", 1, 'no key is called "relation"'),
        ("[1, 2", 1, ""),
    ],
)
def test_wishes_that_cannot_be_meant(
    run: Run,  # noqa: F811
    rig: Path,
    tmp_path: Path,
    text: str,
    line: int,
    says: str,
) -> None:
    take = written(tmp_path / "take.wav", np.zeros((RATE, 8)))
    wishes = tmp_path / "wishes.yaml"
    wishes.write_text(text, encoding="utf-8")
    outcome = run(
        "draft", take, "--rig", rig, "-o", tmp_path / "m", "--relations", wishes, "--json"
    )
    assert outcome.code == 2
    (fault, *_) = outcome.json["faults"]
    assert (fault["file"], says in fault["says"]) == ("wishes.yaml", True)
    assert line in (0, fault["line"])
    assert not (tmp_path / "m").exists()


def test_relations_in_a_circle(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    take = written(tmp_path / "take.wav", alone(ALL))
    wishes = tmp_path / "wishes.yaml"
    wishes.write_text(
        "relations: [{of: kick, over: bass, by_db: 1}, {of: bass, over: kick, by_db: 1}]",
        encoding="utf-8",
    )
    outcome = run(
        "draft", take, "--rig", rig, "-o", tmp_path / "m", "--relations", wishes, "--json"
    )
    assert outcome.code == 2
    assert "in a circle" in outcome.json["faults"][0]["says"]


@pytest.mark.parametrize(
    ("make", "words", "says"),
    [
        (lambda path: None, (), "no file or folder"),
        (lambda path: path.write_bytes(b""), (), "is empty"),
        (lambda path: path.write_text("hello" * 99), (), "no sound file"),
        (lambda path: written(path, np.zeros((RATE, 8))), ("--headroom-db", "70"), "be meant"),
        (lambda path: written(path, np.zeros((RATE, 8))), ("--level", "140"), "be meant"),
    ],
)
def test_takes_that_cannot_be_used(
    run: Run,  # noqa: F811
    rig: Path,
    tmp_path: Path,
    make: Callable[[Path], object],
    words: tuple[str, ...],
    says: str,
) -> None:
    path = tmp_path / "take.wav"
    make(path)
    outcome = run("draft", path, "--rig", rig, "-o", tmp_path / "m", *words, "--json")
    assert outcome.code == 2
    assert says in outcome.json["faults"][0]["says"]
    assert (rig / "rig.yaml").read_text(encoding="utf-8") == RIG
    assert not (tmp_path / "m").exists()


@pytest.mark.parametrize(("language", "words"), [("en", "First mix: Bo"), ("de", "Erster Mix: Bo")])
def test_on_paper(run: Run, rig: Path, tmp_path: Path, language: str, words: str) -> None:  # noqa: F811
    """A sheet of the preamps and one for each listener, with what the answer says."""
    take = written(tmp_path / "take.wav", alone(("voice", "keys", "kick", "click")))
    paper = tmp_path / "first.pdf"
    call = ("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--language", language)
    outcome = run(*call, "--report", paper, "--json")
    assert outcome.json["result"]["report"] == str(paper)
    pages = pypdfium2.PdfDocument(paper)
    texts = [page.get_textpage().get_text_range() for page in pages]
    assert len(texts) == 3
    assert "3-4" in texts[0]
    assert words in texts[2]
    assert "Bass" in texts[2]  # named among what did not play
    refused = run(*call, "--report", tmp_path / "first.doc", "--json")
    assert refused.code == 2
    assert not (tmp_path / "first.doc").exists()


def test_the_take_is_not_written_over(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    take = written(tmp_path / "ana.wav", alone(("voice",)))
    before = take.read_bytes()
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path, "--json")
    assert outcome.code == 2
    assert take.read_bytes() == before


def test_samples_that_are_no_numbers(run: Run, rig: Path, tmp_path: Path) -> None:  # noqa: F811
    """One bad sample spoils neither a level nor a mix."""
    frames = alone(ALL)
    frames[100, 0] = np.nan
    take = written(tmp_path / "take.wav", frames, subtype="FLOAT")
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes")
    assert outcome.code == 0
    assert "1 sample of channel 1 is no number" in outcome.out
    ana = heard(tmp_path / "mixes" / "ana.wav", ALL)
    rest = together(ana, "keys", "kick", "snare", "bass")
    assert ana["voice"] - rest == pytest.approx(6, abs=0.5)


def test_each_listener_of_the_demo_has_a_mix_to_hear(
    run: Run,  # noqa: F811
    tmp_path: Path,
) -> None:
    """Buses, personal mixers with shared slots, packs: 20 s of a band of noises."""
    folder = tmp_path / "demo"
    folder.mkdir()
    for path in sorted(DEMO.rglob("*.yaml")):
        (folder / path.relative_to(DEMO)).parent.mkdir(exist_ok=True, parents=True)
        (folder / path.relative_to(DEMO)).write_bytes(path.read_bytes())
    view = look(load(folder))
    dice = np.random.default_rng(SEED)
    count = 20 * RATE
    frames = np.zeros((count, 35), np.float32)
    for row in view.rig.file.patch:
        for number in row.channel or ():
            low = 60 * 1.08**number
            sound = sosfilt(
                butter(1, (low, 6 * low), "band", fs=RATE, output="sos"),
                dice.standard_normal(count),
            )
            pulse = np.sin(2 * np.pi * np.arange(count) / RATE * (0.2 + 0.02 * number)) > -0.3
            frames[:, number - 1] = 0.2 * sound * pulse / np.abs(sound).max()
    take = written(tmp_path / "take.wav", frames)
    outcome = run("draft", take, "--rig", folder, "-o", tmp_path / "mixes", "--write", "--json")
    people = {"runa", "ossian", "mirek", "delphine", "tamsin", "ade", "yusra", "bo"}
    assert {one["person"] for one in outcome.json["result"]["listeners"]} == people
    for who in people:
        mix, rate = soundfile.read(tmp_path / "mixes" / f"{who}.wav")
        assert mix.shape[1] == 2
        assert pyloudnorm.Meter(rate).integrated_loudness(mix) > -30
        one = listener(outcome, who)
        assert one["level_dba"] < one["full_scale_spl"]
        (me,) = (r for r in one["relations"] if r["of"] == "me")
        assert me["reached_db"] == pytest.approx(6, abs=0.5)
    runa = listener(outcome, "runa")
    slots = {one["slot"]: one for one in runa["controls"]}
    assert slots["14"]["sources"] == ["delphine-voice", "ade-voice", "yusra-voice", "bo-voice"]
    assert slots["14"]["then_db"] is not None
    then = load(folder)
    (mix_of_runa,) = (mix for mix in then.file.mixes if mix.id == "mix-runa")
    assert [str(send.slot) for send in mix_of_runa.sends] == [
        str(slot.slot) for feed in then.file.feeds for slot in feed.slots
    ]
    assert look(then).ears.ears["runa"].open_sends == ()
