"""Recordings with known faults, healthy ones, and files that are none."""

import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from rigproof.linecheck import listening
from rigproof.linecheck.lineup import Refused
from rigproof.linecheck.taking import Reader, blocks, opened
from tests.cli.conftest import Outcome, Run, run, small  # noqa: F401 (fixtures)
from tests.linecheck import bandtakes
from tests.linecheck.bandtakes import FAULTS, RATE, Band

SEED = 41
SECONDS = 24.0


@pytest.fixture(scope="module")
def healthy() -> Band:
    return bandtakes.band(SEED, length_s=SECONDS)


@pytest.fixture
def listed(tmp_path: Path) -> Path:
    path = tmp_path / "list.csv"
    path.write_text(bandtakes.LIST, encoding="utf-8")
    return path


def heard(run: Run, take: Band, listed: Path) -> Outcome:  # noqa: F811
    path = bandtakes.written(take, listed.with_name("take.wav"))
    return run("listen", path, "--channels", listed, "--json")


def faulty(healthy: Band, *built: tuple[str, int], seed: int = 1) -> Band:
    take = Band(healthy.sound.copy(), healthy.seed)
    dice = np.random.default_rng(seed)
    for name, channel in built:
        FAULTS[name].build(take, channel - 1, dice)
    return take


def test_a_healthy_take_is_quiet(run: Run, healthy: Band, listed: Path) -> None:  # noqa: F811
    outcome = heard(run, healthy, listed)
    assert outcome.json["result"]["findings"] == []
    assert outcome.code == 0


@pytest.mark.skipif(
    not (bandtakes.KITS.exists() and bandtakes.LOOPS.exists()),
    reason="needs the Debian packages hydrogen-drumkits and sonic-pi-samples",
)
def test_a_healthy_take_of_recorded_sound_does_not_fail(run: Run, listed: Path) -> None:  # noqa: F811
    take = bandtakes.band(7, length_s=SECONDS, kit=bandtakes.kits()[0], loops=bandtakes.LOOPS)
    found = heard(run, take, listed).json["result"]["findings"]
    assert [one for one in found if one["grade"] == "fail"] == []


@pytest.mark.parametrize(
    "built",
    [
        (("silent", 1), ("dead", 11), ("clipped", 16), ("dc", 7), ("unequal pair", 10)),
        (("intermittent", 16), ("hum", 12), ("hiss", 2), ("polarity of a pair", 6)),
        (("missing samples", 7), ("comb", 8), ("crosstalk at -30 dB", 12), ("clock", 14)),
        (("late start", 1), ("low", 12), ("copy that comes late", 10), ("sides of overheads", 6)),
        (
            ("clipped before the recorder", 11),
            ("swapped with the hi-hat", 7),
            ("hot", 8),
            ("clock of a pair in the room", 6),
        ),
        (("gap on all channels", 7),),
        (("buffer twice on all channels", 7), ("collapsed pair", 14)),
    ],
    ids=lambda built: " + ".join(name for name, _ in built),
)
def test_faults_are_told(
    run: Run,  # noqa: F811
    healthy: Band,
    listed: Path,
    built: tuple[tuple[str, int], ...],
) -> None:
    """Each fault with its kind and channel, and nothing that fails besides."""
    outcome = heard(run, faulty(healthy, *built), listed)
    found = outcome.json["result"]["findings"]
    assert outcome.code == 1
    explained = []
    for name, channel in built:
        known = FAULTS[name]
        mine = [
            one
            for one in found
            if one["kind"] == known.kind
            and (known.whole or channel in (one["channel"], *one["others"]))
        ]
        assert mine, name
        explained += mine
    beside = [one for one in found if one not in explained and one["grade"] == "fail"]
    assert beside == []


def test_times_and_values_are_those_of_the_fault(
    run: Run,  # noqa: F811
    healthy: Band,
    listed: Path,
) -> None:
    take = Band(healthy.sound.copy(), 0)
    dice = np.random.default_rng(5)
    when = FAULTS["gap on all channels"].build(take, 6, dice)
    FAULTS["clock"].build(take, 13, dice)
    FAULTS["copy that comes late"].build(take, 9, dice)
    found = {one["kind"]: one for one in heard(run, take, listed).json["result"]["findings"]}
    for time_s in when:
        assert min(abs(time_s - one) for one in found["gap"]["times_s"]) < 0.02
    assert abs(found["clock"]["value"]) == pytest.approx(abs(take.notes["ppm"]), rel=0.1)
    assert found["delay"]["value"] == pytest.approx(take.notes["late_samples"], abs=0.1)
    assert found["delay"]["channel"] == 9


def test_channels_of_another_device_are_told_together(
    run: Run,  # noqa: F811
    healthy: Band,
    listed: Path,
) -> None:
    """Both overheads went to a recorder of their own; the others keep time with one another."""
    take = faulty(healthy, ("clock of a pair in the room", 6), seed=3)
    found = heard(run, take, listed).json["result"]["findings"]
    (clock,) = (one for one in found if one["kind"] == "clock")
    assert [clock["channel"], *clock["others"]] == [5, 6]
    # A clock that ran fast by `ppm` took more samples: what it heard stands later and later.
    assert abs(clock["value"]) == pytest.approx(abs(take.notes["ppm"]), rel=0.05)


def test_ctrl_c_keeps_what_is_known(healthy: Band, tmp_path: Path) -> None:
    path = bandtakes.written(healthy, tmp_path / "take.wav")

    def stop(share: float) -> None:
        if share > 0.3:
            raise KeyboardInterrupt

    before = threading.active_count()
    found = listening.listen(path, progress=stop)
    assert not found.whole
    assert 0 < found.read_s < found.length_s
    assert "Stopped" in found.said[-1]
    assert len(found.channels) == bandtakes.CHANNELS
    assert threading.active_count() <= before + 4


# ---- files -------------------------------------------------------------------------------------


def noise(seconds: float = 2.0, channels: int = 3, seed: int = 1) -> bandtakes.Sound:
    dice = np.random.default_rng(seed)
    return dice.standard_normal((round(seconds * RATE), channels)) * 0.05


def _wav(path: Path, sound: bandtakes.Sound, subtype: str = "PCM_24") -> Path:
    soundfile.write(path, sound, RATE, subtype=subtype)
    return path


def _data_at(raw: bytes) -> int:
    return raw.index(b"data") + 8


def _patched(path: Path, at: int, value: bytes) -> Path:
    raw = bytearray(path.read_bytes())
    raw[at : at + len(value)] = value
    path.write_bytes(raw)
    return path


def _folder_of_rates(path: Path) -> Path:
    path.mkdir()
    soundfile.write(path / "01.wav", noise(channels=1), 44_100)
    soundfile.write(path / "02.wav", noise(channels=1), 48_000)
    return path


def _stereo_among_mono(path: Path) -> Path:
    path.mkdir()
    _wav(path / "01.wav", noise(channels=1))
    _wav(path / "02.wav", noise(channels=2))
    return path


def _written_text(path: Path) -> Path:
    path.write_text("Kick, snare, hat\n" * 50, encoding="utf-8")
    return path


def _empty(path: Path) -> Path:
    path.write_bytes(b"")
    return path


def _zero_channels(path: Path) -> Path:
    _wav(path, noise())
    raw = path.read_bytes()
    return _patched(path, raw.index(b"fmt ") + 10, b"\0\0")


def _no_samples(path: Path) -> Path:
    return _wav(path, np.zeros((0, 2)))


def _odd_rate(path: Path) -> Path:
    soundfile.write(path, noise(), 100)
    return path


def _only_a_header(path: Path) -> Path:
    _wav(path, noise())
    path.write_bytes(path.read_bytes()[:30])
    return path


def _cut_flac(path: Path) -> Path:
    flac = path.with_suffix(".flac")
    soundfile.write(flac, noise(), RATE)
    flac.write_bytes(flac.read_bytes()[:20])
    return flac


def _no_take(path: Path) -> Path:
    return path


def _empty_folder(path: Path) -> Path:
    path.mkdir()
    (path / "notes.txt").write_text("none", encoding="utf-8")
    return path


def _many_channels(path: Path) -> Path:
    return _wav(path, np.zeros((100, 300)), "PCM_16")


BAD: tuple[tuple[Callable[[Path], Path], str], ...] = (
    (_written_text, "no sound file"),
    (_empty, "0 bytes"),
    (_zero_channels, "no sound file"),
    (_no_samples, "no samples"),
    (_odd_rate, "runs at 100 Hz"),
    (_only_a_header, "no sound file"),
    (_cut_flac, "no sound file"),
    (_no_take, "no file or folder"),
    (_empty_folder, "no sound file stands"),
    (_many_channels, "300 channels"),
    (_folder_of_rates, "44100 and 48000"),
    (_stereo_among_mono, "2 channels"),
)


@pytest.mark.parametrize(("make", "says"), BAD, ids=[make.__name__ for make, _ in BAD])
def test_what_is_no_recording(
    run: Run,  # noqa: F811
    tmp_path: Path,
    make: Callable[[Path], Path],
    says: str,
) -> None:
    path = make(tmp_path / "take.wav")
    before = {one: one.read_bytes() for one in tmp_path.rglob("*") if one.is_file()}
    outcome = run("listen", path, "--json")
    assert outcome.code == 2
    assert says in outcome.json["faults"][0]["says"]
    assert outcome.json["faults"][0]["fix"]
    assert {one: one.read_bytes() for one in tmp_path.rglob("*") if one.is_file()} == before


def test_a_rig_and_a_list_cannot_both_tell(run: Run, tmp_path: Path, listed: Path) -> None:  # noqa: F811
    path = _wav(tmp_path / "take.wav", noise())
    outcome = run("listen", path, "--rig", tmp_path, "--channels", listed, "--json")
    assert outcome.code == 2


def test_no_signal_at_all(run: Run, tmp_path: Path) -> None:  # noqa: F811
    path = _wav(tmp_path / "take.wav", np.zeros((RATE, 4)))
    outcome = run("listen", path, "--json")
    (one,) = outcome.json["result"]["findings"]
    assert one["kind"] == "silent"
    assert one["grade"] == "fail"
    assert "no signal at all" in one["says"]
    assert one["others"] == [2, 3, 4]


def test_figures_that_are_no_samples(run: Run, tmp_path: Path) -> None:  # noqa: F811
    sound = noise()
    sound[1000:1010, 1] = np.nan
    sound[2000, 2] = np.inf
    path = _wav(tmp_path / "take.wav", sound, "FLOAT")
    found = run("listen", path, "--json").json["result"]["findings"]
    bad = {one["channel"]: one["value"] for one in found if one["kind"] == "unreadable"}
    assert bad == {2: 10, 3: 1}


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("size", [0, 0xFFFF_FFFF, 300])
def test_headers_that_mislead_are_read_past(tmp_path: Path, subtype: str, size: int) -> None:
    """A recorder that lost its power wrote no length; one that wrapped at 4 GiB a short one."""
    sound = noise()
    path = _wav(tmp_path / "take.wav", sound, subtype)
    plain = np.concatenate(list(blocks(opened(path))))
    at = _data_at(path.read_bytes()) - 4
    take = opened(_patched(path, at, size.to_bytes(4, "little")))
    assert take.frames == len(sound)
    assert take.said
    assert np.array_equal(np.concatenate(list(blocks(take))), plain)


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_samples_are_those_of_the_library(tmp_path: Path, subtype: str) -> None:
    """Bit for bit, all channels or some, from any place and past the end."""
    path = _wav(tmp_path / "take.wav", noise(1.0, channels=5), subtype)
    expected, _ = soundfile.read(path, dtype="float32")
    with Reader(opened(path)) as reader:
        assert np.array_equal(reader.read(0, RATE), expected)
        for wanted in ([0, 1, 2, 3, 4], [2], [4, 1], [1, 2, 3]):
            got = reader.channels(RATE - 3000, 5000, wanted)
            assert np.array_equal(got, expected[-3000:, wanted].T)


def test_a_cut_file_is_read_to_its_end(run: Run, tmp_path: Path) -> None:  # noqa: F811
    path = _wav(tmp_path / "take.wav", noise())
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 2 + 1])
    outcome = run("listen", path, "--json")
    assert "cut off" in outcome.json["result"]["said"][0]
    assert outcome.json["result"]["length_s"] == pytest.approx(1.0, abs=0.01)


def test_parts_behind_the_samples_are_no_samples(tmp_path: Path) -> None:
    path = _wav(tmp_path / "take.wav", noise())
    path.write_bytes(path.read_bytes() + b"iXML" + (9000).to_bytes(4, "little") + b" " * 9000)
    take = opened(path)
    assert take.frames == 2 * RATE
    assert take.said == ()


@pytest.mark.parametrize(
    ("suffix", "form", "subtype"),
    [
        (".caf", "CAF", "PCM_24"),
        (".w64", "W64", "PCM_24"),
        (".wav", "RF64", "PCM_24"),
        (".flac", "FLAC", "PCM_24"),
        (".aiff", "AIFF", "PCM_16"),
        (".wav", "WAV", "FLOAT"),
        (".wav", "WAV", "PCM_32"),
    ],
)
@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_forms_and_rates(
    tmp_path: Path, suffix: str, form: str, subtype: str, rate_hz: int
) -> None:
    sound = noise(1.0)
    path = tmp_path / f"take{suffix}"
    soundfile.write(path, sound, rate_hz, format=form, subtype=subtype)
    take = opened(path)
    assert (take.rate_hz, take.channels, take.frames) == (rate_hz, 3, len(sound))
    assert take.said == ()
    assert np.concatenate(list(blocks(take))) == pytest.approx(sound, abs=1e-4)


def test_a_folder_of_mono_files(run: Run, healthy: Band, tmp_path: Path) -> None:  # noqa: F811
    """In the order of their numbers, with their names; one is shorter."""
    folder = tmp_path / "take"
    folder.mkdir()
    for number in (1, 2, 10):
        sound = healthy.sound[number - 1, : 8 * RATE if number != 10 else 6 * RATE]
        _wav(folder / f"{number}-{bandtakes.NAMES[number]}.wav", sound)
    outcome = run("listen", folder, "--json")
    result = outcome.json["result"]
    assert [one["name"] for one in result["channels"]] == ["1-Kick", "2-Snare", "10-Keys right"]
    assert "unequal length" in result["said"][0]
    short = next(one for one in result["findings"] if one["kind"] == "short")
    assert (short["channel"], short["value"]) == (3, pytest.approx(2.0))


def test_a_file_of_another_rate_is_told_by_its_length(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """Recorded at 44.1 kHz, exported as if at 48: as many samples fewer, and at another pitch."""
    folder = tmp_path / "take"
    folder.mkdir()
    for number, seconds in ((1, 4.0), (2, 4.0 * 44.1 / 48), (3, 3.8)):
        _wav(folder / f"{number}.wav", noise(seconds, channels=1, seed=number))
    found = run("listen", folder, "--json").json["result"]["findings"]
    says = {one["channel"]: one["says"] for one in found if one["kind"] == "short"}
    assert "44.1 and at 48 kHz" in says[2]
    assert "kHz" not in says[3]


def test_names_come_from_a_rig(run: Run, tmp_path: Path, small: Path) -> None:  # noqa: F811
    """The names of a rig's channels stand in the report."""
    path = _wav(tmp_path / "take.wav", noise(channels=12))
    outcome = run("listen", path, "--rig", small, "--json")
    names = [one["name"] for one in outcome.json["result"]["channels"]]
    assert names[0] == "Lead voice"
    assert names[11] == "Click"
    shutil.rmtree(small)
    assert run("listen", path, "--rig", small, "--json").code == 2


def test_words_for_people(run: Run, healthy: Band, listed: Path) -> None:  # noqa: F811
    take = faulty(healthy, ("clipped", 16))
    path = bandtakes.written(take, listed.with_name("take.wav"))
    outcome = run("listen", path, "--channels", listed)
    assert "FAIL  channel 16 (Fiddle) clips at full scale" in outcome.out
    assert "Not looked at:" in outcome.out
    assert outcome.err == ""


def test_refusals_say_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(Refused) as told:
        listening.listen(tmp_path / "nothing.wav")
    assert told.value.fix
