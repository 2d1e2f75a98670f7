"""For whom a paper is made, in which language, measures and size of sheet."""

from collections.abc import Iterable
from typing import Literal, get_args

import msgspec

from rigproof.rig import About, Rig
from rigproof.wording import listed
from rigproof.wording.measures import FEET_PER_METRE, INCHES_PER_MM, POUNDS_PER_KG, Measures
from rigproof.wording.phrases import Language, phrase
from rigproof.wording.sentences import said_in

Reader = Literal["band", "house", "deputy", "shop"]
READERS: tuple[Reader, ...] = get_args(Reader)
Size = Literal["a4", "letter"]


class Edition(msgspec.Struct, frozen=True, kw_only=True):
    """How a set of papers is made out."""

    reader: Reader = "band"
    language: Language = "en"
    measures: Measures = "metric"
    size: Size = "a4"

    @property
    def private(self) -> bool:
        """Whether telephone numbers, passwords and prices may stand on it: for the band alone."""
        return self.reader == "band"

    def say(self, key: str, /, **values: object) -> str:
        """A phrase of the catalogue in this edition's language, and what was told in it too."""
        if self.language != "en" or self.measures != "metric":
            values = {n: self.tell(v) if isinstance(v, str) else v for n, v in values.items()}
        return phrase(self.language, key, **values)

    def tell(self, text: str) -> str:
        """A text that was told before its reader was known, in his language and measures."""
        return said_in(self.language, text, self.measures)

    def letters(self, told: object) -> str:
        """The same for writers of data, which know plain letters only.

        Raises:
            NotImplementedError: it is no text at all.
        """
        if isinstance(told, str):
            return self.tell(told)
        raise NotImplementedError

    def words(self, *keys: str) -> dict[str, str]:
        """Phrases for a template that sets them itself, by what stands after their subject."""
        return {key.partition(".")[2]: self.say(key) for key in keys}

    def listed(self, words: Iterable[str]) -> str:
        """Words in a row as a sentence of this language has them."""
        return listed(words, self.say("paper.and"))

    def some(self, words: Iterable[str], most: int = 6) -> str:
        """Words in a row, each once; the rest of a long row only counted.

        >>> Edition(language="de").some("abcdefgh")
        'a, b, c, d, e und 3 mehr'
        """
        row = list(dict.fromkeys(words))
        if len(row) <= most:
            return self.listed(row)
        kept = max(1, most - 1)
        return self.say("paper.more", names=", ".join(row[:kept]), count=len(row) - kept)

    def number(self, value: float, decimals: int = 1) -> str:
        """A figure to at most so many decimals, with this language's decimal sign.

        >>> Edition(language="de").number(2.50), Edition().number(2.0)
        ('2,5', '2')
        """
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        text = "0" if text == "-0" else text.replace("-", "\u2212")
        return text.replace(".", ",") if self.language == "de" else text

    def figure(self, value: float, decimals: int = 1) -> str:
        """A figure to so many decimals, noughts and all, as columns of figures want it."""
        text = f"{value:.{decimals}f}"
        text = (text if text.strip("-0.") else text.lstrip("-")).replace("-", "\u2212")
        return text.replace(".", ",") if self.language == "de" else text

    def length(self, length_m: float) -> str:
        """A length with its unit.

        >>> Edition().length(2.5), Edition(measures="imperial").length(2.5)
        ('2.5 m', '8.2 ft')
        """
        if self.measures == "imperial":
            return f"{self.number(length_m * FEET_PER_METRE)} ft"
        return f"{self.number(length_m, 2)} m"

    def mass(self, mass_kg: float, decimals: int = 1) -> str:
        """A weight with its unit.

        >>> Edition().mass(12), Edition(measures="imperial").mass(12)
        ('12 kg', '26.5 lb')
        """
        if self.measures == "imperial":
            return f"{self.number(mass_kg * POUNDS_PER_KG, decimals)} lb"
        return f"{self.number(mass_kg, decimals)} kg"

    def small(self, length_mm: float) -> str:
        """A small length with its unit.

        >>> Edition().small(254), Edition(measures="imperial").small(254)
        ('254 mm', '10 in')
        """
        if self.measures == "imperial":
            return f"{self.small_figure(length_mm)} in"
        return f"{self.number(length_mm, 0)} mm"

    def small_figure(self, length_mm: float) -> str:
        """A small length without its unit, where that stands once for many."""
        if self.measures == "imperial":
            return self.number(length_mm * INCHES_PER_MM)
        return self.number(length_mm)

    @property
    def length_unit(self) -> str:
        return "ft" if self.measures == "imperial" else "m"

    @property
    def mass_unit(self) -> str:
        return "lb" if self.measures == "imperial" else "kg"

    def lengths(self, length_m: float) -> float:
        """A length in this edition's unit, for a column that names it."""
        return length_m * FEET_PER_METRE if self.measures == "imperial" else length_m

    def masses(self, mass_kg: float) -> float:
        """A weight in this edition's unit, for a column that names it."""
        return mass_kg * POUNDS_PER_KG if self.measures == "imperial" else mass_kg


ENGLISH = Edition()


def head(rig: Rig, edition: Edition) -> dict[str, object]:
    """What stands on every page: whose, which version, until when, whom to call."""
    return head_of(rig.about, edition)


def head_of(about: About, edition: Edition) -> dict[str, object]:
    """The same of a rig of which no more is known than what it says of itself."""
    contact = about.contact
    call = [contact.name, contact.phone or contact.mail] if contact else []
    who = ", ".join(part for part in call if part)
    until = edition.say("paper.valid_until", date=about.valid_until) if about.valid_until else ""
    version = edition.say("paper.version", version=about.version) if about.version else ""
    parts = [part for part in (version, about.date, until) if part]
    return {
        "running": about.band or about.name,
        "version": version,
        "date": about.date,
        "valid_until": about.valid_until,
        "call": who,
        "edition": " \u00b7 ".join(parts) or edition.say("paper.no_edition"),
        "says": {
            "in_doubt": edition.say("paper.if_in_doubt"),
            "call": edition.say("paper.call", who=who)
            if who
            else edition.say("paper.nobody_to_call"),
            "page": edition.say("paper.page"),
            "of": edition.say("paper.of"),
            "caution": edition.say("paper.caution"),
            "left_out": edition.say("paper.left_out"),
            "worth": {
                word: edition.say(f"paper.{word}")
                for word in ("measured", "datasheet", "typical", "assumed")
            },
        },
        "language": edition.language,
    }
