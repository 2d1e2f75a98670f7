"""First mixes from a take on paper: the preamps on one sheet, and a sheet for each listener."""

from collections.abc import Iterator, Sequence

import msgspec

from rigproof.linecheck.regain import Regain
from rigproof.mixes.firstmix import Control
from rigproof.rig import Rig
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    caution,
    cell,
    column,
    facts,
    numbers,
    say,
    table,
)
from rigproof.showbook.edition import Edition
from rigproof.showbook.papers import Sheet
from rigproof.wording import ranges


class FirstMix(msgspec.Struct, frozen=True, kw_only=True):
    """One listener's mix as it is printed; levels are None where they cannot be told."""

    person: str
    controls: tuple[Control, ...]
    levels_db: dict[str, float]
    level_dba: float | None
    peak_spl: float | None
    hiss_dba: float | None


def sheets(
    rig: Rig,
    regains: Sequence[Regain],
    mixes: Sequence[FirstMix],
    edition: Edition,
    *,
    headroom_db: float,
) -> list[Sheet]:
    """Everything to set, by hand where the rig file is not the desk."""
    gains = Sheet(
        id="first-gains",
        title=edition.say("firstmix.gains"),
        lead=edition.say("firstmix.gains_lead", room=edition.number(headroom_db)),
        blocks=(_gains(rig, regains, edition),),
    )
    return [gains, *(_sheet(rig, mix, edition) for mix in mixes)]


def _gains(rig: Rig, regains: Sequence[Regain], edition: Edition) -> Block:
    columns = [
        column(edition.say("firstmix.ch"), 0, look="number"),
        column(edition.say("firstmix.source"), 3, look="name"),
        numbers(edition.say("firstmix.peak"), unit="dBFS"),
        numbers(edition.say("firstmix.now"), unit="dB"),
        numbers(edition.say("firstmix.then"), unit="dB"),
    ]
    return table(
        columns,
        [
            (
                cell(ranges(one.channels)),
                cell(rig.sources[one.source].name),
                _told(None if one.held == "silent" else one.peak_dbfs, edition),
                _told(one.now_db, edition, 0),
                _told(one.then_db, edition, 0),
            )
            for one in regains
        ],
    )


def _sheet(rig: Rig, mix: FirstMix, edition: Edition) -> Sheet:
    return Sheet(
        id=f"first-mix-{mix.person}",
        title=edition.say("firstmix.mix_of", name=rig.people[mix.person].name),
        lead=edition.say("firstmix.mix_lead"),
        blocks=tuple(_blocks(mix, edition)),
    )


def _blocks(mix: FirstMix, edition: Edition) -> Iterator[Block]:
    told = [
        (edition.say(key), f"{edition.figure(value, 0)} {unit}", edition.say(note) if note else "")
        for key, value, unit, note in (
            ("firstmix.at_ears", mix.level_dba, "dB(A)", "firstmix.over_take"),
            ("firstmix.peaks", mix.peak_spl, "dB SPL", ""),
            ("firstmix.hiss", mix.hiss_dba, "dB(A)", "firstmix.behind"),
        )
        if value is not None
    ]
    if told:
        yield facts(told)
    columns = [
        column(edition.say("firstmix.level_of"), 3, look="name"),
        numbers(edition.say("firstmix.now"), unit="dB"),
        numbers(edition.say("firstmix.then"), unit="dB"),
        column(edition.say("firstmix.pan"), 1),
    ]
    yield table(
        columns,
        [
            (
                cell(f"{one.slot} {one.name}" if one.slot is not None else one.name),
                _told(one.stated_db, edition),
                _told(mix.levels_db.get(one.key), edition),
                cell(_side(one.pan or 0.0, edition)),
            )
            for one in mix.controls
        ],
    )
    unplayed = [one.name for one in mix.controls if one.key not in mix.levels_db]
    if unplayed:
        yield say(edition.say("firstmix.unplayed", names=edition.listed(unplayed)))
    yield caution(edition.say("firstmix.caution_title"), edition.say("firstmix.caution"))


def _side(pan: float, edition: Edition) -> str:
    if not pan:
        return ""
    key = "firstmix.left" if pan < 0 else "firstmix.right"
    return edition.say(key, percent=edition.number(100 * abs(pan), 0))


def _told(value: float | None, edition: Edition, decimals: int = 1) -> Cell:
    return cell(DASH if value is None else edition.figure(value, decimals))
