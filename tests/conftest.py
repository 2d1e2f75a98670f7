"""What every test run shares: checks against other people's figures are counted and named."""

from collections import Counter
from typing import Any

import pytest
from xdist.scheduler import LoadFileScheduling  # type: ignore[import-untyped]

PUBLISHED = "published"


def sources_of(item: pytest.Item) -> list[object]:
    return [source for mark in item.iter_markers(PUBLISHED) for source in mark.args or [None]]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        # User properties, because they survive the way back from a worker process.
        item.user_properties.extend((PUBLISHED, source) for source in sources_of(item))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling:
    """A file stays with one worker: its tests share a book or drawings that are costly to make."""
    return LoadFileScheduling(config, log)


def pytest_runtest_setup(item: pytest.Item) -> None:
    for source in sources_of(item):
        if not (isinstance(source, str) and source.strip()):
            pytest.fail("@pytest.mark.published has to name the source", pytrace=False)


def pytest_report_collectionfinish(config: pytest.Config, items: list[pytest.Item]) -> list[str]:
    """With --collect-only, each source and how many checks stand on it."""
    if not config.option.collectonly:
        return []
    found = Counter(
        value for item in items for name, value in item.user_properties if name == PUBLISHED
    )
    return [
        f"published: {count:4} from {source}" for source, count in sorted(found.items(), key=str)
    ]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    outcomes: Counter[str] = Counter()
    sources: set[object] = set()
    for outcome in ("passed", "failed", "skipped"):
        for report in terminalreporter.stats.get(outcome, []):
            stands_on = [value for name, value in report.user_properties if name == PUBLISHED]
            if stands_on and (report.when == "call" or outcome == "skipped"):
                outcomes[outcome] += 1
                sources.update(stands_on)
    if outcomes:
        counts = ", ".join(f"{count} {outcome}" for outcome, count in outcomes.items())
        terminalreporter.write_line(
            f"checks against published figures: {counts}, from {len(sources)} sources"
        )
