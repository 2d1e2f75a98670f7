"""What reaches a terminal: clean characters, colour where it shows, no traceback, clean ends."""

import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rigproof.cli import check as check_command
from rigproof.cli import main, terminal
from rigproof.cli.terminal import Row, Screen, Table, Verbatim, cells, clean, wrapped
from tests.cli.conftest import SMALL, Run

COMMAND = [sys.executable, "-m", "rigproof"]
ESC = "\x1b"


def plain(out: io.StringIO, width: int = 40) -> Screen:
    return Screen(out, width, colour=False, terminal=True)


# Names that steer a terminal


HOSTILE = (
    "\x1b[31mred\x1b[0m",
    "\x1b]0;title\x07",
    "back\b\b\bspace",
    "over\rwritten",
    "two\nlines",
    "\u202eturned",
    "\x9b2J",
    "\u2028line",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_cannot_steer_the_terminal(run: Run, small: Path, name: str) -> None:
    quoted = f"name: {json.dumps(name)}"
    text = SMALL.replace("name: Lead voice", quoted).replace("name: Small rig", quoted)
    (small / "rig.yaml").write_text(text, encoding="utf-8")
    for words in (
        ["check", small],
        ["trace", small, "voice", "ana"],
        ["trace", small, name, "ana"],
        ["trace", small, "voice", name],
    ):
        outcome = run(*words)
        for printed in (outcome.out, outcome.err):
            assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u202e]", printed)
        assert run(*words, "--json").out.isascii()


def test_words_of_the_command_line_cannot_either(run: Run) -> None:
    for words in ([f"{ESC}[2J"], ["check", f"{ESC}[2J"], ["explain", f"{ESC}[2J"]):
        outcome = run(*words)
        assert outcome.code == 2
        assert ESC not in outcome.err


def test_clean_keeps_every_script() -> None:
    for text in ("Ørn", "Юлия", "山田 太郎", "محمد", "שלום", "👩‍🎤", "naïve – “quoted” → ½"):
        assert clean(text) == text


# Colour, width and wrapping


def test_no_colour_off_a_terminal(run: Run, small: Path) -> None:
    assert ESC not in run("check", small).out


@pytest.mark.skipif(os.name == "nt", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(
    ("variables", "coloured"),
    [({}, True), ({"NO_COLOR": "1"}, False), ({"NO_COLOR": ""}, True), ({"TERM": "dumb"}, False)],
)
def test_colour_on_a_terminal(small: Path, variables: dict[str, str], coloured: bool) -> None:
    import pty

    outer, inner = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "60", **variables}
    if "NO_COLOR" not in variables:
        environment.pop("NO_COLOR", None)
    process = subprocess.Popen([*COMMAND, "check", small], stdout=inner, env=environment)
    os.close(inner)
    printed = b""
    while True:
        try:
            piece = os.read(outer, 4096)
        except OSError:  # what Linux says when the other end is gone
            break
        if not piece:
            break
        printed += piece
    os.close(outer)
    assert process.wait() == 1
    text = printed.decode()
    assert (ESC in text) is coloured
    bare = re.sub(rf"{ESC}\[[0-9;]*m", "", text)
    assert max(map(len, bare.splitlines())) < 60


def test_paragraphs_hang_and_wrap() -> None:
    out = io.StringIO()
    plain(out, 20).show(Row("one two three four five", indent=2, lead="Do: "))
    assert out.getvalue() == "  Do: one two three\n      four five\n"


def test_a_long_lead_does_not_squeeze_its_text() -> None:
    out = io.StringIO()
    plain(out, 24).show(Row("there is no such file", lead="a/rather/long/path: "))
    assert out.getvalue() == "a/rather/long/path:\n  there is no such file\n"
    out = io.StringIO()
    plain(out, 30).show(Row("there is no such file", lead="a/rather/long/path: "))
    assert out.getvalue() == "a/rather/long/path: there is\n  no such file\n"


def test_a_word_longer_than_the_line_stays_whole() -> None:
    assert wrapped("see /a/very/long/path/that/one/copies now", 10) == [
        "see",
        "/a/very/long/path/that/one/copies",
        "now",
    ]


def test_wide_characters_count_twice() -> None:
    assert cells("山田") == 4
    assert cells("e\u0301") == 1
    out = io.StringIO()
    plain(out).show(Table(("name", "n"), (("山田", "1"), ("Ana", "2")), wraps=0))
    assert out.getvalue() == "name  n\n山田  1\nAna   2\n"


def test_tables_drop_empty_columns_and_wrap_one() -> None:
    out = io.StringIO()
    table = Table(("a", "empty", "why"), (("1", "", "one two three four five six"),), wraps=2)
    plain(out, 20).show(table)
    assert out.getvalue() == "a  why\n1  one two three\n   four five six\n"


def test_verbatim_is_exact_in_a_pipe_and_clean_on_a_terminal() -> None:
    piped, shown = io.StringIO(), io.StringIO()
    text = f"a: 1  \n{ESC}[2J\n"
    Screen(piped, 80, colour=False, terminal=False).show(Verbatim(text))
    Screen(shown, 80, colour=False, terminal=True).show(Verbatim(text))
    assert piped.getvalue() == text
    assert shown.getvalue() == "a: 1  \n\\x1b[2J\n"


# Few characters


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "cp1252"])
def test_a_terminal_of_few_characters(small: Path, encoding: str) -> None:
    text = SMALL.replace("name: Lead voice", "name: Голос 声")
    (small / "rig.yaml").write_text(text, encoding="utf-8")
    process = subprocess.run(
        [*COMMAND, "trace", small, "click", "ana"],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )
    assert process.returncode == 1
    assert not process.stderr
    assert "channel 12 -> Mixer, bus 1" in process.stdout.decode(encoding)
    process = subprocess.run(
        [*COMMAND, "trace", small, "voice", "ana"],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )
    assert process.returncode == 0
    assert "\\u0413" in process.stdout.decode(encoding)


# Ends


@pytest.mark.skipif(os.name == "nt", reason="needs a shell's pipe")
def test_a_reader_who_leaves_is_no_fault(small: Path) -> None:
    process = subprocess.Popen(
        [*COMMAND, "explain", "--list"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b""
    assert process.wait() == 0
    process.stderr.close()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is full")
@pytest.mark.parametrize("words", [["explain", "--list"], ["--help"], ["explain", "--json"]])
def test_a_full_disk_behind_the_output(words: list[str]) -> None:
    with open("/dev/full", "w") as full:  # noqa: PTH123
        process = subprocess.run([*COMMAND, *words], stdout=full, stderr=subprocess.PIPE)
    assert process.returncode == 2
    if "--json" not in words:
        assert b"no space left on device" in process.stderr
    assert b"Traceback" not in process.stderr
    assert b"Exception ignored" not in process.stderr


@pytest.mark.skipif(os.name == "nt", reason="needs a shell")
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "<&-"])
def test_closed_streams(small: Path, closed: str) -> None:
    for words in ("check small", "check nowhere", "new x"):
        line = f"{sys.executable} -m rigproof {words} {closed}"
        process = subprocess.run(line, shell=True, cwd=small.parent, capture_output=True)
        assert process.returncode in (1, 2)
        assert b"Traceback" not in process.stderr


@pytest.mark.skipif(os.name == "nt", reason="file names are text there")
def test_a_file_name_that_is_no_text() -> None:
    process = subprocess.run([*COMMAND, "check", b"\xff\x1b[2J"], capture_output=True)
    assert process.returncode == 2
    assert b"\\udcff\\x1b[2J: there is no such file" in process.stderr


@pytest.mark.skipif(os.name == "nt", reason="signals are sent another way there")
def test_interrupted_while_it_asks(tmp_path: Path) -> None:
    import pty

    outer, inner = pty.openpty()
    process = subprocess.Popen(
        [*COMMAND, "new", tmp_path / "x"],
        stdin=inner,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        # A shell's background job is deaf to Ctrl-C, and so would be what it starts.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    os.close(inner)
    assert process.stdout is not None
    assert process.stdout.read(1)  # it runs, and asks
    # A signal between the question and the wait for its answer is only seen after the answer: as
    # a person would, give it a moment, and press again where nothing happens.
    for _ in range(10):
        time.sleep(0.3)
        process.send_signal(signal.SIGINT)
        try:
            _, err = process.communicate(timeout=5)
            break
        except subprocess.TimeoutExpired:
            continue
    os.close(outer)
    assert process.returncode == 130
    assert err == b"\nStopped.\n"
    assert not (tmp_path / "x").exists()


def test_interrupted_in_the_middle(
    small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop(asked: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(check_command, "run", stop)
    assert main(["check", str(small)]) == 130
    assert capsys.readouterr().err == "\nStopped.\n"


# What is our fault


@pytest.mark.parametrize(
    "error", [ValueError("boom"), RecursionError(), MemoryError(), AssertionError()]
)
@pytest.mark.parametrize("as_json", [False, True])
def test_a_mistake_of_ours_is_told_in_a_paragraph(
    run: Run,
    small: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    error: Exception,
    as_json: bool,
) -> None:
    def fail(asked: object) -> None:
        raise error

    monkeypatch.setattr(check_command, "run", fail)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    outcome = run("check", small, *(["--json"] if as_json else []))
    assert outcome.code == 2
    (report,) = tmp_path.glob("rigproof-report-*.txt")
    said = outcome.json["faults"][0]["says"] if as_json else " ".join(outcome.err.split())
    assert "a mistake in Rigproof, not of yours" in said
    assert "Nothing was changed." in said
    assert str(report) in said
    text = report.read_text(encoding="utf-8")
    assert "Traceback" in text
    assert type(error).__name__ in text


def test_a_report_that_cannot_be_written(
    run: Run, small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(asked: object) -> None:
        raise ValueError("boom")

    monkeypatch.setattr(check_command, "run", fail)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "nowhere"))
    outcome = run("check", small)
    assert outcome.code == 2
    assert "could not be written either" in " ".join(outcome.err.split())


def test_a_command_that_writes_does_not_promise_too_much(
    run: Run, small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rigproof.cli import history

    def fail(asked: object) -> None:
        raise ValueError("boom")

    monkeypatch.setattr(history, "run", fail)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    said = " ".join(run("history", small).err.split())
    assert "Nothing was changed" not in said
    assert "whole or not at all" in said


def test_what_the_computer_refuses_is_said_plainly(
    run: Run, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(asked: object) -> None:
        raise OSError(28, "No space left on device", "rig.yaml")

    monkeypatch.setattr(check_command, "run", full)
    outcome = run("check", small)
    assert outcome.code == 2
    assert "the computer refused: no space left on device (rig.yaml)." in outcome.err


# Progress


class Console(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_from_the_first_second_on(monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    console = Console()
    monkeypatch.setattr(sys, "stderr", console)
    with terminal.working("Thinking"):
        pass
    assert console.getvalue() == ""
    with terminal.working("Thinking"):
        time.sleep(1.2)
    assert "\rThinking ... 1 s" in console.getvalue()
    assert console.getvalue().endswith(" \r")


def test_no_progress_off_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    out = io.StringIO()
    monkeypatch.setattr(sys, "stderr", out)
    with terminal.working("Thinking"):
        time.sleep(1.1)
    assert out.getvalue() == ""


def test_help_and_version_load_nothing_heavy() -> None:
    probe = (
        "import sys; from rigproof.cli import main; main(['--help']);"
        "print([m for m in sys.modules if m.split('.')[0] in"
        " ('numpy', 'yaml', 'msgspec', 'pydantic', 'typst') or m.startswith('rigproof.rig')])"
    )
    process = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True)
    assert process.stdout.splitlines()[-1] == "[]"
