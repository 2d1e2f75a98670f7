"""The test signal through simulated rigs: every fault is named, and a healthy rig is quiet."""

import re
import shutil
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
import soundfile
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

import rigproof
from rigproof.linecheck.responses import THIRDS_HZ
from rigproof.linecheck.score import Score, recognised, rendered
from tests.cli.conftest import Outcome, Run, run  # noqa: F401 (a fixture)
from tests.linecheck.simulated import Faults, through

DEMO = Path(rigproof.__file__).parent / "demo"
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
TRIO, TWELVE = EXAMPLES / "trio", EXAMPLES / "twelve"
RATE = 24_000  # half of the usual: as well told, and in half the time
CHANNELS = 12
FEW = 4
SEED = 20_270_301


@pytest.fixture(scope="module")
def signal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("signal") / "signal.wav"
    soundfile.write(path, rendered(Score(CHANNELS, RATE), level_dbfs=-20), RATE, subtype="PCM_24")
    return path


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The signal for few channels, where moving a clock takes long."""
    path = tmp_path_factory.mktemp("short") / "signal.wav"
    soundfile.write(path, rendered(Score(FEW, RATE), level_dbfs=-20), RATE, subtype="PCM_24")
    return path


def recorded(signal: Path, faults: Faults, *, rate_hz: int = RATE, seed: int = SEED) -> Path:
    played, _ = soundfile.read(signal, dtype="float32", always_2d=True)
    path = signal.with_name(f"take-{abs(hash(repr(faults)))}-{seed}.wav")
    soundfile.write(path, through(played, faults, rate_hz=RATE, seed=seed), rate_hz, "PCM_24")
    return path


def proved(run: Run, signal: Path, faults: Faults, *words: object, **how: int) -> Outcome:  # noqa: F811
    return run("prove", signal, recorded(signal, faults, **how), "--json", *words)


def told(outcome: Outcome) -> set[tuple[str, int]]:
    return {
        (one["kind"], one["channel"])
        for one in outcome.json["result"]["findings"]
        if one["grade"] == "fail"
    }


@pytest.mark.parametrize("seed", range(4))
def test_a_healthy_rig_is_quiet(run: Run, short: Path, seed: int) -> None:  # noqa: F811
    """Levels within half a decibel, delays within a hundredth of a sample, ordinary noise.

    One line hums a little, one loses the lowest and highest, one bends, one hears its neighbour.
    """
    dice = np.random.default_rng(seed)
    faults = Faults(
        gain_db=dict(enumerate(dice.uniform(-0.5, 0.5, FEW).tolist())),
        late_samples=dict(enumerate((40 + dice.uniform(-0.01, 0.01, FEW)).tolist())),
        noise_dbfs=float(dice.uniform(-110, -85)),
        hum_dbfs={0: (50.0, tuple(dice.uniform(-100, -82, 5).tolist()))},
        band_hz={1: (20.0, 30_000.0)},
        square={2: 0.004},
        leaks={(3, 0): -62.0},
        start_s=float(dice.uniform(0, 20)),
        clock_ppm=float(dice.uniform(-200, 200)),
    )
    outcome = proved(run, short, faults, seed=seed)
    assert outcome.json["result"]["findings"] == []
    assert outcome.code == 0


def test_everything_at_once_is_told_apart(run: Run, signal: Path) -> None:  # noqa: F811
    """A rotated patch, a flipped channel, 1.7 samples, a hum, a neighbour, a missing line."""
    faults = Faults(
        route={0: 1, 1: 2, 2: 3, 3: 0, 8: 9, 9: 8},
        flipped=frozenset({4}),
        late_samples={5: 1.7},
        hum_dbfs={6: (50.0, (-50.0, -90.0, -60.0))},
        leaks={(7, 2): -30.0},
        dead=frozenset({10}),
    )
    outcome = proved(run, signal, faults)
    result = outcome.json["result"]
    assert outcome.code == 1
    assert told(outcome) == {
        ("elsewhere", 1),
        ("elsewhere", 9),
        ("polarity", 5),
        ("hum", 7),
        ("crosstalk", 8),
        ("missing", 11),
    }
    lines = {one["channel"]: one for one in result["lines"]}
    assert [lines[n]["holds"] for n in range(1, 13)] == [2, 3, 4, 1, 5, 6, 7, 8, 10, 9, None, 12]
    assert lines[6]["delay_error_ms"] * RATE / 1000 == pytest.approx(1.7, abs=0.02)
    assert ("delay", 6) in {(one["kind"], one["channel"]) for one in result["findings"]}
    (hum,) = [one for one in result["findings"] if one["kind"] == "hum"]
    assert hum["value"] == pytest.approx(-49.6, abs=0.3)  # -50 and -60 dBFS, as powers add
    (leak,) = [one for one in result["findings"] if one["kind"] == "crosstalk"]
    assert leak["others"] == [3]
    assert leak["value"] == pytest.approx(-30, abs=0.2)
    (swap,) = [one for one in result["findings"] if one["channel"] == 9]
    assert "swapped" in swap["says"]
    (ring,) = [one for one in result["findings"] if one["channel"] == 1]
    assert ring["others"] == [2, 3, 4]
    assert "one round on" in ring["says"]


@pytest.mark.parametrize(("clock_ppm", "start_s"), [(-200.0, 0.0), (-37.0, 7.0), (200.0, 59.0)])
def test_clock_and_start_do_not_matter(
    run: Run,  # noqa: F811
    short: Path,
    clock_ppm: float,
    start_s: float,
) -> None:
    faults = Faults(
        clock_ppm=clock_ppm, start_s=start_s, late_samples={3: 2.25}, gain_db={1: -60.0}
    )
    lines = {one["channel"]: one for one in proved(run, short, faults).json["result"]["lines"]}
    assert [lines[n]["holds"] for n in range(1, FEW + 1)] == list(range(1, FEW + 1))
    assert lines[4]["delay_error_ms"] * RATE / 1000 == pytest.approx(2.25, abs=0.03)
    assert lines[2]["gain_error_db"] == pytest.approx(-60, abs=0.5)


@pytest.mark.parametrize("seed", range(3))
def test_noise_20_db_below(run: Run, signal: Path, seed: int) -> None:  # noqa: F811
    """A sweep at -20 dBFS in noise of -40: its place, its polarity and its level still stand."""
    faults = Faults(noise_dbfs=-40.0, flipped=frozenset({2}), route={6: 7, 7: 6})
    lines = {
        one["channel"]: one
        for one in proved(run, signal, faults, seed=seed).json["result"]["lines"]
    }
    assert [lines[n]["holds"] for n in (1, 3, 7, 8)] == [1, 3, 8, 7]
    assert [one["upright"] for _, one in sorted(lines.items())] == [n != 2 for n in range(CHANNELS)]
    assert max(abs(one["gain_error_db"]) for one in lines.values()) < 0.5


def test_a_telephone_band_keeps_place_polarity_and_level(run: Run, signal: Path) -> None:  # noqa: F811
    faults = Faults(band_hz={1: (300.0, 3400.0)}, flipped=frozenset({1}))
    lines = {one["channel"]: one for one in proved(run, signal, faults).json["result"]["lines"]}
    assert lines[2]["holds"] == 2
    assert lines[2]["upright"] is False
    assert abs(lines[2]["gain_error_db"]) < 1.5


def test_a_steep_filter_does_not_turn_a_line_over(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    """Filters as boxes have them, which turn the phase by half a turn and more within the band."""
    sound, _ = soundfile.read(recorded(short, Faults(flipped=frozenset({1, 3}))), always_2d=True)
    for channels, edges, way in (((0, 1), (300, 3400), "band"), ((2, 3), 400, "high")):
        shape = butter(4, edges, way, fs=RATE, output="sos")
        sound[:, channels] = sosfilt(shape, sound[:, channels], axis=0)
    take = tmp_path / "take.wav"
    soundfile.write(take, sound, RATE, "PCM_24")
    lines = run("prove", short, take, "--json").json["result"]["lines"]
    assert [one["upright"] for one in lines] == [True, False, True, False]


def test_what_many_share_is_told_once(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    """All four lines hum, one louder; two are upside down, each by itself."""
    levels = {0: -46.0, 1: -40.0, 2: -45.0, 3: -44.0}
    faults = Faults(
        hum_dbfs={n: (50.0, (level,)) for n, level in levels.items()},
        flipped=frozenset({0, 2}),
    )
    report = tmp_path / "proof.pdf"
    outcome = proved(run, short, faults, "--report", report, "--language", "de")
    findings = outcome.json["result"]["findings"]
    (hum,) = [one for one in findings if one["kind"] == "hum"]
    assert (hum["channel"], hum["others"]) == (1, [2, 3, 4])
    assert hum["value"] == pytest.approx(-40, abs=0.3)
    assert hum["says"].startswith("Channels 1-4 hum, up to -40 dBFS")
    assert [one["channel"] for one in findings if one["kind"] == "polarity"] == [1, 3]
    assert [one["grade"] for one in outcome.json["result"]["lines"]] == ["fail"] * 4
    text = " ".join(
        page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(report)
    )
    assert "Kanäle 1-4 brummen, bis -40 dBFS" in " ".join(text.split())


def test_a_box_on_its_own_clock(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    """Of four lines two run 150 ppm off, one of them turned over: the clock is told, no loss."""
    played, _ = soundfile.read(short, dtype="float32", always_2d=True)
    here = through(played, Faults(flipped=frozenset({1})), rate_hz=RATE, seed=1)
    there = through(played, Faults(clock_ppm=150), rate_hz=RATE, seed=1)
    sound = here[: len(there)].copy()
    sound[:, 2:] = there[: len(sound), 2:]
    take = tmp_path / "take.wav"
    soundfile.write(take, sound, RATE, "PCM_24")
    result = run("prove", short, take, "--json").json["result"]
    ours = {one["channel"] for one in result["findings"] if one["kind"] == "clock"}
    assert ours in ({1, 2}, {3, 4})  # whose clock is right nobody can tell
    assert all(
        one["value"] == pytest.approx(150, abs=2)
        for one in result["findings"]
        if one["kind"] == "clock"
    )
    kinds = {(one["kind"], one["channel"]) for one in result["findings"]}
    assert kinds - {("clock", n) for n in ours} <= {("polarity", 2)}


@pytest.mark.parametrize(
    ("lost", "says"),
    [
        (16, r"about (\d+) samples were lost while it was recorded, at (9|10|11) s"),
        (256, r"about (\d+) samples were lost"),
        (-256, r"about (\d+) samples were doubled"),
        (4096, "many samples were lost"),
    ],
)
def test_lost_samples_are_no_fault_of_the_rack(
    run: Run,  # noqa: F811
    short: Path,
    tmp_path: Path,
    lost: int,
    says: str,
) -> None:
    """A recorder that drops or doubles a block in the middle of the sweeps, on all channels."""
    sound, _ = soundfile.read(recorded(short, Faults()), always_2d=True)
    at = 10 * RATE
    torn = (
        np.delete(sound, slice(at, at + lost), 0)
        if lost > 0
        else np.insert(sound, at, sound[at + lost : at], 0)
    )
    take = tmp_path / "take.wav"
    soundfile.write(take, torn, RATE, "PCM_24")
    outcome = run("prove", short, take, "--json")
    assert outcome.code == 2
    told_of = re.search(says, outcome.json["faults"][0]["says"])
    assert told_of is not None
    if told_of.groups():
        assert int(told_of[1]) == pytest.approx(abs(lost), rel=0.03)


def test_a_ceiling_and_a_bend_are_told(run: Run, signal: Path) -> None:  # noqa: F811
    faults = Faults(ceiling={2: 0.06}, square={3: 0.1})
    outcome = proved(run, signal, faults)
    assert ("clipped", 3) in told(outcome)
    lines = {one["channel"]: one for one in outcome.json["result"]["lines"]}
    # A second-order bend of a tenth of the peak puts half a tenth into the second harmonic.
    assert lines[4]["distortion_ratio"] == pytest.approx(0.05, rel=0.1)
    assert ("distortion", 4) in told(outcome)


def test_everything_against_it_at_once(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """A clock 200 ppm off, a minute early, 44.1 for 48; noise, a telephone, a ceiling, 30 dB."""
    rate_hz = 16_000
    played = rendered(Score(8, rate_hz), level_dbfs=-20)
    faults = Faults(
        clock_ppm=-200,
        start_s=60,
        noise_dbfs=-60,
        ceiling={0: 0.06},
        gain_db={1: -30.0, 4: 6.0},
        flipped=frozenset({2}),
        dead=frozenset({3}),
        late_samples={5: 1.7},
        route={6: 7, 7: 6},
        band_hz={6: (300.0, 3400.0)},
    )
    signal, take = tmp_path / "signal.wav", tmp_path / "take.wav"
    soundfile.write(signal, played, rate_hz, "PCM_24")
    sound = through(played, faults, rate_hz=rate_hz, seed=SEED)
    soundfile.write(take, sound, rate_hz * 441 // 480, "PCM_24")
    outcome = run("prove", signal, take, "--json")
    result = outcome.json["result"]
    assert result["rate_ratio"] == pytest.approx(480 / 441 * 1.0002, rel=1e-5)
    assert told(outcome) == {
        ("clipped", 1),
        ("level", 2),
        ("polarity", 3),
        ("missing", 4),
        ("level", 5),
        ("elsewhere", 7),
        ("response", 7),
    }
    lines = {one["channel"]: one for one in result["lines"]}
    assert [lines[n]["holds"] for n in range(1, 9)] == [1, 2, 3, None, 5, 6, 8, 7]
    assert lines[6]["delay_error_ms"] * rate_hz / 1000 == pytest.approx(1.7, abs=0.02)
    assert lines[2]["gain_error_db"] == pytest.approx(-30, abs=0.1)
    (delay,) = [one for one in result["findings"] if one["kind"] == "delay"]
    assert delay["channel"] == 6


def test_noise_and_hum_are_no_distortion(run: Run, short: Path) -> None:  # noqa: F811
    """A line 20 dB down in noise, one 40 dB down, one under a hum that is louder than it."""
    faults = Faults(
        noise_dbfs=-50.0,
        gain_db={1: -20.0, 2: -45.0, 3: -20.0},
        hum_dbfs={3: (50.0, (-30.0, -140.0, -40.0))},
    )
    result = proved(run, short, faults).json["result"]
    kinds = {(one["kind"], one["channel"]) for one in result["findings"]}
    assert {kind for kind, _ in kinds} == {"noise", "level", "hum"}
    lines = {one["channel"]: one for one in result["lines"]}
    assert max(map(abs, lines[2]["thirds_db"][3:-2])) < 1
    covered = [one for one in result["not_tested"] if "covers" in one]
    assert [one.split(":")[0][-1] for one in covered] == ["3", "4"]
    assert lines[3]["distortion_ratio"] is None
    assert lines[3]["thirds_db"] == []
    hum = lines[4]["hum"]
    assert (hum["mains_hz"], hum["likely"]) == (50.0, "field")
    assert [round(level) for level in hum["levels_dbfs"][:3]] == [-30, -140, -40]
    (says,) = [one["says"] for one in result["findings"] if one["kind"] == "hum"]
    assert "(50 Hz -30, 150 Hz -40)" in says


def test_a_steep_fall_is_told_as_it_is(run: Run, short: Path) -> None:  # noqa: F811
    """At 3 kHz a low pass of fourth order at 500 Hz has 64 dB: derived, 20 log10(1 + 6.3**4)."""
    faults = Faults(band_hz={1: (1.0, 500.0)}, noise_dbfs=-140)
    lines = {one["channel"]: one for one in proved(run, short, faults).json["result"]["lines"]}
    thirds = dict(zip((round(hz) for hz in THIRDS_HZ), lines[2]["thirds_db"], strict=False))
    assert thirds[3162] - thirds[126] == pytest.approx(-64, abs=3)
    assert min(thirds.values()) > -100  # what is under the method's own skirts is not made up


def test_the_wrong_rate_is_named(run: Run, signal: Path) -> None:  # noqa: F811
    """Played at 48 kHz, and written as if at 44.1: the same samples under another name."""
    outcome = proved(run, signal, Faults(flipped=frozenset({1})), rate_hz=22_050)
    result = outcome.json["result"]
    assert result["rate_ratio"] == pytest.approx(48_000 / 44_100, rel=1e-5)
    healthy = proved(run, signal, Faults(), rate_hz=22_050)
    assert (healthy.code, healthy.json["result"]["grade"]) == (1, "doubt")
    assert told(outcome) == {("polarity", 2)}


def test_in_plug_terms_with_a_rig(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """Two plugs exchanged at a split of the demo: the boxes and sockets are named."""
    signal = tmp_path / "demo.wav"
    # The demo has 35 channels; the first eight hold the plugs that are exchanged.
    words = ("signal", DEMO, "--count", 8, "-o", signal, "--json")
    assert run(*words).json["result"]["channels"] == 8
    faults = Faults(route={4: 5, 5: 4, 0: 1, 1: 0})
    take = recorded(signal, faults)
    answer = run("prove", signal, take, "--rig", DEMO, "--json").json["result"]
    says = [one["says"] for one in answer["findings"] if one["kind"] == "elsewhere"]
    assert (
        "Lines 1 (Kick) and 2 (Snare) are swapped at Split A: exchange Split A, in 1 and "
        "Split A, in 2." in says
    )
    shutil.rmtree(tmp_path)


def test_joined_lines_are_in_their_places(run: Run, short: Path) -> None:  # noqa: F811
    """Two lines on one socket: each channel holds its own, and nothing is missing or moved."""
    faults = Faults(leaks={(0, 1): 1.0, (1, 0): -1.0})
    outcome = proved(run, short, faults)
    assert told(outcome) == {("crosstalk", 1), ("crosstalk", 2)}
    assert "are joined" in outcome.json["result"]["findings"][0]["says"]


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_report_on_paper(run: Run, short: Path, tmp_path: Path, language: str) -> None:  # noqa: F811
    report, plots = tmp_path / "proof.pdf", tmp_path / "plots"
    words = ("--report", report, "--plots", plots, "--language", language)
    outcome = proved(run, short, Faults(flipped=frozenset({1}), leaks={(2, 3): -30.0}), *words)
    assert outcome.code == 1
    text = "".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(report))
    says = {"en": "Channel 2 is upside down", "de": "Kanal 2 ist verpolt"}
    assert says[language] in " ".join(text.split())
    written = {Path(one) for one in outcome.json["result"]["written"]}
    assert written == {report, plots / "response-1.svg", plots / "crosstalk.svg"}
    drawn = ElementTree.parse(plots / "crosstalk.svg")
    figures = [one.text for one in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert figures.count("30") == 1


def test_what_was_not_played_is_not_missing(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    """A recorder with more channels than the signal, and a list with a line beyond it."""
    sound, _ = soundfile.read(recorded(short, Faults()), always_2d=True)
    take, listed = tmp_path / "take.wav", tmp_path / "list.csv"
    soundfile.write(take, np.pad(sound, ((0, 0), (0, 4))), RATE, "PCM_24")
    assert run("prove", short, take, "--json").json["result"]["findings"] == []
    listed.write_text("1,Kick\n2,Snare\n3,Bass\n4,Keys\n6,Voice\n", encoding="utf-8")
    result = run("prove", short, take, "--channels", listed, "--json").json["result"]
    assert result["findings"] == []
    assert result["not_tested"][0] == "line 6 (Voice): the signal has no channel for it"


def test_long_findings_are_whole_on_paper(run: Run, signal: Path, tmp_path: Path) -> None:  # noqa: F811
    """Lines in each other's places in no order: every plug of the ring is printed."""
    order = [2, 5, 0, 8, 1, 10, 4, 11, 7, 3, 9, 6]
    report = tmp_path / "proof.pdf"
    outcome = proved(run, signal, Faults(route=dict(enumerate(order))), "--report", report)
    text = " ".join(
        page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(report)
    )
    says = [one["says"] for one in outcome.json["result"]["findings"]]
    assert max(map(len, says)) > 400
    printed = "".join(text.split())
    assert all("".join(piece.split()) in printed for one in says for piece in one.split("; "))


def test_a_report_that_cannot_be(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    outcome = run("prove", short, short, "--report", tmp_path / "proof.doc")
    assert outcome.code == 2
    assert "does not end in .pdf" in " ".join(outcome.err.split())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: path.write_bytes(b""), "is empty"),
        (lambda path: path.write_text("number,name\n1,Kick\n"), "no sound file"),
        (lambda path: path.mkdir(), "no sound file stands in"),
        (lambda path: None, "there is no file"),
        (lambda path: soundfile.write(path, np.zeros((0, 2)), RATE), "no samples"),
        (lambda path: soundfile.write(path, np.zeros((RATE, 300)), RATE, "FLOAT"), "300 channels"),
        (lambda path: soundfile.write(path, np.full((RATE, 2), np.nan), RATE, "FLOAT"), "NaN"),
        (lambda path: soundfile.write(path, np.zeros((RATE * 30, 2)), RATE), "nowhere in"),
        (
            lambda path: soundfile.write(
                path, np.random.default_rng(1).normal(0, 0.1, RATE * 30), RATE
            ),
            "nowhere in",
        ),
    ],
)
def test_what_cannot_be_read(
    run: Run,  # noqa: F811
    signal: Path,
    tmp_path: Path,
    make: object,
    says: str,
) -> None:
    take = tmp_path / "take.wav"
    assert callable(make)
    make(take)
    before = take.read_bytes() if take.is_file() else None
    outcome = run("prove", signal, take)
    assert outcome.code == 2
    assert says in " ".join(outcome.err.split())
    assert (take.read_bytes() if take.is_file() else None) == before


def test_a_speaker_that_a_phone_heard(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    """All lines at once on one channel, through a room and a telephone's band."""
    sound, _ = soundfile.read(recorded(short, Faults(noise_dbfs=-60)), always_2d=True)
    dice, length = np.random.default_rng(3), RATE // 3
    room = dice.normal(0, 1, length) * np.exp(-6.9 * np.arange(length) / length)
    room *= 0.7 / np.sqrt(np.square(room).sum())
    room[0] += 1
    heard = fftconvolve(sound.mean(axis=1), room)[: len(sound)]
    heard = sosfilt(butter(4, (300, 3400), "band", fs=RATE, output="sos"), heard)
    phone = tmp_path / "phone.wav"
    soundfile.write(phone, resample_poly(heard, 1, 3), RATE // 3)
    outcome = run("prove", short, phone)
    assert outcome.code == 2
    assert "a speaker that something listened to" in " ".join(outcome.err.split())


def test_a_folder_of_mono_files(run: Run, short: Path, tmp_path: Path) -> None:  # noqa: F811
    """As many recorders write them; one of them ends early, and two lines are exchanged."""
    sound, _ = soundfile.read(recorded(short, Faults(route={1: 2, 2: 1})), always_2d=True)
    folder = tmp_path / "take"
    folder.mkdir()
    for place in range(FEW):
        length = len(sound) - (RATE // 4 if place == 3 else 0)
        soundfile.write(folder / f"Track {place + 1}.wav", sound[:length, place], RATE, "PCM_24")
    outcome = run("prove", short, folder, "--json")
    assert [one["holds"] for one in outcome.json["result"]["lines"]] == [1, 3, 2, 4]
    assert told(outcome) == {("elsewhere", 2)}


def test_a_signal_of_another_rig(run: Run, tmp_path: Path) -> None:  # noqa: F811
    signal = tmp_path / "signal.wav"
    run("signal", TRIO, "-o", signal, "--rate", 16_000, "--count", 3)
    result = run("prove", signal, signal, "--rig", TWELVE, "--json").json["result"]
    assert result["signal_for"].startswith("The small box")
    shown = run("prove", signal, signal, "--rig", TWELVE).out
    assert "made for another rig" in " ".join(shown.split())
    assert (
        run("prove", signal, signal, "--rig", TRIO, "--json").json["result"]["signal_for"] is None
    )


def test_a_file_that_was_never_our_signal(run: Run, signal: Path, tmp_path: Path) -> None:  # noqa: F811
    other = tmp_path / "song.wav"
    soundfile.write(other, np.random.default_rng(2).normal(0, 0.1, (RATE * 20, CHANNELS)), RATE)
    outcome = run("prove", other, signal)
    assert outcome.code == 2
    assert "no test signal" in " ".join(outcome.err.split())


@pytest.mark.parametrize("channels", [1, 2, 33, 64])
@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000, 32_000])
def test_our_own_signal_is_recognised(channels: int, rate_hz: int) -> None:
    if channels > 2 and rate_hz != 48_000:
        channels = 3
    frames = rendered(Score(channels, rate_hz), level_dbfs=-26)
    found = recognised(frames, rate_hz)
    assert found is not None
    assert found[0] == Score(channels, rate_hz)
    assert found[1] == pytest.approx(-26, abs=0.01)
