"""The input list: every channel with all that belongs to it, in the columns engineers expect."""

from collections.abc import Iterator, Mapping

from rigproof.checks.rule import View
from rigproof.patch import ChannelRow, PatchLists
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.showbook import naming
from rigproof.signal import words
from rigproof.signal.phantom import need_of

Row = dict[str, object]


def page(usual: View, shows: tuple[View, ...]) -> dict[str, object]:
    """The list of the usual rig, and under it what each differing show changes."""
    rows = _rows(usual)
    known = {_identity(row): row for row in rows}
    changes = []
    for view in shows:
        theirs = _rows(view)
        new = [row for row in theirs if known.get(_identity(row)) != row]
        gone = {_identity(row) for row in rows} - {_identity(row) for row in theirs}
        changes.append(
            {
                "show": show_name(view),
                "rows": new,
                "gone": [
                    f"{row['number']} {row['source']}"
                    for row in rows
                    if _identity(row) in gone and not row["held"]
                ],
                "note": view.show.note if view.show else "",
            }
        )
    return {
        "rows": rows,
        "changes": [change for change in changes if change["rows"] or change["gone"]],
        "outside": _outside(usual),
    }


def show_name(view: View) -> str:
    """A show by its date, its name and where it is."""
    show = view.show
    if show is None:
        return "every night"
    venue = view.rig.venues[show.venue].name
    return f"{show.date}, {show.name}, {venue}" if show.name else f"{show.date}, {venue}"


def _identity(row: Row) -> tuple[object, object]:
    return row["number"], row["source"]


def _rows(view: View) -> list[Row]:
    lists = PatchLists(view.rig)
    heard = _in_ears(view)
    return [_row(view.rig, channel, heard) for channel in lists.channels]


def _in_ears(view: View) -> frozenset[str]:
    """The sources that somebody on stage hears: the lines that engineers print in bold."""
    arriving = view.arriving
    return frozenset(
        source
        for person in view.rig.people
        for source in arriving.at(view.graph.of_listener(person))
    )


def _row(rig: Rig, channel: ChannelRow, heard: frozenset[str]) -> Row:
    source, row = channel.source, channel.row
    if source is None:
        return {
            "number": channel.number,
            "held": True,
            "source": "kept free" if channel.held else "free",
            "note": channel.held,
        }
    return {
        "number": channel.number,
        "held": False,
        "bold": source.id in heard,
        "phantom": _phantom(rig, source, row.phantom if row else None),
        "line": _line_word(row.line if row else "", channel.lane, source.lanes),
        "socket": words.place(rig, channel.socket) if channel.socket else "",
        "source": channel.name,
        "player": naming.player(rig, source),
        "microphone": naming.microphone(rig, source),
        "alternative": source.alternative,
        "stand": source.stand,
        "note": _note(source, row.note if row else "") if channel.lane == 0 else "",
        "first": channel.first_of_pair,
    }


def _note(source: Source, row: str) -> str:
    """What else to know; once for a pair."""
    return " · ".join(note for note in (source.note, row) if note)


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
    if need == "must":
        return "48 V"
    if need == "never":
        return "never"
    return "on" if switched == "on" else ""


def _outside(view: View) -> list[Mapping[str, str]]:
    """Sources without a channel: they must not vanish from the list of everything."""
    return list(_unplaced(view.rig))


def _unplaced(rig: Rig) -> Iterator[Mapping[str, str]]:
    for source in PatchLists(rig).without_channel:
        row = rig.rows.get(source.id)
        for name in source.lane_names:
            yield {
                "source": name,
                "player": naming.person(rig, source.player),
                "microphone": naming.microphone(rig, source),
                "socket": words.place(rig, str(row.plug)) if row and row.plug else "",
                "stand": source.stand,
            }
