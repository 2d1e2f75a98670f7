"""What `trace` tells of levels, and `why` of every figure: by pencil from what is printed."""

import re
from io import StringIO
from itertools import pairwise
from math import log10
from pathlib import Path
from xml.etree import ElementTree

import pytest

from rigproof.cli import trace, why
from rigproof.cli.commands import read
from rigproof.cli.terminal import Screen
from tests.cli.conftest import Run
from tests.signal.pencil import FEED, GEAR, SPLIT


@pytest.fixture
def split(tmp_path: Path) -> Path:
    return _written(tmp_path / "split", SPLIT)


def _written(folder: Path, rig: str) -> Path:
    (folder / "gear").mkdir(parents=True)
    (folder / "rig.yaml").write_text(rig, encoding="utf-8")
    (folder / "gear" / "own.yaml").write_text(GEAR, encoding="utf-8")
    return folder


def squeezed(text: str) -> str:
    return " ".join(text.split())


# trace


def test_trace_ends_with_what_the_ear_gets(run: Run, split: Path) -> None:
    text = squeezed(run("trace", split, "voice", "ana").out)
    assert "Level: 98.8 (likely 92 to 106) dB SPL." in text
    assert "Clips first: Mixer, converter (adc) 1; 10.7 dB of room at peaks of 12 dB." in text
    assert "Hiss: 22.1 (likely 20 to 24) dB SPL(A); 68% of it from Mixer, out 1." in text
    # Two figures of a data sheet, 1.5 dB each: 1.5 x sqrt(2) = 2.1.
    assert "Loudest possible: 130.5 (likely 128 to 133) dB SPL" in text


def test_trace_shows_every_rung_and_its_worth_in_80_columns(run: Run, split: Path) -> None:
    _, asked = read(["trace", str(split), "voice", "ana"])
    out = StringIO()
    Screen(out, 79, colour=False, terminal=True).show(*trace.run(asked).rows)
    table = out.getvalue()
    assert all(len(line) < 80 for line in table.splitlines())
    table = table[table.index("stands at") :]
    assert re.search(r"converter \(adc\) 1 +-19\.7a +-7\.7 +10\.7d +-104\.5a +84\.8 +dBFS", table)
    assert re.search(r"bus 1 \(all: -25\.7\)", table)


def test_trace_as_json_holds_the_ladder(run: Run, split: Path) -> None:
    result = run("trace", split, "voice", "ana", "--json").json["result"]
    ladder = result["ways"][0]["levels"]
    assert ladder["rungs"][0]["place"] == "source:voice"
    assert ladder["first_to_clip"] == "desk.adc.1"
    running = ladder["rungs"][0]["level"]["value"]
    for rung in ladder["rungs"][1:]:
        running += sum(part["value_db"] for part in rung["parts"])
        assert rung["level"]["value"] == pytest.approx(running)
    ear = result["at_the_ear"]
    assert ear["level_spl"] == pytest.approx(running)
    shares = sum(10 ** (share["level_dba"] / 10) for share in ear["shares"])
    assert 10 * log10(shares) == pytest.approx(ear["hiss_dba"], abs=0.01)


def test_trace_to_the_house_has_no_ear(run: Run, split: Path) -> None:
    result = run("trace", split, "voice", "house", "--json").json["result"]
    assert result["at_the_ear"] is None
    assert result["ways"][0]["levels"]["rungs"][-1]["unit"] == "dBu"


def test_trace_says_what_is_missing(run: Run, split: Path) -> None:
    file = split / "rig.yaml"
    file.write_text(SPLIT.replace(", gain_db: 40", ""), encoding="utf-8")
    text = squeezed(run("trace", split, "voice", "ana").out)
    assert "Not stated: the gain of desk.pre.1." in text
    assert "Level: " not in text


def test_trace_draws_the_ladder(run: Run, split: Path) -> None:
    """Every figure of the text stands in the picture, and levels lie in the order of their size."""
    file = split / "way.svg"
    result = run("trace", split, "voice", "ana", "-o", file, "--json").json["result"]
    assert result["drawing"] == str(file)
    picture = ElementTree.fromstring(file.read_text(encoding="utf-8"))
    words = {"".join(text.itertext()) for text in picture.iter("{http://www.w3.org/2000/svg}text")}
    rungs = result["ways"][0]["levels"]["rungs"]
    dots = []
    for rung in rungs:
        level = rung["level"]
        assert f"{level['value']:.1f}{level['from'][0]} {rung['unit']}" in words
        assert f"{rung['peak']:.1f}" in words
        if rung["headroom_db"] is not None:
            assert f"{rung['headroom_db']:.1f}{rung['clip']['from'][0]}" in words
    for circle in picture.iter("{http://www.w3.org/2000/svg}circle"):
        dots.append(float(circle.get("cx", "nan")))
    assert len(dots) == len(rungs)
    units = {"dBu to 0 dBFS", "0 dBFS to dBu", "earphone at 1 V", "dBu to dBV"}
    gains = [sum(p["value_db"] for p in r["parts"] if p["name"] not in units) for r in rungs[1:]]
    steps = [after - before for before, after in pairwise(dots)]
    mm_per_db = max(steps, key=abs) / max(gains, key=abs)
    assert steps == pytest.approx([gain * mm_per_db for gain in gains], abs=0.01)


def test_a_drawing_is_an_svg_and_nothing_else_is_touched(run: Run, split: Path) -> None:
    outcome = run("trace", split, "voice", "ana", "-o", split / "rig.yaml")
    assert outcome.code == 2
    assert "Name a file that ends in .svg." in outcome.err
    assert (split / "rig.yaml").read_text(encoding="utf-8") == SPLIT


# why


@pytest.mark.parametrize("rig", [SPLIT, FEED])
@pytest.mark.parametrize("of", ["level", "hiss", "loudest"])
def test_the_lines_of_a_reason_come_to_its_figure(
    run: Run, tmp_path: Path, rig: str, of: str
) -> None:
    folder = _written(tmp_path / "rig", rig)
    person, source = ("ana", "voice") if rig == SPLIT else ("bo", "keys")
    words = [source, person] if of == "level" else [person]
    result = run("why", folder, *words, "--of", of, "--json").json["result"]
    ends, running = [], 0.0
    for line in result["lines"]:
        if line["unit"] == "dB":
            running += line["value"]
            assert line["comes_to"] == pytest.approx(running, abs=1e-6)
        else:
            ends.append(running)
            running = line["value"]
    ends.append(running)
    if of == "hiss":  # each noise begins anew; the last line is their sum
        total = 10 * log10(sum(10 ** (level / 10) for level in ends[1:-1]))
        assert total == pytest.approx(result["value"], abs=0.01)
    assert running == pytest.approx(result["value"], abs=1e-6)


def test_worked_lines_are_true_arithmetic(run: Run, split: Path) -> None:
    """What is printed, typed into a calculator of another make, gives what is printed."""
    found = 0
    for words in (["voice", "ana"], ["ana"], ["ana", "--of", "loudest"],
                  ["voice", "ana", "--of", "headroom"], ["desk.pre.1"]):  # fmt: skip
        for line in run("why", split, *words, "--json").json["result"]["lines"]:
            if not line["worked"]:
                continue
            sum_, _, value = line["worked"].rpartition(" = ")
            assert _reckoned(sum_) == pytest.approx(float(value), abs=0.02), line
            found += 1
    assert found > 20


def _reckoned(sum_: str) -> float:
    text = sum_.replace("^", "**").replace("lg(", "*log10(").replace(" x ", "*")
    text = text.replace("2 pi", "2*3.14159265").replace("sqrt(0.6)", "0.6**0.5")
    assert re.fullmatch(r"[-+*/().0-9elog\s]+", text), text
    return float(eval(text, {"__builtins__": {}, "log10": log10}))


def test_noise_under_a_source(run: Run, split: Path) -> None:
    """The noise and the distance that `trace` prints at the end of the way, from their parts."""
    trace_ = run("trace", split, "voice", "ana", "--json").json["result"]
    last = trace_["ways"][0]["levels"]["rungs"][-1]
    result = run("why", split, "voice", "ana", "--of", "noise", "--json").json["result"]
    parts = [line["value"] for line in result["lines"] if line["what"].startswith("that noise")]
    assert 10 * log10(sum(10 ** (part / 10) for part in parts)) == pytest.approx(result["value"])
    assert result["value"] == pytest.approx(last["noise"]["value"])
    assert (result["low"], result["high"]) == (last["noise"]["low"], last["noise"]["high"])
    assert result["lines"][-1]["value"] == pytest.approx(last["signal_to_noise_db"])


def test_without_a_limiter_it_says_what_is_missing(run: Run, split: Path) -> None:
    outcome = run("why", split, "ana", "--of", "limited")
    assert outcome.code == 1
    assert "Not stated: limiter_dbu of a mix that these ears hear." in squeezed(outcome.out)


def test_why_names_formula_source_and_where_each_figure_is_from(run: Run, split: Path) -> None:
    text = squeezed(run("why", split, "voice", "ana").out)
    assert "The level of Voice on the way to Ana 98.78 dB SPL, likely 92 to 106." in text
    assert "loading.loading_loss_db: Level change when these inputs load the source" in text
    assert "Derived: voltage divider." in text
    assert "Source: IEC 60268-4" in text
    assert "source ohm 300 (datasheet)" in text
    assert "load 2 2000 (assumed)" in text


def test_why_of_headroom_begins_with_the_roomiest_and_ends_with_the_tightest(
    run: Run, split: Path
) -> None:
    result = run("why", split, "voice", "ana", "--of", "headroom", "--json").json["result"]
    rooms = [line["value"] for line in result["lines"]]
    assert rooms == sorted(rooms, reverse=True)
    assert result["value"] == rooms[-1] == pytest.approx(10.69, abs=0.01)


def test_why_of_delay_adds_what_the_hops_state(run: Run, small: Path) -> None:
    result = run("why", small, "voice", "ana", "--of", "delay", "--json").json["result"]
    added = [line["value"] for line in result["lines"] if line["comes_to"] is not None]
    assert result["value"] == pytest.approx(sum(added))
    assert result["value"] > 0


def test_why_of_a_place_shows_what_is_known_there(run: Run, split: Path) -> None:
    text = squeezed(run("why", split, "desk.adc.1").out)
    assert "What is known of Mixer, converter (adc) 1" in text
    assert "dBu to 0 dBFS" in text
    assert "converter noise" in text
    assert "bears at most" in text


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["voice"], "Name the person too"),
        (["nobody"], 'no thing is called "nobody"'),
        (["ana", "--of", "level"], "It can be: hiss, loudest, limited or exposure."),
        (["voice", "ana", "--of", "hiss"], "It can be: level, headroom, noise or delay."),
        (["desk.pre.1", "--of", "hiss"], "leave --of out"),
        (["ana", "--of", "colour"], "colour"),
        (["voice", "zoe"], "zoe"),
    ],
)
def test_what_cannot_be_asked_is_said(run: Run, split: Path, words: list[str], says: str) -> None:
    outcome = run("why", split, *words)
    assert outcome.code == 2
    assert says in squeezed(outcome.err)


def test_why_of_somebody_without_ears(run: Run, split: Path) -> None:
    file = split / "rig.yaml"
    file.write_text(SPLIT.replace("people: [", "people: [{id: cy, name: Cy}, "), encoding="utf-8")
    outcome = run("why", split, "cy")
    assert outcome.code == 2
    assert "no earphones plugged in" in outcome.err
    outcome = run("why", split, "voice", "cy")
    assert outcome.code == 2
    assert "does not arrive" in outcome.err


def test_why_fits_80_columns(split: Path) -> None:
    for words in (["ana"], ["voice", "ana"], ["voice", "ana", "--of", "headroom"]):
        _, asked = read(["why", str(split), *words])
        out = StringIO()
        Screen(out, 79, colour=False, terminal=True).show(*why.run(asked).rows)
        assert all(len(line) < 80 for line in out.getvalue().splitlines())
