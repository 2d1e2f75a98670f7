"""Hiss and the loudest sound of an ear, again, from nothing but the text of the printed page."""

import re
from collections.abc import Iterator
from math import log10

import pypdfium2
import pytest

from rigproof.checks.verdict import check
from rigproof.rigfile.load import load
from rigproof.showbook.assembly import book_with_numbers
from tests.bands import WHOLE

ZERO_DBU_V = 0.6**0.5  # 1 mW in 600 ohm
NUMBER = r"[+-]?\d+\.\d"


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    """Each person's page as one line of text, with plain minus signs."""
    made = book_with_numbers(check(load(WHOLE["demo"])))
    document = pypdfium2.PdfDocument(made.pdf)
    found = {}
    for page in document:
        text = " ".join(page.get_textpage().get_text_range().replace("\ufffe", "-").split())
        name = re.search(r"(\w+) EVERYTHING TOGETHER", text)
        if name and "Level ladders" in text[:80]:
            found[name[1]] = text.replace("\u2212", "-")
    return found


def between(text: str, start: str, end: str) -> str:
    return text[text.index(start) : text.index(end, text.index(start))]


def printed(text: str, label: str, unit: str) -> float:
    """One of the three figures at the head of the page."""
    found = re.search(rf"{label} ({NUMBER}) {re.escape(unit)}", text)
    assert found, label
    return float(found[1])


def noises(text: str) -> Iterator[tuple[str, float, float, float]]:
    """Every line of the hiss: what it says, there, gain to the ear, at the ear."""
    table = between(text, "SHARE ", "Hiss at the ")
    line = rf"(.*?) ({NUMBER}) dB(?:u|FS) \w+ ({NUMBER}) ({NUMBER}) {NUMBER} % ?"
    for what, there, gain, ends in re.findall(line, table):
        yield what, float(there), float(gain), float(ends)


PEOPLE = ("Tamsin", "Ossian", "Bo")


@pytest.mark.parametrize("person", PEOPLE)
def test_hiss(pages: dict[str, str], person: str) -> None:
    text = pages[person]
    told = list(noises(text))
    assert told
    power = sum(10 ** (ends / 10) for *_, ends in told)
    rest = re.search(rf"everything else together ({NUMBER})", text)
    power += 10 ** (float(rest[1]) / 10) if rest else 0
    assert 10 * log10(power) == pytest.approx(printed(text, "HISS", "dB(A)"), abs=0.1)
    for what, there, gain, ends in told:
        assert there + gain == pytest.approx(ends, abs=0.15), what


@pytest.mark.parametrize("person", PEOPLE)
def test_every_noise_follows_from_its_data_sheet(pages: dict[str, str], person: str) -> None:
    """Microvolts to dBu, own noise and sensitivity to dBu, dBu to full scale."""
    for what, there, _, _ in noises(pages[person]):
        given = {name: float(value) for name, value in re.findall(
            rf"(noise:|level|sensitivity|full scale) ({NUMBER})", what)}  # fmt: skip
        if "\u00b5V" in what:
            again = 20 * log10(given["noise:"] * 1e-6 / ZERO_DBU_V)
        elif "sensitivity" in given:  # 94 dB SPL are 1 Pa
            volts = 10 ** ((given["level"] - 93.98) / 20) * given["sensitivity"] / 1000
            again = 20 * log10(volts / ZERO_DBU_V)
        else:
            again = given["noise:"] - given.get("full scale", 0.0)
        assert again == pytest.approx(there, abs=0.15), what


@pytest.mark.parametrize("person", PEOPLE)
def test_loudest(pages: dict[str, str], person: str) -> None:
    """What the limiting place bears, or its limiter holds, and every gain behind it."""
    text = pages[person]
    table = between(text, "The loudest possible PLACE", "Loudest possible the earphones")
    says = r"bears at most|limiter of the mix holds|current gives out: (.*?)"
    first = re.search(rf"(?:{says}) ({NUMBER}) dB(?:u|FS)", table)
    assert first
    level = float(first[2])
    if first[1]:  # amperes times all ohms that they pass
        highest_ma, through, into = map(float, re.findall(NUMBER, first[1]))
        volts = highest_ma / 1000 * (through + into)
        assert 20 * log10(volts / ZERO_DBU_V) == pytest.approx(level, abs=0.15)
    for gain, after in re.findall(rf"({NUMBER}) ({NUMBER}) dB(?:u| SPL)", table[first.end() :]):
        level += float(gain)
        assert level == pytest.approx(float(after), abs=0.25)
    assert level == pytest.approx(printed(text, "LOUDEST POSSIBLE", "dB SPL"), abs=0.25)


@pytest.mark.parametrize("person", PEOPLE)
def test_own_sound(pages: dict[str, str], person: str) -> None:
    """Each level is the one above and the parts that are named beside it."""
    table = between(pages[person], "S/N dB", "Room = ")
    rungs = re.findall(rf"(.*?) ({NUMBER}) (dBu|dBFS|dB SPL) (?:\w+ )?{NUMBER}", table)
    level = float(rungs[0][1])
    summed = 0
    for told, after, _ in rungs[1:]:
        gain = re.search(r" ([+-]\d+\.\d)$", told)
        level += float(gain[1]) if gain else 0.0
        assert level == pytest.approx(float(after), abs=0.25), told
        summed += bool(gain)
    assert summed >= 5
