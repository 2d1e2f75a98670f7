"""Export and import from a shell: what is written where, what is asked, what is refused."""

import csv
import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from rigproof.rigfile.load import load
from tests.cli.conftest import Run
from tests.cli.test_papers import squeezed

LIST = """\
Ch,Source,Mic/DI,48V,Player,Notes
1,Kick,dynamic,,Runa,near
2,OH L,condenser,x,Runa,
3,OH R,condenser,x,Runa,
4,Voice,the blue one,,Tamsin,
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "list.csv"
    path.write_text(LIST, encoding="utf-8")
    return path


@pytest.mark.parametrize("form", ["xlsx", "json"])
def test_one_file(run: Run, small: Path, tmp_path: Path, form: str) -> None:
    target = tmp_path / f"out.{form}"
    outcome = run("export", small, "--as", form, "-o", target, "--json")
    assert outcome.code == 0
    assert outcome.json["result"]["written"] == [str(target)]
    assert target.stat().st_size > 1000


@pytest.mark.parametrize("form", ["csv", "svg", "dxf"])
def test_a_folder_of_files(run: Run, small: Path, form: str) -> None:
    outcome = run("export", small, "--as", form, "--json")
    written = [Path(name) for name in outcome.json["result"]["written"]]
    assert {path.parent for path in written} == {small / f"rig-band-{form}"}
    assert all(path.suffix == f".{form}" and path.is_file() for path in written)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--as", "xlsx", "-o", "list.csv"], "does not end in .xlsx"),
        (["--as", "pdf"], "xlsx or csv or json or svg or dxf"),
        ([], "missing: --as"),
        (["--as", "csv", "--venue", "nowhere"], 'no venue is called "nowhere"'),
        (["--as", "svg", "--for", "shop"], "nothing to write"),
    ],
)
def test_what_cannot_be_exported(run: Run, small: Path, words: list[str], says: str) -> None:
    outcome = run("export", small, *words)
    assert outcome.code == 2
    assert says in squeezed(outcome.err)


def test_an_export_over_a_file(run: Run, small: Path, tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.write_text("mine", encoding="utf-8")
    assert run("export", small, "--as", "csv", "-o", there).code == 2
    assert there.read_text(encoding="utf-8") == "mine"


def test_a_workbook_in_german_for_the_house(run: Run, small: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run("export", small, "--as", "xlsx", "--for", "house", "--language", "de", "-o", target)
    book = openpyxl.load_workbook(target)
    assert book.sheetnames[:2] == ["Inhalt", "Eingänge"]
    assert [cell.value for cell in book["Eingänge"][4]][:2] == ["Kanal", "Quelle"]


@pytest.mark.parametrize("which", ["--export", "--gear", "--answers"])
def test_the_schema_is_listed(run: Run, which: str) -> None:
    schema = run("schema", which, "--json").json["result"]["schema"]
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert json.loads(run("schema", which).out) == schema


# --- import -------------------------------------------------------------------------------------


def test_a_look_writes_nothing(run: Run, sheet: Path) -> None:
    before = sorted(sheet.parent.iterdir())
    outcome = run("import", sheet)
    assert outcome.code == 0
    said = squeezed(outcome.out)
    assert "B Source source by its heading" in said
    assert "2-3 OH (pair) Runa mic-small-condenser yes" in said
    assert "3 sources; 25 cells: 24 used, 1 kept as note." in said
    assert "Nothing was written yet." in said
    assert sorted(sheet.parent.iterdir()) == before


def test_without_a_person_it_wants_yes(run: Run, sheet: Path, tmp_path: Path) -> None:
    outcome = run("import", sheet, "-o", tmp_path / "new")
    assert outcome.code == 2
    assert "nobody is there" in outcome.err
    assert not (tmp_path / "new").exists()


def test_a_new_rig_and_its_account(run: Run, sheet: Path, tmp_path: Path) -> None:
    folder = tmp_path / "new"
    outcome = run("import", sheet, "-o", folder, "--yes", "--json")
    assert outcome.code == 0
    result = outcome.json["result"]
    assert result["written"] == [str(folder / "rig.yaml"), str(folder / "imported.csv")]
    rig = load(folder)
    assert [source.name for source in rig.file.sources] == ["Kick", "OH", "Voice"]
    assert rig.sources["voice"].note == "Mic/DI: the blue one"
    account = (folder / "imported.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.reader(account.splitlines()))
    assert rows[0] == ["cell", "row", "column", "value", "became", "what"]
    cells = {row[0] for row in rows[1:]}
    stated = list(csv.reader(LIST.splitlines()))
    wanted = {
        f"{'ABCDEF'[column]}{number}"
        for number, line in enumerate(stated, 1)
        for column, value in enumerate(line)
        if value
    }
    assert cells == wanted
    assert run("check", folder).code in (0, 1)
    assert run("history", folder).code == 0


def test_into_a_rig_that_is_there(run: Run, small: Path, sheet: Path) -> None:
    before = load(small)
    outcome = run("import", sheet, "-o", small, "--yes")
    assert outcome.code == 0
    after = load(small)
    for row in before.file.patch:
        assert after.rows[row.source].channel == row.channel
    assert after.sources["kick"].name == "Kick"
    said = squeezed(outcome.out)
    assert "Kick: channel 1 is Lead voice, so it got no channel" in said
    assert (small / "imported.csv").is_file()
    kept = run("history", small).out
    assert "imported from list.csv" in kept
    again = run("import", sheet, "-o", small, "--yes")
    assert "nothing was changed" in again.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--sheet", "Outputs"], 'no sheet is called "Outputs"'),
        (["--column", "sorce=B"], 'Did you mean "source"?'),
        (["--column", "source=99"], "names no column"),
        (["--column", "source"], "names no column"),
        (["--headings", "-1"], "--headings takes the number of a row"),
        (["--column", "source=-"], "no source was found"),
    ],
)
def test_what_cannot_be_imported(run: Run, sheet: Path, words: list[str], says: str) -> None:
    outcome = run("import", sheet, *words)
    assert outcome.code == 2
    assert says in squeezed(outcome.err)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("no.xlsx", None, "there is no such file"),
        ("a.xlsx", b"", "it is empty"),
        ("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 99, "of the old kind"),
        ("a.csv", b"1,2\n3,4\n", "no source was found"),
    ],
)
def test_files_that_are_no_list(
    run: Run, tmp_path: Path, name: str, content: bytes | None, says: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    outcome = run("import", tmp_path / name, "-o", tmp_path / "new", "--yes")
    assert outcome.code == 2
    assert says in squeezed(outcome.err)
    assert not (tmp_path / "new").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal of one's own needs a pty")
def test_a_person_at_a_terminal_corrects_and_agrees(sheet: Path, tmp_path: Path) -> None:
    answers = b"player=-\nnonsense=B\nyes\n"
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "rigproof", "import", str(sheet), "-o", str(tmp_path / "new")]
    process = subprocess.Popen(
        command, stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    os.write(ours, answers)
    said, _ = process.communicate(timeout=60)
    os.close(ours)
    os.close(theirs)
    assert process.returncode == 0, said
    assert '"nonsense" is nothing that a column can hold.' in said
    rig = load(tmp_path / "new")
    assert rig.file.people == ()
    assert "Player: Runa" in rig.sources["kick"].note


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal of one's own needs a pty")
def test_a_person_at_a_terminal_says_no(sheet: Path, tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "rigproof", "import", str(sheet), "-o", str(tmp_path / "new")]
    process = subprocess.Popen(
        command, stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    os.write(ours, b"no\n")
    said, _ = process.communicate(timeout=60)
    os.close(ours)
    os.close(theirs)
    assert process.returncode == 2
    assert "Nothing was written" in said
    assert not (tmp_path / "new").exists()
