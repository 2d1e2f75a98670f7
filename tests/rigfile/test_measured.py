"""The files in `measured`: written and read back, and refused with their place in the text."""

import json
from pathlib import Path

import jsonschema
import pytest

from rigproof.rig.measured import Kept, KeptLine, KeptPair
from rigproof.rig.where import RigErrors
from rigproof.rigfile import schema
from rigproof.rigfile.load import load
from rigproof.rigfile.measured import json_text
from rigproof.rigfile.write import keep_measured
from tests.cli.conftest import Run, run, small  # noqa: F401 (fixtures)

CHECK = jsonschema.Draft202012Validator(schema.measured_schema())

LINE = KeptLine(
    channel=1,
    name="Geige Übung",
    source="voice",
    socket="split.in.1",
    through=("splitter-transformer-8", "mixer-rack-12"),
    taken_with="mic-vocal-dynamic",
    knobs_db=36.0,
    gain_db=-12.25,
    delay_ms=70.1,
    way_ms=1.25,
    upright=True,
    loudest_dbfs=-22.5,
    noise_dbfs=-80.0,
    noise_dba=-84.0,
    hum_dbfs=-90.0,
    distortion_ratio=0.001,
    thirds_db=(-1.0, 0.5),
)


def kept(date: str, kind: str = "proof") -> Kept:
    return Kept(
        kind="take" if kind == "take" else "proof",
        date=date,
        method="with a meter",
        rig="Small rig 1",
        lines=(LINE, KeptLine(channel=2, grade="fail")),
        pairs=(KeptPair(channels=(1, 2), likeness_ratio=0.8, delay_ms=-0.5, upright=False),),
    )


def test_what_is_kept_is_read_back(small: Path) -> None:  # noqa: F811
    """The oldest first; of one day in the order of the numbers, the tenth behind the second."""
    dates = ["2027-04-01", *["2027-03-01"] * 11]
    files = [keep_measured(small, kept(date)).name for date in dates]
    keep_measured(small, kept("2027-03-01", "take"))
    (small / "measured" / "take.wav").write_bytes(b"RIFF")  # left alone
    assert files[:3] == [
        "proof-2027-04-01.json",
        "proof-2027-03-01.json",
        "proof-2027-03-01-2.json",
    ]
    found = load(small).measured
    assert [Path(one.where.file).stem for one in found] == [
        "proof-2027-03-01",
        "take-2027-03-01",
        *(f"proof-2027-03-01-{number}" for number in range(2, 12)),
        "proof-2027-04-01",
    ]
    assert found[-1] == kept("2027-04-01")
    CHECK.validate(json.loads((small / "measured" / files[0]).read_bytes()))


def test_a_file_from_before_has_no_way_and_is_read(small: Path) -> None:  # noqa: F811
    (small / "measured").mkdir()
    text = {
        "form": 1,
        "date": "2026-11-01",
        "method": "m",
        "rig": "r",
        "lines": [{"channel": 3, "name": "Bass", "source": "bass", "socket": "", "grade": "pass"}],
    }
    (small / "measured" / "proof-2026-11-01.json").write_text(json.dumps(text), encoding="utf-8")
    (one,) = load(small).measured
    assert (one.kind, one.lines[0].through) == ("proof", None)


def broken(**changes: object) -> str:
    return json.dumps({**json.loads(json_text(kept("2027-01-01"))), **changes})


def lines(**changes: object) -> str:
    return broken(lines=[{"channel": 1}, {"channel": 2, **changes}])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("{", "missing"),
        ("\x00\x01", ""),
        ("[1, 2]", "not a measurement"),
        ("null", "empty"),
        (broken(form=2), '"form" is not 1'),
        (broken(date="1 March"), "not a day such as"),
        (broken(date="2027-03-01\n"), "not a day such as"),
        (broken(lines=7), '"lines" is 7'),
        (broken(rig="x" * 201), "at most 200"),
        (broken(gear=1), 'no key "gear"'),
        (broken(pairs=[{"channels": [1]}]), "channels"),
        (lines(channel=0), "from 1 to 256"),
        (lines(channel=True), '"channel" is true'),
        (lines(gain_db="loud"), 'is "loud", not a number'),
        (lines(gain_db=1e9), "not a number from -400 to 400"),
        (lines(noise_dba=float("nan")), ""),
        (lines(grade="fine"), '"fine"'),
        (lines(thirds_db=[1, None]), "thirds_db"),
        (lines(louder=1), 'no key "louder"'),
        ("[" * 5000, ""),
        ("a: &a [*a]", ""),
    ],
)
def test_a_file_that_is_off_is_named_with_its_place(
    run: Run,  # noqa: F811
    small: Path,  # noqa: F811
    text: str,
    says: str,
) -> None:
    (small / "measured").mkdir()
    path = small / "measured" / "take-2027-01-01.json"
    path.write_text(text, encoding="utf-8")
    outcome = run("check", small, "--json")
    assert outcome.code == 2
    faults = outcome.json["faults"]
    assert {fault["file"] for fault in faults} == {"measured/take-2027-01-01.json"}
    assert any(says in fault["says"] for fault in faults), faults
    assert all("move it away" in fault["fix"] for fault in faults)
    assert path.read_text(encoding="utf-8") == text


def test_the_place_is_told(small: Path) -> None:  # noqa: F811
    (small / "measured").mkdir()
    text = json_text(kept("2027-01-01")).replace('"upright": true', '"upright": "yes"')
    (small / "measured" / "proof-2027-01-01.json").write_text(text, encoding="utf-8")
    with pytest.raises(RigErrors) as told:
        load(small)
    (fault,) = told.value.faults
    line = text[: text.index('"yes"')].count("\n") + 1
    assert str(fault.at).startswith(f"measured/proof-2027-01-01.json:{line}:")


def test_faults_of_rig_and_measurement_come_together(small: Path) -> None:  # noqa: F811
    (small / "measured").mkdir()
    (small / "measured" / "proof-2027-01-01.json").write_text("{", encoding="utf-8")
    rig = small / "rig.yaml"
    rig.write_text(rig.read_text("utf-8").replace("mixer: mixer-rack-12", "mixer: no"), "utf-8")
    rig.write_text(rig.read_text("utf-8").replace("type: mixer-rack-12", "type: mixr"), "utf-8")
    with pytest.raises(RigErrors) as told:
        load(small)
    assert {fault.at.file for fault in told.value.faults} == {
        "rig.yaml",
        "measured/proof-2027-01-01.json",
    }


def test_a_folder_that_cannot_be_one(small: Path) -> None:  # noqa: F811
    (small / "measured").write_text("a file", encoding="utf-8")
    assert load(small).measured == ()
    with pytest.raises(RigErrors) as told:
        keep_measured(small, kept("2027-01-01"))
    assert "cannot be written" in str(told.value)
