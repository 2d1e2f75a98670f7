"""`why` of what is no sound: every figure of the shipped rigs is laid open and reckoned again."""

import json
import re
from importlib.resources import files
from math import atan, degrees, log10, sqrt
from pathlib import Path

import pytest

from rigproof.checks.asking import FIGURES, figures, things
from rigproof.showbook.edition import Edition
from rigproof.showbook.numbers import mains_card
from rigproof.signal.reasons import Line, Reason, formula
from tests.bands import ROOT, WHOLE, seen, whole
from tests.cli.conftest import Run

_WORDS = {
    "^": "**",
    "lg(": "*log10(",
    " x ": "*",
    "bytes": "",
    "dB": "",
    " m\u00b2": "",
    " m ": " ",
    "MHz": "",
    "2 plugs": "0.2",
}
_PENCIL = {"log10": log10, "sqrt": sqrt, "atan": lambda slope: degrees(atan(slope))}


def _again(line: Line) -> bool:
    """Type the worked line into another calculator; False where it is told in words."""
    sum_, _, value = line.worked.rpartition(" = ")
    for word, sign in _WORDS.items():
        sum_ = sum_.replace(word, sign)
    if not re.fullmatch(r"(?:log10|sqrt|atan|[-+*/().0-9e\s])+", sum_):
        return False
    found = float(eval(sum_, {"__builtins__": {}, **_PENCIL}))
    assert found == pytest.approx(float(value), rel=0.02, abs=0.06), line
    return True


@pytest.mark.parametrize("name", WHOLE)
def test_every_figure_is_laid_open(name: str) -> None:
    view = whole(name)
    told, again = set(), 0
    for thing in things(view):
        for word, asked in figures(view, thing).items():
            reason = asked.reason()
            assert word in FIGURES
            assert reason.figure in FIGURES
            assert reason.value is not None or reason.missing, (thing, word)
            assert asked.title
            if reason.value is not None:
                told.add(word)
            again += sum(_again(line) for line in reason.lines if line.worked)
            for line in reason.lines:
                if line.by:
                    assert re.search(r"Source|Derived|ommon practice", formula(line.by).text)
            _sums_run(reason)
    assert again > 60
    assert told >= {"exposure", "load", "phantom", "power", "weight", "lift", "length", "leakage"}


def _sums_run(reason: Reason) -> None:
    """A sum that runs is the one before it and its own figure."""
    before = None
    for line in reason.lines:
        if line.comes_to is not None:
            if before is not None and line.unit == before[1]:
                assert line.comes_to == pytest.approx(before[0] + line.value, abs=1e-6)
            before = line.comes_to, line.unit


def test_the_schema_of_the_answer_knows_every_figure() -> None:
    schema = json.loads(files("rigproof.cli").joinpath("answers.json").read_text("utf-8"))
    assert set(FIGURES) <= set(schema["$defs"]["why"]["properties"]["figure"]["enum"])


def test_the_page_on_numbers_names_every_figure_that_can_be_asked() -> None:
    told = (ROOT / "docs" / "numbers.md").read_text("utf-8")
    table = told[told.index("| of | `--of` |") : told.index("## Formulas")]
    assert set(FIGURES) <= set(re.findall(r"`([a-z]+)`", table))


RACK = """
case: {type: case-12}
gear:
  - {id: mixer, name: Mixer, type: mixer-rack-24, unit: 2}
  - {id: amp, name: Amp, type: headphone-amp-4, unit: 7}
power: {volts_v: 230, circuit_a: 16, lead_m: 25}
"""


def test_current_by_hand() -> None:
    """Watts over volts and power factor, box by box (definition of power factor)."""
    view = seen(RACK)
    reason = figures(view, "mains")["current"].reason()
    by_hand = 0.0
    for box in ("mixer", "amp"):
        power = view.rig.type_of(box).power
        assert power is not None
        assert power.watts_max is not None
        assert power.power_factor is not None
        by_hand += power.watts_max / power.power_factor / 230
    assert reason.value == pytest.approx(by_hand)
    assert reason.lines[-1].what == "left of the circuit"
    assert reason.lines[-1].value == pytest.approx(16 - by_hand)


def test_eighty_percent_counts_where_it_counts() -> None:
    reason = figures(seen(RACK.replace("230", "120")), "mains")["current"].reason()
    last = reason.lines[-1]
    assert last.by == "mains.continuous_w"
    assert last.value == pytest.approx(0.8 * 16 - (reason.value or 0))


def test_what_is_missing_is_named() -> None:
    reason = figures(seen(RACK.replace("volts_v: 230, ", "")), "mains")["current"].reason()
    assert reason.value is None
    assert reason.missing == ("the volts where it usually stands",)


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    (tmp_path / "rig.yaml").write_text("format: 1\nrig: {name: Rack}\n" + RACK, encoding="utf-8")
    return tmp_path


def test_why_from_the_command_line(run: Run, rack: Path) -> None:
    text = run("why", rack, "mains", "--of", "leakage").out
    assert "The leakage to earth where it usually stands" in text
    assert "Source: BS 7671 531.3" in text
    result = run("why", rack, "Mixer", "--json").json["result"]
    assert result["figure"] == "power"
    assert result["lines"][-1]["formula"] == "mains.apparent_va"
    assert result["lines"][-1]["inputs"][0]["from"] == "typical"


def test_an_unknown_figure_tells_which_there_are(run: Run, rack: Path) -> None:
    got = run("why", rack, "amp", "--of", "beauty")
    assert got.code == 2
    assert "--of beauty cannot be asked of amp." in got.err
    assert "power, volts, weight or depth" in got.err


@pytest.mark.parametrize("name", WHOLE)
def test_exposure_is_told_by_the_chosen_criterion(name: str) -> None:
    view = whole(name)
    for one in view.exposures:
        reason = figures(view, one.person)["exposure"].reason()
        shares = [one.dose("show", "85/3"), one.dose("rehearsal", "85/3")]
        shares.append(one.dose("week", "80/40h"))
        most = max((dose.percent for dose in shares if dose), default=None)
        assert reason.value == most


def test_what_cables_cannot_carry_is_said_in_numbers(run: Run, tmp_path: Path) -> None:
    """No root of a negative number reaches a reader: 90 V squared are less than 4 P R."""
    text = RACK.replace("volts_v: 230", "volts_v: 100").replace("lead_m: 25", "lead_m: 2000")
    (tmp_path / "rig.yaml").write_text("format: 1\nrig: {name: Rack}\n" + text, encoding="utf-8")
    result = run("why", tmp_path, "mains", "--of", "volts", "--json").json["result"]
    assert result["value"] == 0
    assert "cannot carry" in result["lines"][-1]["what"]
    assert "NaN" not in json.dumps(result)
    assert "nan" not in run("why", tmp_path, "mixer", "--of", "volts").out.split()
    told = run("check", tmp_path).out
    assert "the lead cannot carry what the rack takes" in " ".join(told.split())
    page = " ".join(map(repr, mains_card.blocks(seen(text), Edition())))
    assert "cannot be carried" in page
    assert not re.search(r"\bnan\b", page)


def test_the_depth_of_a_box_and_the_room_behind_it() -> None:
    """Millimetres as the types of the library state them, added by hand."""
    view = whole("demo")
    reason = figures(view, "mixer")["depth"].reason()
    size = view.rig.type_of("mixer").size
    case = view.rig.types[view.rig.file.case.type].case if view.rig.file.case else None
    assert size is not None
    assert case is not None
    assert size.depth_mm is not None
    assert size.plugs_rear_mm is not None
    assert case.rail_to_rail_mm is not None
    assert case.rear_lid_mm is not None
    assert reason.value == size.depth_mm + size.plugs_rear_mm
    (room,) = (line for line in reason.lines if line.what.startswith("room left behind"))
    assert room.value == case.rail_to_rail_mm + case.rear_lid_mm - reason.value


def test_when_all_is_awake() -> None:
    """The slowest box of each step, one step after the other."""
    view = whole("trio")
    reason = figures(view, "mains")["ready"].reason()
    slowest: dict[int | None, float] = {}
    for feed in view.rig.file.power.feeds if view.rig.file.power else ():
        power = view.rig.type_of(feed.gear).power
        if power is not None and power.boot_s is not None:
            slowest[feed.step] = max(slowest.get(feed.step, 0.0), float(power.boot_s))
    assert len(slowest) == 3  # router, mixer, headphone amplifier
    assert reason.value == sum(slowest.values()) > 0
