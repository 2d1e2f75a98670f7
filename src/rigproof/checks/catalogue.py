"""All rules, found by looking: each module of this package that has RULES adds its own."""

import pkgutil
from functools import lru_cache
from importlib import import_module

from rigproof import checks
from rigproof.checks.rule import Rule


@lru_cache
def rules() -> tuple[Rule, ...]:
    """Every rule, by identifier."""
    found: list[Rule] = []
    for module in pkgutil.iter_modules(checks.__path__, f"{checks.__name__}."):
        found += getattr(import_module(module.name), "RULES", ())
    return tuple(sorted(found, key=lambda rule: rule.id))


def rule(identifier: str) -> Rule | None:
    """The rule of this identifier, if there is one."""
    return next((rule for rule in rules() if rule.id == identifier), None)
