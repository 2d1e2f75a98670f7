"""The input list: every channel with all that belongs to it, in the columns engineers expect."""

from collections.abc import Iterator, Mapping
from typing import Any

from rigproof.checks.rule import View
from rigproof.patch import ChannelRow, PatchLists
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.plan import PatchRow
from rigproof.showbook import naming
from rigproof.showbook.edition import Edition
from rigproof.signal import words
from rigproof.signal.phantom import need_of

Row = dict[str, object]


def page(usual: View, shows: tuple[View, ...], edition: Edition) -> dict[str, Any]:
    """The list of the usual rig, and under it what each differing show changes."""
    rows = _rows(usual, edition)
    known = {_identity(row): row for row in rows}
    changes = []
    for view in shows:
        theirs = _rows(view, edition)
        new = [row for row in theirs if known.get(_identity(row)) != row]
        gone = {_identity(row) for row in rows} - {_identity(row) for row in theirs}
        changes.append(
            {
                "title": edition.say("input-list.only_on", show=naming.show(view, edition)),
                "rows": new,
                "gone": _gone([row for row in rows if _identity(row) in gone], edition),
                "note": view.show.note if view.show and edition.private else "",
            }
        )
    return {
        "rows": rows,
        "changes": [change for change in changes if change["rows"] or change["gone"]],
        "outside": list(_unplaced(usual.rig, edition)),
        "words": edition.words(
            "input-list.number",
            "input-list.phantom",
            "input-list.line",
            "input-list.source",
            "input-list.source_alone",
            "input-list.player",
            "input-list.microphone",
            "input-list.microphone_short",
            "input-list.stand",
            "input-list.socket",
            "input-list.plugged",
            "input-list.note",
            "input-list.nothing",
            "input-list.outside",
            "input-list.bold",
            "input-list.never",
            "input-list.on",
            "input-list.key_bold",
            "input-list.key_phantom",
            "input-list.key_never",
            "input-list.key_on",
            "input-list.key_number",
        ),
    }


def _gone(rows: list[Row], edition: Edition) -> str:
    names = [f"{row['number']} {row['source']}" for row in rows if not row["held"]]
    return edition.say("input-list.gone", names=", ".join(names)) if names else ""


def _identity(row: Row) -> tuple[object, object]:
    return row["number"], row["source"]


def _rows(view: View, edition: Edition) -> list[Row]:
    heard = _in_ears(view)
    channels = PatchLists(view.rig).channels
    return [_row(view.rig, channel, heard, edition) for channel in channels]


def _in_ears(view: View) -> frozenset[str]:
    """The sources that somebody on stage hears: the lines that engineers print in bold."""
    arriving = view.arriving
    return frozenset(
        source
        for person in view.rig.people
        for source in arriving.at(view.graph.of_listener(person))
    )


def _row(rig: Rig, channel: ChannelRow, heard: frozenset[str], edition: Edition) -> Row:
    source, row = channel.source, channel.row
    if source is None:
        return {
            "number": channel.number,
            "held": True,
            "source": edition.say("input-list.kept_free" if channel.held else "input-list.free"),
            "note": channel.held,
        }
    needed = _phantom(rig, source, row.phantom if row else None)
    notes = (
        edition.say("input-list.or", what=source.alternative) if source.alternative else "",
        *_elsewhere(rig, row, channel.lane, edition),
        _note(source, row.note if row else "", edition) if channel.lane == 0 else "",
    )
    return {
        "number": channel.number,
        "held": False,
        "bold": source.id in heard,
        "phantom": edition.say(f"input-list.{needed}") if needed else "",
        "line": _line_word(row.line if row else "", channel.lane, source.lanes),
        "socket": words.place(rig, channel.socket, edition.language) if channel.socket else "",
        "source": channel.name,
        "player": naming.player(rig, source),
        "microphone": naming.microphone(rig, source, edition),
        "stand": source.stand,
        "note": " · ".join(note for note in notes if note),
        "first": channel.first_of_pair,
    }


def _elsewhere(rig: Rig, row: PatchRow | None, lane: int, edition: Edition) -> Iterator[str]:
    """Its channels on other mixers."""
    for one in row.also if row is not None else ():
        mixer = words.box(rig, one.on, edition.language)
        if lane < len(one.channel):
            number = one.channel.first + lane
            yield edition.say("input-list.also", mixer=mixer, number=number)


def _note(source: Source, row: str, edition: Edition) -> str:
    """What else to know, once for a pair; what is noted at the patch is the band's business."""
    notes = (source.note, row if edition.private else "")
    return " · ".join(note for note in notes if note)


def _line_word(line: str, lane: int, lanes: int) -> str:
    """The one line of this lane, where the row names a run of them: A7-8 is A7 and A8."""
    head, dash, last = line.rpartition("-")
    if lanes < 2 or not dash or not last.isdigit():
        return line
    stem = head.rstrip("0123456789")
    first = head[len(stem) :]
    if not first or int(last) - int(first) + 1 != lanes:
        return line
    return f"{stem}{int(first) + lane}"


def _phantom(rig: Rig, source: Source, switched: str | None) -> str:
    need = need_of(rig, source)
    if need in {"must", "never"}:
        return str(need)
    return "on" if switched == "on" else ""


def _unplaced(rig: Rig, edition: Edition) -> Iterator[Mapping[str, str]]:
    """Sources without a channel: they must not vanish from the list of everything."""
    for source in PatchLists(rig).without_channel:
        row = rig.rows.get(source.id)
        for name in source.lane_names:
            yield {
                "source": name,
                "player": naming.person(rig, source.player),
                "microphone": naming.microphone(rig, source, edition),
                "socket": words.place(rig, str(row.plug), edition.language)
                if row and row.plug
                else "",
                "stand": source.stand,
            }
