"""Wishes that no setting of the knobs fulfils, each with the smallest change that would help."""

from math import ceil, floor

import msgspec

from rigproof.signal.knobs import Knob
from rigproof.wording.sentences import sentence


class Unmet(msgspec.Struct, frozen=True):
    """A wish that no setting of the knobs fulfils, and the smallest change that would help."""

    at: str
    says: str
    change: str
    short_by_db: float


def keeps_no_headroom(
    knob: Knob, source: str, place: str, *, headroom_db: float, by_db: float
) -> Unmet:
    """A preamp at its lowest that still turns its source up too far."""
    return Unmet(
        knob.at,
        sentence(
            "{source} keeps no {headroom_db:g} dB of headroom at {place}, even with the {knob} "
            "at its lowest.",
            source=source,
            headroom_db=headroom_db,
            place=place,
            knob=knob.name,
        ),
        sentence(
            "Put a pad of {pad_db} dB between {source} and {at}.",
            pad_db=ceil(by_db),
            source=source,
            at=knob.at,
        ),
        by_db,
    )


def has_no_room(key: str, place: str, *, room_db: float, need_db: float) -> Unmet:
    """A place that clips too early, whatever is turned before it."""
    short_db = need_db - room_db
    return Unmet(
        key,
        sentence(
            "{place} has {room_db:.1f} dB of room over the peaks, and {need_db:g} dB are wished.",
            place=place,
            room_db=room_db,
            need_db=need_db,
        ),
        sentence(
            "Put a pad of {pad_db} dB before {place}, or play softer.",
            pad_db=ceil(short_db - 0.05),
            place=place,
        ),
        short_db,
    )


def is_too_loud(person: str, name: str, *, total_spl: float, off_db: float) -> Unmet:
    """Ears that get more than they are to, with every knob at its lowest."""
    return Unmet(
        f"ear:{person}",
        sentence(
            "{name} hears {total_spl:.1f} dB SPL with every knob at its lowest, {off_db:.1f} dB "
            "more than wished.",
            name=name,
            total_spl=total_spl,
            off_db=off_db,
        ),
        sentence(
            "Put a pad of {pad_db} dB before {name}'s earphones, or less sensitive earphones, or "
            "lower that person's sends.",
            pad_db=ceil(off_db),
            name=name,
        ),
        off_db,
    )


def is_too_soft(person: str, name: str, *, total_spl: float, off_db: float) -> Unmet:
    """Ears that get less than they are to, with every knob at its highest."""
    return Unmet(
        f"ear:{person}",
        sentence(
            "{name} hears {total_spl:.1f} dB SPL at most, {off_db:.1f} dB less than wished.",
            name=name,
            total_spl=total_spl,
            off_db=off_db,
        ),
        sentence(
            "An amplifier with {more_db} dB more, more sensitive earphones, or a wish for "
            "{wish_spl} dB SPL.",
            more_db=ceil(off_db),
            wish_spl=floor(total_spl),
        ),
        off_db,
    )
