"""Every formula that says it takes many values gives for each what it gives for one."""

import inspect
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from rigproof.physics import (
    cable,
    cablerun,
    castors,
    comb,
    conductors,
    converters,
    delays,
    exposure,
    headphones,
    heat,
    hops,
    levels,
    loading,
    mains,
    microphones,
    noise,
    pads,
    phantom48,
    poe,
    radio,
    ratings,
    supply,
    weighting,
)
from rigproof.physics._arrays import Floats

MODULES = (
    levels, converters, noise, weighting, microphones, loading, pads, cable, phantom48,
    headphones, exposure, delays, comb,
)  # fmt: skip
# Asked about a few boxes at a time; many of these formulas are tables or take a row of figures.
SYSTEMS = (cablerun, castors, conductors, heat, hops, mains, poe, radio, ratings, supply)


def formulas() -> Iterator[Callable[..., Any]]:
    for module in (*MODULES, *SYSTEMS):
        for function in of_module(module):
            if inspect.signature(function).return_annotation == Floats:
                yield function


def of_module(module: ModuleType) -> Iterator[Callable[..., Any]]:
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if function.__module__ == module.__name__ and not name.startswith("_"):
            yield function


def made_up(function: Callable[..., Any]) -> tuple[dict[str, Any], Callable[[int], dict[str, Any]]]:
    """Arguments with arrays for what may vary, and the same with the floats at one place."""
    chance = np.random.default_rng(48)
    many: dict[str, Any] = {}
    for name, parameter in inspect.signature(function).parameters.items():
        kind = str(parameter.annotation)
        if "[~Floats]" in kind and "Optional" not in kind:
            many[name] = [chance.uniform(1, 100, 7) for _ in range(3)]
        elif "power_factor" in name:
            many[name] = chance.uniform(0.1, 1, 7) if "~Floats" in kind else 0.6
        elif "~Floats" in kind:
            many[name] = chance.uniform(1, 100, 7)
        elif "Criterion" in kind:
            many[name] = exposure.NIOSH
        elif "Iterable" in kind:
            many[name] = [1.0, 2.0, 0.5]
        elif parameter.annotation in (int, float) and parameter.default is parameter.empty:
            many[name] = 4
        elif parameter.default is parameter.empty:
            raise AssertionError(f"{function.__name__}: nothing made up for {name}: {kind}")

    def one(place: int) -> dict[str, Any]:
        def pick(value: Any) -> Any:
            if isinstance(value, np.ndarray):
                return float(value[place])
            if isinstance(value, list) and isinstance(value[0], np.ndarray):
                return [pick(part) for part in value]
            return value

        return {name: pick(value) for name, value in many.items()}

    return many, one


def called(function: Callable[..., Any], given: dict[str, Any]) -> Any:
    """As the formula wants them: one argument by its place, several by their names."""
    kinds = inspect.signature(function).parameters
    by_place = [name for name in given if kinds[name].kind is not inspect.Parameter.KEYWORD_ONLY]
    by_name = {name: value for name, value in given.items() if name not in by_place}
    return function(*(given[name] for name in by_place), **by_name)


@pytest.mark.parametrize("function", list(formulas()), ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_arrays_give_what_floats_give(function: Callable[..., Any]) -> None:
    many, one = made_up(function)
    found = called(function, many)
    assert isinstance(found, np.ndarray)
    assert found.shape == (7,)
    singles = [called(function, one(place)) for place in range(7)]
    assert all(type(single) is float for single in singles)
    assert found == pytest.approx(singles, rel=1e-12)


def test_most_formulas_take_arrays() -> None:
    every = [function for module in MODULES for function in of_module(module)]
    many = [f for f in every if inspect.signature(f).return_annotation == Floats]
    assert len(many) > 0.85 * len(every)


def test_silence_in_an_array_is_silence() -> None:
    volts = np.array([0.0, 1.0])
    assert levels.v_to_dbv(volts).tolist() == [-np.inf, 0]
    together = levels.power_sum_db([levels.v_to_dbv(volts), np.array([-np.inf, 0.0])])
    assert together[0] == -np.inf
    assert together[1] == pytest.approx(3.01, abs=0.01)
    left = levels.power_difference_db(
        total_db=np.array([-130.0, -120.0]), part_db=np.array([-125.0, -125.0])
    )
    assert left[0] == -np.inf
    assert -122 < left[1] < -121


def test_rows_of_a_table_are_summed_down_its_columns() -> None:
    """Contributors in rows, ears in columns: one call for all ears."""
    table = np.array([[-90.0, -80.0], [-90.0, -100.0]])
    assert levels.power_sum_db(table) == pytest.approx([-86.99, -79.957], abs=0.005)


def test_one_figure_does_not_load_numpy() -> None:
    import subprocess
    import sys

    modules = ", ".join(module.__name__.rpartition(".")[2] for module in (*MODULES, *SYSTEMS))
    program = (
        f"import sys; from rigproof.physics import {modules}; levels.power_sum_db([0.0, 1.0]); "
        "weighting.flat_to_a_dbu(-90.0); sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
