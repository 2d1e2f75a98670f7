"""Numbers that know where they come from.

A quantity is a float, so formulas take it as it is; its provenance travels beside it so that
every sheet can say whether a figure was measured or guessed. The unit stands in the key, and
each kind of figure is a class of its own that says what can exist at all.
"""

import math
from collections.abc import Mapping
from typing import Any, ClassVar, Literal, Self, get_args

Provenance = Literal["measured", "datasheet", "typical", "assumed"]

# Weakest last: what derives from several figures is no better than the weakest of them.
PROVENANCES: tuple[Provenance, ...] = get_args(Provenance)

_RANK = {provenance: rank for rank, provenance in enumerate(PROVENANCES)}

PARTS = ("value", "from", "date", "note")


class Quantity(float):
    """A number with its provenance, an optional date and an optional note.

    `low` and `high` bound what a figure of the kind can be; the unwise is a rule's business.
    """

    __slots__ = ("date", "note", "provenance")

    low: ClassVar[float] = -math.inf
    high: ClassVar[float] = math.inf
    above: ClassVar[bool] = False  # the low end itself cannot be (0 ohm)

    provenance: Provenance
    date: str
    note: str

    def __new__(
        cls,
        value: float,
        provenance: Provenance = "assumed",
        date: str = "",
        note: str = "",
    ) -> Self:
        self = super().__new__(cls, value)
        self.provenance = provenance
        self.date = date
        self.note = note
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        return (type(self), (float(self), self.provenance, self.date, self.note))

    @classmethod
    def stated(cls, value: object) -> Self:
        """A figure as a file gives it: a number, or `{value: 32, from: measured, date: ...}`.

        Raises:
            ValueError: in the words of `expects`.
        """
        provenance: Provenance = "assumed"
        date = note = ""
        if isinstance(value, Quantity):
            provenance = value.provenance
        elif isinstance(value, Mapping):
            if not set(value) <= set(PARTS) or value.get("from", "assumed") not in PROVENANCES:
                raise ValueError(cls.expects())
            provenance = value.get("from", "assumed")
            date, note = value.get("date", ""), value.get("note", "")
            if not isinstance(date, str) or not isinstance(note, str):
                raise ValueError(cls.expects())
            value = value.get("value")
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(cls.expects())
        too_low = value <= cls.low if cls.above else value < cls.low
        if too_low or value > cls.high or not math.isfinite(value):
            raise ValueError(cls.expects())
        return cls(value, provenance, date, note)

    @classmethod
    def expects(cls) -> str:
        """What can stand here, for people."""
        if math.isinf(cls.high):
            return "a number"
        low, high = (f"{end:,}" for end in (cls.low, cls.high))
        least = f"above {low} and" if cls.above else f"from {low}"
        return f"a number {least} {'up ' if cls.above else ''}to {high}"

    @classmethod
    def schema(cls) -> dict[str, Any]:
        """The JSON Schema of a figure of this kind."""
        number: dict[str, Any] = {"type": "number"}
        if math.isfinite(cls.high):
            number |= {
                "exclusiveMinimum" if cls.above else "minimum": cls.low,
                "maximum": cls.high,
            }
        text = {"type": "string"}
        stated = {
            "type": "object",
            "properties": {
                "value": number,
                "from": {"enum": list(PROVENANCES)},
                "date": text,
                "note": text,
            },
            "required": ["value"],
            "additionalProperties": False,
        }
        return {"anyOf": [number, stated]}


def weakest(*quantities: Quantity) -> Provenance:
    """The provenance of a figure derived from these; measured when there are none."""
    worst = 0
    for quantity in quantities:
        rank = _RANK[quantity.provenance]
        if rank > worst:
            worst = rank
    return PROVENANCES[worst]


class Metres(Quantity):
    __slots__ = ()
    low, high = 0, 2_000


class Coordinate(Quantity):
    __slots__ = ()
    low, high = -500, 500


class Millimetres(Quantity):
    __slots__ = ()
    low, high = 0, 5_000


class Kilograms(Quantity):
    __slots__ = ()
    low, high = 0, 2_000


class KilogramsPerMetre(Quantity):
    __slots__ = ()
    low, high = 0, 20


class Euros(Quantity):
    __slots__ = ()
    low, high = 0, 1_000_000


class Decibels(Quantity):
    __slots__ = ()
    low, high = -200, 120


class LevelDbu(Quantity):
    __slots__ = ()
    low, high = -160, 60


class SoundLevel(Quantity):
    __slots__ = ()
    low, high = -30, 180


class Ohms(Quantity):
    __slots__ = ()
    low, high, above = 0, 10_000_000, True


class TurnsRatio(Quantity):
    """Of a transformer: secondary turns over primary turns, 0.1 for 10 to 1 down."""

    __slots__ = ()
    low, high = 0.001, 1_000


class EarOhms(Quantity):
    """Of an earphone or headphone, per ear."""

    __slots__ = ()
    low, high = 1, 10_000


class EarSensitivity(Quantity):
    """Of an earphone or headphone: dB SPL at 1 mW or at 1 V."""

    __slots__ = ()
    low, high = 50, 160


class Isolation(Quantity):
    """What an earphone keeps out; bone lets through what lies above (about 60 dB, from memory)."""

    __slots__ = ()
    low, high = 0, 60


class OhmsPerMetre(Quantity):
    __slots__ = ()
    low, high = 0, 1_000


class Watts(Quantity):
    __slots__ = ()
    low, high = 0, 50_000


class WattHours(Quantity):
    __slots__ = ()
    low, high = 0, 100_000


class PowerFactor(Quantity):
    """Watts over volt-amperes."""

    __slots__ = ()
    low, high, above = 0, 1, True


class Volts(Quantity):
    __slots__ = ()
    low, high, above = 0, 1_000, True


class Amperes(Quantity):
    __slots__ = ()
    low, high = 0, 1_000


class RatedAmperes(Amperes):
    """What a circuit, a fuse or a strip is made for."""

    __slots__ = ()
    above = True


class Milliamperes(Quantity):
    __slots__ = ()
    low, high = 0, 1_000


class RatedMilliamperes(Milliamperes):
    """What a residual-current device is made for."""

    __slots__ = ()
    above = True


class Milliseconds(Quantity):
    __slots__ = ()
    low, high = 0, 10_000


class Seconds(Quantity):
    __slots__ = ()
    low, high = 0, 86_400


class Minutes(Quantity):
    __slots__ = ()
    low, high = 0, 10_000


class Hours(Quantity):
    __slots__ = ()
    low, high = 0, 168


class Hertz(Quantity):
    __slots__ = ()
    low, high, above = 0, 1_000_000, True


class Megahertz(Quantity):
    __slots__ = ()
    low, high, above = 0, 100_000, True


class Sensitivity(Quantity):
    """Of a microphone, in millivolts per pascal."""

    __slots__ = ()
    low, high, above = 0, 10_000, True


class PicofaradsPerMetre(Quantity):
    __slots__ = ()
    low, high = 0, 100_000


class Microvolts(Quantity):
    __slots__ = ()
    low, high = 0, 1_000_000


class SquareMillimetres(Quantity):
    __slots__ = ()
    low, high, above = 0, 1_000, True


class Celsius(Quantity):
    """Of the air around a box."""

    __slots__ = ()
    low, high = -60, 150


class Percent(Quantity):
    __slots__ = ()
    low, high = 0, 100


class CubicMetresPerHour(Quantity):
    __slots__ = ()
    low, high = 0, 10_000


class LevelDbm(Quantity):
    __slots__ = ()
    low, high = -120, 60


class PanCentre(Quantity):
    """What a pan takes of each side in the middle: 0, 3, 4.5 or 6 dB by the make."""

    __slots__ = ()
    low, high = 0, 6.1


class Pan(Quantity):
    """-1 left, 1 right."""

    __slots__ = ()
    low, high = -1, 1
