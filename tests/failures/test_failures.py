"""Ninety mistakes that were really made: a file shows them beforehand, or a page says why not.

Whether a mistake is of the kind at all was judged from players' and engineers' accounts; the rigs
that stand for them are made up. `docs/failures.md` is the list for people; it and the stories name
the same rules.
"""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml

from rigproof.checks.catalogue import rules
from rigproof.cli import main
from rigproof.showbook.papers import PAPERS

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "docs" / "failures.md"
ROWS = 90


class Story(msgspec.Struct, frozen=True):
    row: int
    rules: tuple[str, ...]
    rig: str
    mend: dict[str, str]

    @property
    def text(self) -> str:
        named = re.search(r"^rig:", self.rig, re.MULTILINE)
        return f"format: 1\n{'' if named else 'rig: {name: Example}' + chr(10)}{self.rig}"

    @property
    def mended(self) -> str:
        text = self.text
        for old, new in self.mend.items():
            assert text.count(old) == 1, (self.row, old)
            text = text.replace(old, new)
        return text


class Listed(msgspec.Struct, frozen=True):
    """A line of the table in the docs."""

    row: int
    rules: tuple[str, ...]
    papers: tuple[str, ...]
    seen: str


def stories() -> tuple[Story, ...]:
    data = yaml.safe_load((HERE / "stories.yaml").read_text(encoding="utf-8"))
    return msgspec.convert(data, tuple[Story, ...])


def table() -> tuple[Listed, ...]:
    found = []
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("|") and cells[0].isdigit():
            number, happens, cause, seen = cells
            assert min(len(happens), len(cause)) > 3, number
            named = re.findall(r"`([a-z0-9-]+\.[a-z0-9-]+)`", seen)
            papers = re.findall(r"paper \*([a-z-]+)\*", seen)
            found.append(Listed(int(number), tuple(named), tuple(papers), seen))
    return tuple(found)


STORIES = stories()
TABLE = table()


def told(folder: Path, text: str, capsys: pytest.CaptureFixture[str]) -> Mapping[str, str]:
    """What `rigproof check` tells of a rig file: rule -> its first sentence."""
    (folder / "rig.yaml").write_text(text, encoding="utf-8")
    code = main(["check", str(folder), "--json"])
    answer: Any = json.loads(capsys.readouterr().out)
    assert code in (0, 1), answer
    found: dict[str, str] = {}
    for finding in answer["result"]["findings"]:
        found.setdefault(finding["rule"], finding["says"])
    return found


@pytest.mark.parametrize("story", STORIES, ids=lambda story: f"row-{story.row}")
def test_it_is_seen_beforehand(
    story: Story, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = told(tmp_path, story.text, capsys)
    assert set(story.rules) <= set(before)
    after = told(tmp_path, story.mended, capsys)
    assert not set(story.rules) & set(after), {r: after[r] for r in story.rules if r in after}


def test_the_table_and_the_stories_are_in_step() -> None:
    assert [line.row for line in TABLE] == list(range(1, ROWS + 1))
    of_stories: dict[int, set[str]] = {}
    for story in STORIES:
        of_stories.setdefault(story.row, set()).update(story.rules)
    for line in TABLE:
        # The table may name more rules than its story shows; each story's stand in the table.
        assert of_stories.get(line.row, set()) <= set(line.rules), line.row
        assert bool(line.rules) == (line.row in of_stories), line.row


def test_what_no_rule_sees_is_left_to_a_paper_or_has_a_reason() -> None:
    printed = {paper.id for paper in PAPERS}
    for line in TABLE:
        assert set(line.papers) <= printed, line.row
        if not line.rules:
            assert "No file" in line.seen, line.row
            assert len(line.seen) > 40, line.row


def test_the_table_names_rules_that_exist() -> None:
    known = {rule.id for rule in rules()}
    for line in TABLE:
        assert set(line.rules) <= known, line.row
