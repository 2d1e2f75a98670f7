"""What docs/gear.md tells people to type is typed here, and does what it says there."""

import re
from pathlib import Path

import pytest

from rigproof.rig import Rig, RigErrors
from rigproof.rig.lanes import sockets
from rigproof.rig.ref import PortRef
from rigproof.rig.where import NOWHERE
from rigproof.rigfile.load import load

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "gear.md").read_text(encoding="utf-8")
BLOCKS = {m[1]: m[0] for m in re.finditer(r"(?<=```yaml\n)# (\S+)\n.*?(?=```)", PAGE, re.DOTALL)}


def _typed(folder: Path, gear: str = BLOCKS["gear/splitter.yaml"]) -> Path:
    (folder / "gear").mkdir()
    (folder / "gear" / "splitter.yaml").write_text(gear, encoding="utf-8")
    (folder / "rig.yaml").write_text(BLOCKS["rig.yaml"], encoding="utf-8")
    return folder


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    return load(_typed(tmp_path))


def test_the_example_loads_and_its_sockets_can_be_named(rig: Rig) -> None:
    legs = sockets({"split": rig.type_of("split")}, PortRef("split.iso.1-8"), NOWHERE)
    assert [leg.key for leg in legs] == [f"split.iso.{n}" for n in range(1, 9)]
    assert rig.type_of("split").name == "Active splitter, eight lines"


def _sheet(row: str) -> list[float]:
    line = re.search(rf"^\| {row} \| (.*) \|$", PAGE, re.MULTILINE)
    assert line is not None
    return [float(n) for n in re.findall(r"[-+]?\d+(?:\.\d+)?", line[1])]


def test_the_example_says_what_its_data_sheet_says(rig: Rig) -> None:
    type_ = rig.type_of("split")
    ports = {port.id: port for port in type_.ports}
    number, kilo_ohm, _ = _sheet("inputs")
    assert [port.count for port in type_.ports] == [number] * 4
    assert ports["in"].impedance_ohm == kilo_ohm * 1000
    (level,) = _sheet("largest input and output level")
    assert ports["in"].max_level_dbu == ports["out"].max_level_dbu == level
    assert [ports["out"].impedance_ohm, ports["iso"].impedance_ohm] == _sheet("output impedance")
    assert ports["out"].noise_dbu == _sheet("output noise")[0]
    low, high, percent, usual, most = _sheet("mains")
    assert type_.power is not None
    assert type_.power.volts_min == pytest.approx(low * (1 - percent / 100))
    assert type_.power.volts_max == pytest.approx(high * (1 + percent / 100))
    assert [type_.power.watts, type_.power.watts_max] == [usual, most]
    assert type_.size is not None
    assert [type_.size.units, type_.size.depth_mm, type_.weight_kg] == _sheet("size and weight")


def test_each_figure_of_the_example_says_where_it_comes_from(rig: Rig) -> None:
    type_ = rig.type_of("split")
    assert type_.size is not None
    assert type_.size.depth_mm is not None
    assert type_.size.depth_mm.provenance == "datasheet"
    assert type_.size.plugs_front_mm is not None
    assert type_.size.plugs_front_mm.provenance == "measured"
    assert type_.price_eur is not None
    assert (type_.price_eur.provenance, type_.price_eur.note) == ("assumed", "second-hand")
    assert type_.power is not None
    assert type_.power.watts is not None
    assert type_.power.watts.provenance == "datasheet"


def test_a_type_of_ones_own_comes_before_the_librarys(tmp_path: Path) -> None:
    folder = _typed(tmp_path)
    gear = folder / "gear" / "splitter.yaml"
    gear.write_text(gear.read_text().replace("our-splitter", "case-8"), encoding="utf-8")
    text = (folder / "rig.yaml").read_text().replace("our-splitter", "case-8")
    (folder / "rig.yaml").write_text(text, encoding="utf-8")
    assert load(folder).type_of("split").name == "Active splitter, eight lines"


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("way: in, connector: xlr-f", "way: in, connector: xrl-f"),
        ("{from: in, to: buffer}", "{from: in, to: bufer}"),
    ],
)
def test_the_faults_shown_on_the_page_are_those_that_appear(
    tmp_path: Path, right: str, wrong: str
) -> None:
    gear = BLOCKS["gear/splitter.yaml"]
    assert gear.count(right) == 1
    with pytest.raises(RigErrors) as caught:
        load(_typed(tmp_path, gear.replace(right, wrong)))
    (fault,) = (f for f in caught.value.faults if f.at.file == "gear/splitter.yaml")
    shown = re.findall(
        r"^    (gear/splitter\.yaml:.*?)(?:, \.\.\.)?\n    (  .*)$", PAGE, re.MULTILINE
    )
    said, fix = str(fault).split("\n")
    assert len(shown) == 2
    assert any(said.startswith(line) and fix == advice for line, advice in shown), str(fault)
