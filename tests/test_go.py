"""The set-up script: it says what is wrong, and does its work once."""

import sys
from pathlib import Path

import pytest

import go


def test_an_old_python_is_told_so() -> None:
    with pytest.raises(go.SetUpError, match=r"Python 3\.9 is too old.*\n.*python3\.11 go\.py"):
        go.check_python((3, 9), modules=[])


def test_a_python_without_its_own_parts_is_told_the_remedy() -> None:
    with pytest.raises(go.SetUpError, match=r"lacks.* no_such_part\.\n.*python3\.12-venv"):
        go.check_python((3, 12), modules=["venv", "no_such_part"])


def test_this_python_will_do() -> None:
    go.check_python(sys.version_info[:2], modules=["venv"])


@pytest.mark.parametrize("words", [[], ["dmeo"], ["demo", "one", "two"]])
def test_other_words_get_the_usage(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert go.main(words) == 2
    assert "python3 go.py demo" in capsys.readouterr().err


@pytest.fixture
def asked_of_pip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, ...]]:
    """A set-up in an empty folder, with a list of what pip was asked to do."""
    asked: list[tuple[str, ...]] = []
    for name in ("pyproject.toml", "requirements.lock"):
        (tmp_path / name).write_text("first")
    (tmp_path / ".venv").mkdir()
    monkeypatch.setattr(go, "HERE", tmp_path)
    monkeypatch.setattr(go, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(go, "PYTHON", Path(sys.executable))
    monkeypatch.setattr(go, "pip", lambda *words: asked.append(words))
    return asked


def test_the_set_up_is_done_once_and_again_after_a_change(
    asked_of_pip: list[tuple[str, ...]], tmp_path: Path
) -> None:
    lock = tmp_path / "requirements.lock"
    go.set_up(lock)
    assert asked_of_pip[0] == ("--require-hashes", "-r", str(lock))
    assert "--no-deps" in asked_of_pip[1]
    go.set_up(lock)
    assert len(asked_of_pip) == 2
    for changed in (lock, tmp_path / "pyproject.toml"):
        changed.write_text("second")
        asked_of_pip.clear()
        go.set_up(lock)
        assert len(asked_of_pip) == 2


def test_a_set_up_that_failed_is_tried_again(
    asked_of_pip: list[tuple[str, ...]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def offline(*words: str) -> None:
        raise go.SetUpError("offline")

    lock = tmp_path / "requirements.lock"
    with monkeypatch.context() as patched:
        patched.setattr(go, "pip", offline)
        with pytest.raises(go.SetUpError, match="offline"):
            go.set_up(lock)
    go.set_up(lock)
    assert len(asked_of_pip) == 2


def test_a_failing_installer_is_explained(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(go, "PYTHON", Path(sys.executable))
    with pytest.raises(go.SetUpError, match="pip says why just above"):
        go.pip("-r", str(tmp_path / "missing.lock"))
    assert "missing.lock" in capfd.readouterr().err
