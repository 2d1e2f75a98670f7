"""What is kept is known by what it is made of, and by nothing else."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.rig.quantity import Quantity
from rigproof.showbook.blocks import needs
from rigproof.showbook.edition import Edition
from rigproof.showbook.remembered import Remembered

figures = st.integers(-(2**63), 2**63 - 1) | st.floats()
plain = st.recursive(
    st.none() | st.booleans() | figures | st.text(max_size=4),
    lambda one: st.lists(one, max_size=3) | st.dictionaries(st.text(max_size=2), one, max_size=3),
    max_leaves=8,
)


@given(st.lists(plain, max_size=6))
def test_every_part_is_as_if_it_were_made_anew(parts: list[Any]) -> None:
    kept = Remembered(repr, len, most=40)
    for data in (*parts, *parts, *reversed(parts)):
        assert kept(data) == repr(data)


def test_what_is_not_asked_for_goes_first() -> None:
    made: list[str] = []

    def make(letter: str) -> str:
        made.append(letter)
        return letter

    kept = Remembered(make, len, most=2)
    for letter in ("a", "b", "a", "c", "a", "b"):
        kept(letter)
    assert made == ["a", "b", "c", "b"]


def test_a_figure_that_is_none_is_not_no_figure() -> None:
    kept = Remembered(lambda figure: figure, lambda _: 1)
    assert kept(None) is None
    assert math.isnan(kept(math.nan))


def test_a_text_counts_in_the_language_that_it_is_told_in() -> None:
    kept = Remembered(lambda data: data["said"], len)
    told = {"said": needs(["x"])}
    assert kept(told) == "cannot judge: needs x"
    assert kept(told, Edition(language="de").letters) == "nicht zu beurteilen: es fehlt x"
    assert type(kept(told)) is str


def test_a_figure_with_its_provenance_is_its_figure() -> None:
    assert Remembered(repr, len)([Quantity(2.5, provenance="measured")]) == "[2.5]"


def test_what_is_no_value_is_refused() -> None:
    with pytest.raises(NotImplementedError, match="a object"):
        Remembered(repr, len)([object()])
