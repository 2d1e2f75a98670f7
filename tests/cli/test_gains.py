"""`rigproof gains` and `rigproof swap` from the outside, on rigs in a folder."""

import re
import shutil
from pathlib import Path

import pytest

from rigproof.checks.rule import look
from rigproof.cli.gains import edits
from rigproof.rigfile.history import versions
from rigproof.rigfile.load import load
from rigproof.signal.gainplan import GainPlan, plan_gains
from tests.bands import WHOLE
from tests.cli.conftest import SMALL, Run


@pytest.fixture
def trio(tmp_path: Path) -> Path:
    return Path(shutil.copytree(WHOLE["trio"], tmp_path / "trio"))


@pytest.fixture
def cold(trio: Path) -> Path:
    """The trio with gains that leave far too much room, and knobs that nobody wrote down."""
    text = (trio / "rig.yaml").read_text(encoding="utf-8")
    head, _, rest = text.partition("# Where the knobs stand")
    text = head + rest[rest.index("\ncontrol:") :]
    text = re.sub(r"(gain_db: )([0-9.]+)", lambda m: f"{m[1]}{float(m[2]) - 12:g}", text)
    (trio / "rig.yaml").write_text(text, encoding="utf-8")
    return trio


# The amplifier at the heart of the story, with the most sensitive earphones of the library.
SENSITIVE = """\
format: 1
rig: {name: Sensitive, band: Mossgate Three}
people:
  - {id: ana, name: Ana, plays: voice, part: voices,
     ears: {plug: amp.phones.1, earphones: earphones-custom-6}}
sources:
  - {id: voice, name: Voice, family: voices, player: ana, mic: mic-vocal-dynamic, spl_db: 104}
gear:
  - {id: mixer, name: Mixer, type: mixer-rack-12}
  - {id: amp, name: Amp, type: headphone-amp-4-noisy, price_eur: 60}
leads:
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1, length_m: 1}
patch:
  - {source: voice, plug: mixer.in.1, channel: 1, gain_db: 40}
mixes:
  - {id: ana, name: Ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{from: voice, level_db: -20}]}
settings:
  - {at: amp.amp, gain_db: -20}
"""


@pytest.fixture
def sensitive(tmp_path: Path) -> Path:
    (tmp_path / "rig.yaml").write_text(SENSITIVE, encoding="utf-8")
    return tmp_path


# gains


def test_a_rig_that_stands_as_planned(run: Run, trio: Path) -> None:
    outcome = run("gains", trio)
    assert outcome.code == 0
    assert "18 knobs stand where the plan has them." in outcome.out
    assert "Turn, and write on tape" not in outcome.out


def test_what_to_turn(run: Run, cold: Path) -> None:
    outcome = run("gains", cold)
    assert outcome.code == 0
    assert "preamp of channel 1 (Kick)" in outcome.out
    assert "taken to stand at +0 dB" in outcome.out
    assert '"rigproof gains --write"' in outcome.out
    assert "SPL" in outcome.out
    assert "safe" not in outcome.out


def test_every_knob_with_what_it_is_now_what_it_should_be_and_where_it_can_go(
    run: Run, cold: Path
) -> None:
    before = (cold / "rig.yaml").read_bytes()
    outcome = run("gains", cold, "--every")
    plan = plan_gains(look(load(cold)).levels)
    assert isinstance(plan, GainPlan)
    rows = {line.split("  ")[1]: line.split() for line in outcome.out.splitlines() if "+" in line}
    for knob in plan.knobs:
        told = [word for word in rows[knob.name] if word[0] in "+-?" and len(word) > 1]
        assert told[-2:] == [f"{knob.low_db:+g}", f"{knob.high_db:+g}"]
        assert f"{knob.planned_db:+.1f}" in told
    assert (cold / "rig.yaml").read_bytes() == before


def test_as_json(run: Run, cold: Path) -> None:
    answer = run("gains", cold, "--json").json
    result = answer["result"]
    assert result["version"] is None
    kinds = {knob["kind"] for knob in result["knobs"]}
    assert kinds == {"preamp", "trim", "mix", "amplifier"}
    kick = next(k for k in result["knobs"] if k["kind"] == "preamp" and k["source"] == "kick")
    assert kick["tape"].startswith("preamp of channel 1 (Kick): +")
    assert kick["written"]
    assert {ear["person"] for ear in result["ears"]} == {"odo", "sunniva", "wren"}


def test_written_and_planned_again(run: Run, cold: Path) -> None:
    before = (cold / "rig.yaml").read_text(encoding="utf-8")
    answer = run("gains", cold, "--write", "--json").json
    assert answer["result"]["version"] is not None
    text = (cold / "rig.yaml").read_text(encoding="utf-8")
    kept = [line for line in before.splitlines() if line.startswith("#")]
    assert [line for line in text.splitlines() if line.startswith("#")] == kept
    assert "settings:" in text
    again = run("gains", cold, "--write", "--json").json["result"]
    assert not any(knob["moves"] for knob in again["knobs"])
    assert again["version"] is None
    assert (cold / "rig.yaml").read_text(encoding="utf-8") == text
    known, damage = versions(cold)
    assert [one.note for one in known][-1] == "gains as planned"
    assert not damage


def test_a_written_knob_is_changed_where_it_stands(run: Run, trio: Path) -> None:
    text = (trio / "rig.yaml").read_text(encoding="utf-8")
    run("gains", trio, "--level", "80", "--write")
    new = (trio / "rig.yaml").read_text(encoding="utf-8")
    assert len(new.splitlines()) == len(text.splitlines())
    changed = [(a, b) for a, b in zip(text.splitlines(), new.splitlines(), strict=True) if a != b]
    assert len(changed) == 3
    assert all("amp.amp." in a for a, _ in changed)


def test_a_row_the_file_leaves_out_is_added(trio: Path) -> None:
    file = trio / "rig.yaml"
    text = file.read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if "{source: voice, plug" in line)
    file.write_text(text.replace(row + "\n", ""), encoding="utf-8")
    stated = load(trio)
    plan = plan_gains(look(stated).levels)
    assert isinstance(plan, GainPlan)
    added = [edit for edit in edits(stated, plan) if getattr(edit, "path", "") == "patch"]
    assert len(added) == 1
    assert "'source': 'voice'" in str(added[0])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--level", "300"], "--level 300 cannot be meant"),
        (["--headroom", "-3"], "--headroom -3 cannot be meant"),
        (["--mix-headroom", "nan"], "cannot be meant"),
        (["--level", "loud"], "--level"),
    ],
)
def test_wishes_that_cannot_be_meant(run: Run, trio: Path, words: list[str], says: str) -> None:
    outcome = run("gains", trio, *words)
    assert outcome.code == 2
    assert says in outcome.err


def test_nobody_listens(run: Run, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text("format: 1\nrig: {name: Bare}\n", encoding="utf-8")
    outcome = run("gains", tmp_path)
    assert outcome.code == 2
    assert "nobody's earphones are plugged in" in outcome.err


def test_missing_figures_are_said(run: Run, small: Path) -> None:
    outcome = run("gains", small)
    assert outcome.code == 1
    assert "Cannot be judged; missing:" in outcome.out
    assert "Lead voice" in outcome.out


def test_the_demo_has_one_input_that_no_knob_can_save(run: Run) -> None:
    outcome = run("gains", WHOLE["demo"])
    assert outcome.code == 1
    assert outcome.out.count("Put a pad of") == 1
    assert "Bass synth DI box, in" in outcome.out
    assert "the slots of Runa's personal mixer and Yusra's personal mixer" in " ".join(
        outcome.out.split()
    )


# swap


def test_noisy_against_quiet_says_which_to_buy_and_why(run: Run, sensitive: Path) -> None:
    # Common practice, no source: two noisy boxes of this kind were returned for their hiss.
    result = run("swap", sensitive, "amp=headphone-amp-4-quiet", "--json").json["result"]
    assert result["better"] == "then"
    assert result["advice"].startswith("Take Headphone amplifier, four stereo, quiet: ")
    assert "less hiss" in result["advice"]
    assert "no longer heard between songs" in result["advice"]
    (ear,) = result["ears"]
    assert ear["now"]["hiss_dba"] > 25 > ear["then"]["hiss_dba"]
    # The price on the box's own entry is not that of the new one.
    assert result["things"][0]["price_eur"] == 380 - 90


def test_quiet_against_noisy_says_stay(run: Run, sensitive: Path) -> None:
    file = sensitive / "rig.yaml"
    file.write_text(SENSITIVE.replace("-noisy, price_eur: 60", "-quiet"), encoding="utf-8")
    outcome = run("swap", sensitive, "amp=headphone-amp-4-noisy")
    assert "Stay with Headphone amplifier, four stereo, quiet: " in outcome.out
    assert "290 euros less" in outcome.out
    assert "safe" not in outcome.out


def test_a_gap_is_as_sure_as_the_two_figures_that_make_it(run: Run, sensitive: Path) -> None:
    """Two amplifiers, each a typical 4 dB: what both share cancels, and 4 x sqrt(2) is the most."""
    file = sensitive / "rig.yaml"
    file.write_text(SENSITIVE.replace("-noisy, price_eur: 60", "-quiet"), encoding="utf-8")
    result = run("swap", sensitive, "amp=headphone-amp-4-noisy", "--json").json["result"]
    (ear,) = result["ears"]
    assert ear["apart_db"] == pytest.approx(ear["then"]["hiss_dba"] - ear["now"]["hiss_dba"])
    assert 2 < ear["apart_off_db"] <= 4 * 2**0.5
    assert ear["apart_db"] > ear["apart_off_db"]
    text = " ".join(run("swap", sensitive, "amp=headphone-amp-4-noisy").out.split())
    assert "the figures tell the two apart" in text


def test_who_swaps_to_sensitive_earphones_is_told_before_the_first_sound(
    run: Run, trio: Path
) -> None:
    result = run("swap", trio, "odo.earphones=earphones-custom-6", "--json").json["result"]
    (ear,) = (one for one in result["ears"] if one["person"] == "odo")
    louder = ear["then"]["level_spl"] - ear["now"]["level_spl"]
    assert louder > 6
    text = " ".join(run("swap", trio, "odo.earphones=earphones-custom-6").out.split())
    assert f"Odo: at the same knobs {louder:.1f} dB louder" in text
    back = run("swap", trio, "odo.earphones=headphones-64-ohm").out
    assert "at the same knobs" not in back


def test_earphones_that_hear_no_hiss_make_no_difference(run: Run, trio: Path) -> None:
    result = run("swap", trio, "amp=headphone-amp-4", "--json").json["result"]
    assert result["better"] == "then"  # the cheaper one
    assert "will do" in result["advice"]


def test_earphones(run: Run, sensitive: Path) -> None:
    result = run("swap", sensitive, "ana.earphones=earphones-dual", "--json").json["result"]
    (ear,) = result["ears"]
    now, then = ear["now"], ear["then"]
    assert then["loudest_spl"] < now["loudest_spl"]
    assert then["hiss_dba"] < now["hiss_dba"]
    assert result["things"][0]["size_then"]["isolation_db"] == 25


def test_two_at_once_and_nothing_is_written(run: Run, sensitive: Path) -> None:
    text = (sensitive / "rig.yaml").read_bytes()
    words = [
        "amp=headphone-amp-4-quiet",
        "ana.earphones=earphones-dual",
        "voice.mic=mic-kick-dynamic",
    ]
    result = run("swap", sensitive, *words, "--json").json["result"]
    assert [thing["then"] for thing in result["things"]] == [w.partition("=")[2] for w in words]
    assert (sensitive / "rig.yaml").read_bytes() == text
    assert not (sensitive / ".rigproof").exists()


def test_sockets_of_another_name(run: Run, sensitive: Path) -> None:
    outcome = run("swap", sensitive, "amp=personal-mixer-16")
    assert outcome.code == 2
    assert "names what is not there" in outcome.err
    assert 'has nothing called "in"' in outcome.err
    line = next(n for n, row in enumerate(SENSITIVE.splitlines(), 1) if "to-amp" in row)
    assert f"rig.yaml:{line}:" in outcome.err


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("amp", "says not what becomes what"),
        ("=x", "says not what becomes what"),
        ("ampp=headphone-amp-4", 'Did you mean "amp"?'),
        ("amp=headphone-amp-4-quite", 'Did you mean "headphone-amp-4-quiet"?'),
        ("amp=headphone-amp-4-noisy", "already"),
        ("anna.earphones=earphones-dual", 'Did you mean "ana"?'),
        ("ana.earphone=earphones-dual", 'Did you mean "earphones"?'),
        ("ana.earphones=mixer-rack-12", "cannot be Ana's earphones"),
        ("voice.di=di-active", "has no DI box"),
        ("choir.mic=mic-vocal-dynamic", "no source is called"),
    ],
)
def test_broken_requests(run: Run, sensitive: Path, word: str, says: str) -> None:
    outcome = run("swap", sensitive, word)
    assert outcome.code == 2
    assert says in outcome.err
    assert not outcome.out
    assert run("swap", sensitive, word, "--json").json["faults"]


def test_levels_that_cannot_be_meant(run: Run, sensitive: Path) -> None:
    outcome = run("swap", sensitive, "amp=headphone-amp-4", "--level", "nan")
    assert outcome.code == 2
    assert "cannot be meant" in outcome.err


def test_new_findings_are_told(run: Run, trio: Path) -> None:
    """The bigger mixer does not fit where the small one sat."""
    answer = run("swap", trio, "mixer=mixer-rack-24", "--json").json
    assert answer["exit"] == (
        1 if any(f["severity"] in {"stop", "risk"} for f in answer["result"]["new"]) else 0
    )
    assert answer["result"]["new"]


def test_small_rig_with_missing_figures(run: Run, small: Path) -> None:
    assert "headphone-amp-4}" in SMALL
    outcome = run("swap", small, "amp=headphone-amp-4-quiet")
    assert outcome.code in {0, 1}
    assert "missing: " in outcome.out
