"""Level ladders and ears, as rows for people and as data for programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from rigproof.cli.terminal import Row, Table

if TYPE_CHECKING:
    from rigproof.rig import Rig
    from rigproof.rig.quantity import Quantity
    from rigproof.signal.ladder import Ladder, Rung, Told
    from rigproof.signal.levels import EarFigures
    from rigproof.signal.widths import Widths


def ladder_data(ladder: Ladder) -> dict[str, Any]:
    """The ladder of a way."""
    first = ladder.first_to_clip
    return {
        "crest_db": ladder.crest_db,
        "rungs": [_rung_data(rung) for rung in ladder.rungs],
        "first_to_clip": first.place if first else None,
        "missing": list(ladder.missing),
    }


def _rung_data(rung: Rung) -> dict[str, Any]:
    return {
        "place": rung.place,
        "unit": rung.unit,
        "parts": [
            {"name": part.name, "value_db": part.value_db, "from": part.figure.provenance}
            for part in rung.step.parts
        ],
        "level": _told_data(rung.level),
        "peak": rung.peak_db,
        "clip": None
        if rung.clip is None
        else {"value": float(rung.clip), "from": rung.clip.provenance},
        "headroom_db": rung.headroom_db,
        "noise": _told_data(rung.noise),
        "shares": [
            {
                "place": one.place,
                "name": one.noise.name,
                "level": one.level_db,
                "share_ratio": one.share_ratio,
                "from": one.noise.figure.provenance,
            }
            for one in rung.gathered
        ],
        "signal_to_noise_db": rung.snr_db,
        "together": rung.together_db,
        "missing": list(rung.missing),
    }


def _told_data(told: Told | None) -> dict[str, Any] | None:
    if told is None:
        return None
    return {
        "value": told.value_db,
        "low": told.low_db,
        "high": told.high_db,
        "from": told.provenance,
    }


def ear_data(ear: EarFigures, source: str, widths: Widths) -> dict[str, Any]:
    """What one person hears of a source and of everything."""
    together, loudest = widths.together(ear.person), widths.loudest(ear.person)
    return {
        "person": ear.person,
        "level_spl": ear.levels_spl.get(source),
        "together_spl": ear.total_spl,
        "together_low_spl": None if together is None else together.low_db,
        "together_high_spl": None if together is None else together.high_db,
        "hiss_dba": ear.hiss_dba,
        "hiss_low_dba": ear.hiss_low_dba,
        "hiss_high_dba": ear.hiss_high_dba,
        "shares": [
            {
                "place": share.place,
                "name": share.noise.name,
                "level_dba": share.spl_dba,
                "share_ratio": share.share_ratio,
                "from": share.noise.figure.provenance,
            }
            for share in ear.shares
        ],
        "loudest_spl": ear.loudest_spl,
        "loudest_low_spl": None if loudest is None else loudest.low_db,
        "loudest_high_spl": None if loudest is None else loudest.high_db,
        "limited_by": ear.limited_by,
        "isolation_db": None if ear.isolation_db is None else float(ear.isolation_db),
        "from": ear.provenance,
        "missing": list(ear.missing),
        "noise_not_stated": list(ear.unheard),
    }


def level_table(rig: Rig, ladder: Ladder) -> Table:
    """The ladder, a box named where the signal enters it and its inner places set in below."""
    return Table(
        ("", "stands at", "level", "peak", "room", "noise", "S/N", "in"),
        tuple(_table(rig, ladder)),
        wraps=1,
        right=frozenset({0, 2, 3, 4, 5, 6}),
    )


def _table(rig: Rig, ladder: Ladder) -> Iterator[tuple[str, ...]]:
    from rigproof.signal.words import place_parts

    before = ""
    for number, rung in enumerate(ladder.rungs):
        box, part = place_parts(rig, [rung.place])
        place = f"  {part}" if box and box == before else ", ".join(w for w in (box, part) if w)
        before = box
        if rung.together_db is not None and rung.unit != "dB SPL":
            place += f" (all: {rung.together_db:.1f})"
        yield (
            str(number),
            place,
            figure(rung.level.value_db if rung.level else None, rung.level),
            figure(rung.peak_db),
            figure(rung.headroom_db, rung.clip),
            figure(rung.noise.value_db if rung.noise else None, rung.noise),
            figure(rung.snr_db),
            rung.unit,
        )


WORTH = (
    "A letter behind a figure says what it is worth: m measured, d from a data sheet, t typical, "
    "a assumed; of a sum, the weakest of its figures; of the room, what the place bears."
)


def mark(provenance: str) -> str:
    """The letter for where a figure comes from."""
    return provenance[:1]


def figure(value: float | None, worth: Told | Quantity | None = None) -> str:
    """A level to a tenth of a decibel and what it is worth; nothing where it is not known."""
    if value is None:
        return ""
    return f"{value:.1f}{mark(worth.provenance) if worth is not None else ''}"


def ladder_rows(rig: Rig, ladder: Ladder) -> Iterator[Row]:
    """What a ladder comes to: the end of it, where it clips first, what is not known."""
    from rigproof.signal.words import place

    last = ladder.rungs[-1]
    if last.level is not None:
        yield Row(
            f"{ranged(last.level.value_db, last.level.low_db, last.level.high_db)} {last.unit}.",
            lead="Level: ",
            lead_tone="faint",
        )
    first = ladder.first_to_clip
    if first is not None and first.headroom_db is not None:
        room = f"{abs(first.headroom_db):.1f} dB"
        told = f"{room} of room" if first.headroom_db >= 0 else f"it is {room} over"
        yield Row(
            f"{place(rig, first.place)}; {told} at peaks of {ladder.crest_db:g} dB.",
            lead="Clips first: ",
            lead_tone="faint",
        )
    if ladder.missing:
        yield Row(f"{'; '.join(ladder.missing)}.", lead="Not stated: ", lead_tone="faint")


def ear_rows(rig: Rig, ear: EarFigures, widths: Widths) -> Iterator[Row]:
    """Everything at one pair of ears, beyond the one source."""
    from rigproof.signal.words import place

    together, loudest = widths.together(ear.person), widths.loudest(ear.person)
    if together is not None:
        planned = widths.sums.ears[ear.person].planned
        told = (
            f"{_told(together)} dB SPL"
            if planned
            else f"{together.value_db:.1f} dB SPL, if what nobody wrote down stands at 0 dB"
        )
        yield Row(f"{told}.", lead="All sources together: ", lead_tone="faint")
    if ear.hiss_dba is not None and ear.hiss_low_dba is not None and ear.hiss_high_dba is not None:
        most = ear.shares[0]
        least = "at least " if ear.unheard or ear.missing else ""
        yield Row(
            f"{least}{ranged(ear.hiss_dba, ear.hiss_low_dba, ear.hiss_high_dba)} dB SPL(A); "
            f"{most.share_ratio:.0%} of it from {place(rig, most.place)}.",
            lead="Hiss: ",
            lead_tone="faint",
        )
    if loudest is not None:
        by = f", limited by {place(rig, ear.limited_by)}" if ear.limited_by else ""
        yield Row(
            f"{_told(loudest)} dB SPL with every knob at the stop{by}.",
            lead="Loudest possible: ",
            lead_tone="faint",
        )


def _told(told: Told) -> str:
    return ranged(told.value_db, told.low_db, told.high_db)


def ranged(value: float, low: float, high: float) -> str:
    """A figure with the range it likely lies in."""
    return f"{value:.1f} (likely {low:.0f} to {high:.0f})"
