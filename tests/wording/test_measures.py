"""Feet, inches and pounds in what was told in metres: no metric figure is left in any sentence."""

import re
from string import Formatter

import pytest

from rigproof.wording.measures import Measures
from rigproof.wording.phrases import Language
from rigproof.wording.sentences import Figure, joined, said_in, sentence, sentences

METRIC = re.compile(r"[\d}][ \u00a0](mm|cm|m|kg)(?!\w)")
MEASURED = [
    (language, english)
    for language in ("en", "de")
    for english in sentences("de")
    if METRIC.search(english)
]


@pytest.mark.parametrize(("language", "english"), MEASURED)
def test_no_sentence_keeps_a_metric_figure(language: Language, english: str) -> None:
    """Texts in its places too may be told where no number is: a unit stands behind figures only."""
    figures = {
        name: 8.0 if spec or name.endswith("_mm") else " X"
        for _, name, spec, _ in Formatter().parse(english)
        if name
    }
    said = said_in(language, sentence(english, **figures), "imperial")
    assert not METRIC.search(said), said
    assert re.search(r"\d[ \u00a0](ft|in|lb)(?!\w)", said)


@pytest.mark.published("NIST SP 811, B.8: 1 ft = 0.3048 m, 1 in = 2.54 cm, 1 lb = 0.453 592 37 kg")
@pytest.mark.parametrize(
    ("told", "said"),
    [
        (sentence("{a_m:g} m and {b_m:.1f} m", a_m=3.048, b_m=10.0), "10 ft and 32.81 ft"),
        (sentence("{a_mm:g} mm, {b_mm:.0f} cm", a_mm=254, b_mm=2.54), "10 in, 1 in"),
        (sentence("{a_kg:.0f} kg, not {b_kg:g}", a_kg=45.359237, b_kg=25), "100 lb, not 55"),
        (joined(" ", [Figure("22.7"), sentence("kg")]), "50 lb"),
        (sentence("Leave 254 mm."), "Leave 10 in."),
        (sentence("{who}, 3 m of lead", who="12 kg of Ana"), "12 kg of Ana, 9.8 ft of lead"),
        (sentence("{a:g} ms, 5 min, {b_m:g} m²", a=3, b_m=4), "3 ms, 5 min, 4 m²"),
    ],
)
def test_figures_become_feet_inches_and_pounds(told: str, said: str) -> None:
    assert said_in("en", told, "imperial") == said
    assert said_in("en", told) == told


@pytest.mark.parametrize("measures", ["metric", "imperial"])
def test_what_differs_in_metres_differs_in_feet(measures: Measures) -> None:
    told = sentence("it needs {needs_mm:g} mm and has {has_mm:g} mm", needs_mm=232, has_mm=231)
    assert len(set(re.findall(r"\d+(?:\.\d+)?", said_in("en", told, measures)))) == 2


def test_a_decimal_sign_is_that_of_the_language() -> None:
    assert said_in("de", sentence("{a_m:g} m lang", a_m=10), "imperial") == "32,8 ft lang"
