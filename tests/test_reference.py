"""The reference pages are what the code says today."""

from pathlib import Path

import pytest

from rigproof.checks.catalogue import rules
from rigproof.cli.commands import COMMANDS
from rigproof.rig import RigFile
from tools import reference

PAGES = reference.pages()


@pytest.mark.parametrize("name", PAGES)
def test_page_is_current(name: str) -> None:
    written = (reference.REFERENCE / name).read_text(encoding="utf-8")
    assert written == PAGES[name], "run: python tools/reference.py"


def test_no_page_is_left_over() -> None:
    assert {path.name for path in reference.REFERENCE.iterdir()} == set(PAGES)


def test_every_rule_command_and_key_is_there() -> None:
    for rule in rules():
        assert f"\n### {rule.id}\n" in PAGES["rules.md"]
    for command in COMMANDS:
        assert f"\n## rigproof {command}\n" in PAGES["commands.md"]
    for cls in reference.below(RigFile):
        assert f"\n### {cls.__name__}\n" in PAGES["file-form.md"]


def test_links_lead_somewhere() -> None:
    import re

    root = Path(reference.REFERENCE).parents[1]
    for page in [root / "README.md", *(root / "docs").rglob("*.md")]:
        text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
        for target in re.findall(r"\]\(([^)]+)\)", text):
            path, _, anchor = target.partition("#")
            if "://" in target:
                continue
            linked = (page.parent / path).resolve() if path else page
            assert linked.exists(), f"{page.name}: {target}"
            if anchor:
                headings = re.findall(
                    r"^#+ (.*)$", linked.read_text(encoding="utf-8"), re.MULTILINE
                )
                anchors = {re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings}
                assert anchor in anchors, f"{page.name}: {target}"
