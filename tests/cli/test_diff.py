"""What changed, from the command line."""

import json
from pathlib import Path

import pytest

from tests.bands import WHOLE
from tests.cli.conftest import SMALL, Run
from tests.cli.test_papers import pages


def change(small: Path, old: str, new: str) -> None:
    rig = small / "rig.yaml"
    text = rig.read_text(encoding="utf-8")
    assert old in text
    rig.write_text(text.replace(old, new), encoding="utf-8")


def test_against_the_last_version_that_differs(run: Run, small: Path) -> None:
    run("history", small, "--keep", "as it was")
    outcome = run("diff", small)
    assert outcome.code == 2
    assert "no earlier version is kept" in " ".join(outcome.err.split())
    change(small, "name: Lead voice", "name: First voice")
    outcome = run("diff", small)
    assert outcome.code == 1
    assert "Against version 1: No number and no socket has moved" in outcome.out
    assert "First voice (voice)" in outcome.out
    run("history", small, "--keep", "renamed")
    result = run("diff", small, "--json").json["result"]
    assert result["against"]["version"] == 1
    assert [(x["section"], x["id"], x["what"]) for x in result["entries"]] == [
        ("sources", "voice", "changed")
    ]
    assert run("diff", small, "2").code == 0


def test_against_another_file(run: Run, small: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    other.write_text(SMALL.replace("channel: 1,", "channel: 2,"), encoding="utf-8")
    result = run("diff", small, other, "--json").json["result"]
    (night,) = result["nights"]
    assert night["moved"] == [
        {
            "source": "voice",
            "name": "Lead voice",
            "where": "channel",
            "venue": "",
            "before": "2",
            "after": "1",
        }
    ]
    assert result["moved"] is True
    outcome = run("diff", small, small)
    assert outcome.code == 0
    assert "nothing that a rig says has changed" in " ".join(outcome.out.split())


def test_whatever_is_added_deep_inside_can_be_told(run: Run, small: Path) -> None:
    run("history", small, "--keep", "as it was")
    change(small, "{from: keys}]", "{from: keys}, {from: click, level_db: -9}]")
    result = run("diff", small, "--json").json["result"]
    (entry,) = result["entries"]
    assert entry["values"] == [
        {
            "key": ["sends", "click"],
            "before": None,
            "after": {"from": "click", "level_db": [-9.0, "assumed"]},
        }
    ]
    out = " ".join(run("diff", small).out.split())
    assert "sends, click: – → from click, level −9 dB" in out


def test_own_gear_of_a_version_comes_from_that_version(run: Run, small: Path) -> None:
    gear = small / "gear"
    gear.mkdir()
    own = "format: 1\ntypes:\n  - {id: tray, name: Tray, class: drawer, weight_kg: 2}\n"
    (gear / "own.yaml").write_text(own, encoding="utf-8")
    change(small, "leads:", "  - {id: tray, type: tray}\nleads:")
    run("history", small, "--keep", "light")
    (gear / "own.yaml").write_text(own.replace("2}", "3}"), encoding="utf-8")
    result = run("diff", small, "--json").json["result"]
    (entry,) = result["entries"]
    assert (entry["section"], entry["id"]) == ("types", "tray")
    assert entry["values"][0]["key"] == ["weight_kg"]


@pytest.mark.parametrize("earlier", ["9", "nowhere"])
def test_nothing_to_compare_with(run: Run, small: Path, earlier: str) -> None:
    outcome = run("diff", small, earlier)
    assert outcome.code == 2
    assert outcome.err


def test_the_change_sheet(run: Run, small: Path, tmp_path: Path) -> None:
    run("history", small, "--keep", "as it was")
    change(small, "name: Lead voice", "name: First voice")
    words = ["--only", "changes", "-o", tmp_path / "c.pdf"]
    sheets = run("papers", small, *words, "--json").json["result"]["sheets"]
    assert [sheet["id"] for sheet in sheets] == ["changes"]
    both = run("papers", small, "--since", "1", "-o", tmp_path / "d.pdf", "--json")
    ids = [sheet["id"] for sheet in both.json["result"]["sheets"]]
    assert ids[0] == "changes"
    assert len(ids) > 1


def test_two_rigs_that_have_nothing_in_common(run: Run, small: Path, tmp_path: Path) -> None:
    trio = WHOLE["trio"]
    result = run("diff", small, trio, "--json").json["result"]
    assert result["kept"] == 0
    assert {one["what"] for one in result["entries"]} >= {"new", "gone"}
    assert run("diff", small, trio).code == 1
    for reader in ("band", "deputy"):
        words = ["--only", "changes", "--since", trio, "--for", reader, "-o", tmp_path / "c.pdf"]
        assert run("papers", small, *words).code == 0


@pytest.mark.parametrize("name", ['#eval("x") *b* $x$', "x" * 9_000, "\u202eevil \U0001f941 שלום"])
def test_whatever_the_name(run: Run, small: Path, tmp_path: Path, name: str) -> None:
    run("history", small, "--keep", "as it was")
    change(small, "name: Lead voice", f"name: {json.dumps(name, ensure_ascii=False)}")
    assert run("diff", small).code == 1
    target = tmp_path / "c.pdf"
    assert run("papers", small, "--only", "changes", "-o", target).code == 0
    text = "".join("".join(page.split()) for page in pages(target))
    if name.startswith("#"):
        assert "".join(name.split()) in text
