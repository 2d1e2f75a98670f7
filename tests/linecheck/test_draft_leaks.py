"""First mixes of a take in which microphones hear one another, and of a show with a guest."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy.signal import butter, fftconvolve, sosfilt

from rigproof.linecheck.leaking import held, leaks
from rigproof.linecheck.taking import opened
from rigproof.linecheck.tallying import gathered_of
from rigproof.rigfile.load import load
from tests.cli.conftest import Run, run  # noqa: F401 (a fixture)
from tests.linecheck.test_draft import (
    ALONE_S,
    BANDS_HZ,
    RATE,
    RIG,
    SEED,
    Frames,
    alone,
    heard,
    listener,
    noise,
    together,
    written,
)

# What leaks into other people's microphones

LEAKING = ("voice", "guitar", "kick", "snare")
PLACES = {"voice": 1, "guitar": 2, "kick": 5, "snare": 6}
# (microphone, what it hears too): how much softer than in its own channel, and how late.
BLEED: Mapping[tuple[str, str], tuple[float, float]] = {
    ("voice", "kick"): (-13, 7.3), ("voice", "snare"): (-10, 6.1), ("voice", "guitar"): (-15, 5.2),
    ("guitar", "snare"): (-12, 8.4), ("guitar", "voice"): (-19, 5.2),
    ("snare", "kick"): (-14, 1.6), ("kick", "snare"): (-16, 1.6), ("snare", "voice"): (-26, 6.1),
}  # fmt: skip


def leaking_rig(folder: Path) -> Path:
    folder.mkdir()
    text = RIG.replace(
        "  - {id: bass,",
        "  - {id: guitar, name: Guitar, family: guitar, player: bo, mic: mic-instrument-dynamic,\n"
        "     spl_db: 108}\n  - {id: bass,",
    )
    text = text.replace(
        "  - {source: keys,",
        "  - {source: guitar, plug: mixer.in.2, channel: 2, gain_db: 25}\n  - {source: keys,",
    ).replace("{from: voice, level_db: -3},", "{from: voice, level_db: -3}, {from: guitar},")
    (folder / "rig.yaml").write_text(text, encoding="utf-8")
    return folder


def played(name: str, count: int) -> Frames:
    """A track in strokes of its own, as loud in its own microphone as another in its own."""
    bands = {**BANDS_HZ, "guitar": (100, 3500), "kick": (40, 400)}
    dice = np.random.default_rng([SEED, PLACES[name]])
    sound = sosfilt(
        butter(2, bands[name], "band", fs=RATE, output="sos"), dice.standard_normal(count)
    )
    step = RATE // {"voice": 4, "guitar": 6, "kick": 8, "snare": 8}[name]
    # Four strokes of their own loudness each, in any order: as loud over three seconds as over ten.
    loud = [dice.permutation([1, 0.7, 0.4, 0.2]) for _ in range(count // step // 4 + 1)]
    strokes = np.repeat(np.concatenate(loud), step)[:count]
    sound = sound * sosfilt(butter(1, 20, fs=RATE, output="sos"), strokes)
    return sound * 0.05 / np.sqrt(np.square(sound).mean())


def with_bleed(parts: Mapping[str, Frames]) -> Frames:
    """A take of what each plays; far microphones hear it later, duller, and with its room."""
    count = len(next(iter(parts.values())))
    take = np.zeros((count, 8))
    dice = np.random.default_rng(SEED)
    for name, sound in parts.items():
        take[:, PLACES[name] - 1] += sound
    for (microphone, name), (level_db, late_ms) in BLEED.items():
        late = round(late_ms * RATE / 1000)
        room = np.zeros(late + RATE // 60)
        ring = dice.normal(0, 1, len(room) - late) * np.exp(-np.arange(len(room) - late) / 300)
        room[late:] = 0.3 * ring / np.sqrt(np.square(ring).sum())
        room[late] += 1
        heard_there = fftconvolve(parts[name], room)[:count] * 10 ** (level_db / 20)
        dull = butter(1, 4000, fs=RATE, output="sos")
        take[:, PLACES[microphone] - 1] += sosfilt(dull, heard_there)
    return take + dice.normal(0, 1e-5, take.shape)


def test_what_leaks_counts_for_whom_it_is(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """By the mixes as they sound: all together, then each alone with all that hears them.

    Drums that stand 10 to 13 dB under a voice in its own microphone come up with it; the relations
    hold all the same, within 0.7 dB.
    """
    together_s, edge = 15, RATE // 10
    count = round(ALONE_S * RATE)
    everybody = with_bleed({name: played(name, together_s * RATE) for name in LEAKING})
    parts = [everybody]
    for alone_ in LEAKING:
        parts.append(with_bleed({n: played(n, count) * (n == alone_) for n in LEAKING}))
    take = written(tmp_path / "take.wav", np.concatenate(parts))
    rig = leaking_rig(tmp_path / "rig")
    outcome = run("draft", take, "--rig", rig, "-o", tmp_path / "mixes", "--json")
    mix, rate = soundfile.read(tmp_path / "mixes" / "ana.wav")
    meter = pyloudnorm.Meter(rate)
    levels = {}
    for place, name in enumerate(LEAKING):
        begin = together_s * rate + place * count
        levels[name] = meter.integrated_loudness(mix[begin + edge : begin + count - edge])
    rest = together(levels, "guitar", "kick", "snare")
    assert levels["voice"] - rest == pytest.approx(6, abs=0.7)
    # The balance of the families: drums -3, shared by two; a guitar -5.
    drums = together(levels, "kick", "snare")
    assert drums - levels["guitar"] == pytest.approx(2, abs=0.7)
    told = {(one["of"], one["over"]): one for one in listener(outcome, "ana")["relations"]}
    assert told["me", "rest"]["reached_db"] == pytest.approx(levels["voice"] - rest, abs=0.7)
    told_leaks = {(one["channel"], one["of"]) for one in outcome.json["result"]["leaks"]}
    assert {(1, 5), (1, 6)} <= told_leaks
    assert not {one for one in told_leaks if set(one) == {5, 6}}  # one instrument


def test_where_nothing_leaks_nothing_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All play together, in strokes at the same time, and nobody hears the other."""
    monkeypatch.setitem(globals(), "BLEED", {})
    take = written(tmp_path / "t.wav", with_bleed({n: played(n, 12 * RATE) for n in LEAKING}))
    hears = {1: {2, 5, 6}, 2: {1, 5, 6}, 5: {1, 2}, 6: {1, 2}}
    found = held(leaks(opened(take), hears, {}), gathered_of(opened(take)).weighted)
    assert max(found.values(), default=0.0) < 10 ** (-20 / 10)


# Guests of one show

NIGHT = """\
venues:
  - {id: hall, name: Hall, desk: {takes: nothing}}
shows:
  - id: gala
    name: Gala with Cy
    date: 2027-05-01
    venue: hall
    people:
      - {id: cy, name: Cy, plays: voice, part: guest, at_m: [1, 0],
         ears: {plug: amp.phones.3, earphones: earphones-dual}}
    sources:
      - {id: cy-voice, name: Cy voice, family: voices, player: cy, owner: guest,
         mic: mic-vocal-dynamic, spl_db: 104}
    patch:
      - {source: cy-voice, plug: mixer.in.2, channel: 2, gain_db: 30}
    leads:
      - {id: to-amp-3, type: y-xlr-2-jack-stereo, from: mixer.out.5-6, to: amp.in.3, length_m: 1}
    mixes:
      - {id: cy, name: Cy, listeners: [cy], stereo: true, bus: 5-6, out: mixer.out.5-6,
         sends: [{from: cy-voice}, {from: voice}, {from: keys}, {from: kick}]}
    settings:
      - {at: mixer.dac.5-6, gain_db: 0}
      - {at: amp.amp.5-6, gain_db: -20}
"""


def test_a_guest_of_one_show(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """A guest gets a mix too; what it changes is that show's, and the rig stays as it was."""
    folder = tmp_path / "rig"
    folder.mkdir()
    (folder / "rig.yaml").write_text(RIG + NIGHT, encoding="utf-8")
    order = ("voice", "keys", "kick", "snare", "bass", "click")
    frames = np.concatenate((alone(order), np.zeros((round(ALONE_S * RATE), 8))))
    frames[-round(ALONE_S * RATE) :, 1] = 0.3 * noise("voice", round(ALONE_S * RATE))
    take = written(tmp_path / "take.wav", frames)
    before = load(folder)
    out = tmp_path / "mixes"
    call = ("draft", take, "--rig", folder, "-o", out, "--show", "2027-05-01", "--json")
    outcome = run(*call, "--write")
    assert outcome.code == 0
    assert {one["person"] for one in outcome.json["result"]["listeners"]} == {"ana", "bo", "cy"}
    levels = heard(out / "cy.wav", (*order, "guest"))
    rest = together(levels, "voice", "keys", "kick")
    assert levels["guest"] - rest == pytest.approx(6, abs=0.5)
    paths = {one["at"] for one in outcome.json["result"]["changes"]}
    assert all(path.startswith("shows/gala/") for path in paths)
    after = load(folder)
    assert [row.gain_db for row in after.file.patch] == [row.gain_db for row in before.file.patch]
    assert after.file.mixes == before.file.mixes
    tonight = after.for_show(after.file.shows[0])
    assert {mix.id for mix in after.file.shows[0].mixes} == {"ana", "bo", "cy"}
    controls = {one["from"]: one for one in listener(outcome, "cy")["controls"]}
    (mix,) = (mix for mix in tonight.file.mixes if mix.id == "cy")
    assert {send.from_: send.level_db for send in mix.sends} == {
        name: one["then_db"] for name, one in controls.items()
    }
    (ana,) = (mix for mix in tonight.file.mixes if mix.id == "ana")
    assert (str(ana.bus), str(ana.out)) == ("1-2", "mixer.out.1-2")  # all else as in the rig
    gains = {one["source"]: one["then_db"] for one in outcome.json["result"]["channels"]}
    assert {row.source: row.gain_db for row in tonight.file.patch} == gains


def test_a_show_that_is_not_there(run: Run, tmp_path: Path) -> None:  # noqa: F811
    (tmp_path / "rig.yaml").write_text(RIG, encoding="utf-8")
    take = written(tmp_path / "take.wav", alone(("voice",)))
    outcome = run("draft", take, "--rig", tmp_path, "-o", tmp_path / "m", "--show", "gala")
    assert outcome.code == 2
    assert 'no show is called "gala"' in " ".join(outcome.err.split())
