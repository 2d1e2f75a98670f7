"""All rules, found by looking: each module of this package that has RULES adds its own."""

from functools import lru_cache
from importlib import import_module
from pathlib import Path

from rigproof import checks
from rigproof.checks.rule import Rule


@lru_cache
def rules() -> tuple[Rule, ...]:
    """Every rule, by identifier."""
    found: list[Rule] = []
    # By their files: the library's own search for modules loads twenty more of its own.
    for path in sorted(Path(checks.__path__[0]).glob("[!_]*.py")):
        # And only those that have any: the rest serve one question each and load much for it.
        if "\nRULES = (" in path.read_text(encoding="utf-8"):
            found += import_module(f"{checks.__name__}.{path.stem}").RULES
    return tuple(sorted(found, key=lambda rule: rule.id))


def rule(identifier: str) -> Rule | None:
    """The rule of this identifier, if there is one."""
    return next((rule for rule in rules() if rule.id == identifier), None)
