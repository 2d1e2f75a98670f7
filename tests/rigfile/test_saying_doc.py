"""The page of short answers: each is a rig that reads, and works as far as it goes."""

import re
from pathlib import Path

import pytest

from rigproof.checks.verdict import check
from rigproof.rigfile.load import parse

PAGE = Path(__file__).parents[2] / "docs" / "saying.md"
ANSWERS = re.findall(r"^## (.+?)\n.*?```yaml\n(.*?)```", PAGE.read_text("utf-8"), re.M | re.S)


def test_every_answer_is_found() -> None:
    assert len(ANSWERS) == PAGE.read_text("utf-8").count("\n## ") >= 8


@pytest.mark.parametrize(("title", "text"), ANSWERS, ids=[title for title, _ in ANSWERS])
def test_an_answer_has_no_stop(title: str, text: str) -> None:
    named = text if text.startswith("rig:") else f"rig: {{name: '{title}'}}\n{text}"
    verdict = check(parse(f"format: 1\n{named}".encode()))
    assert [f.says for f in verdict.findings if f.severity == "stop"] == []
