"""Rows that belong together, and rows that mean several sources."""

from collections.abc import Iterator, Sequence

import msgspec

from rigproof.rigfile.intake.naming import Said
from rigproof.rigfile.intake.sources import Free, Input


def joined(
    rows: Sequence[tuple[Input, Said]],
    free: Sequence[Free],
    remarks: list[str],
    *,
    one_a_row: bool,
) -> Iterator[Input]:
    """Left and right in two rows become one source; a row that means several becomes several."""
    taken = {
        number
        for one, _ in rows
        if one.channels
        for number in range(one.channels[0], one.channels[1] + 1)
    }
    taken |= {n for one in free for n in range(one.channels[0], one.channels[1] + 1)}
    place = 0
    while place < len(rows):
        one, said = rows[place]
        following = rows[place + 1] if place + 1 < len(rows) else None
        if following is not None and said.begins(following[1]) and _next(one, following[0]):
            yield _pair(one, following[0], said)
            place += 2
            continue
        place += 1
        if said.side in ("first", "second") and not one_a_row:
            # Alone it is no pair: the name as it stands.
            yield msgspec.structs.replace(one, name=said.whole, stereo=False)
        elif said.side in ("first", "second"):
            way = "stage-right-left" if said.way == "stage" else "left-right"
            yield msgspec.structs.replace(one, stereo=True, pair=way)
        elif one.stereo and one.channels and one.channels[0] == one.channels[1]:
            number = one.channels[0]
            if number + 1 not in taken and number < 9_999:
                taken.add(number + 1)
                yield msgspec.structs.replace(one, channels=(number, number + 1))
            else:
                remarks.append(
                    f"{one.name} (row {one.row}) is a pair with one number, {number}; the next "
                    "belongs to another"
                )
                yield one
        elif said.several and not one.stereo:
            yield from _several(one, said, taken, remarks)
        elif one.channels and one.channels[1] == one.channels[0] + 1 and not one_a_row:
            yield msgspec.structs.replace(one, stereo=True)  # 7-8 beside one name: a pair
        else:
            yield one


def _next(one: Input, other: Input) -> bool:
    """Whether two rows can be the two sides of one source: numbers in a row, the same hands."""
    if one.player != other.player:
        return False
    if one.channels is None or other.channels is None:
        return one.channels is other.channels
    if one.channels == other.channels:  # one cell with both numbers, merged beside the two rows
        return one.channels[1] == one.channels[0] + 1
    return one.channels[0] == one.channels[1] and other.channels == (
        one.channels[0] + 1,
        one.channels[0] + 1,
    )


def _pair(one: Input, other: Input, said: Said) -> Input:
    """The two sides as one; what only the second says is not lost."""
    notes = [*one.notes, *(note for note in other.notes if note not in one.notes)]
    parts: dict[str, object] = {}
    for field in ("mic", "stand", "line", "label", "alternative", "whose"):
        mine, theirs = getattr(one, field), getattr(other, field)
        if not mine:
            parts[field] = theirs
        elif theirs and theirs != mine and field == "line":
            parts[field] = f"{mine}, {theirs}"
        elif theirs and theirs != mine:
            notes.append(f"{field} of the second: {theirs}")
    order = ("must", "on", "never", "none", None)
    channels = (one.channels[0], one.channels[0] + 1) if one.channels else None
    return msgspec.structs.replace(
        one,
        stereo=True,
        channels=channels,
        pair="stage-right-left" if said.way == "stage" else "left-right",
        phantom=min(one.phantom, other.phantom, key=order.index),
        notes=tuple(notes),
        **parts,
    )


def _several(one: Input, said: Said, taken: set[int], remarks: list[str]) -> Iterator[Input]:
    """A row such as "Vox 1-3": as many sources, where there are as many numbers for them."""
    count = len(said.several)
    if one.channels is None:
        yield one
        return
    first, last = one.channels
    if last == first:
        more = range(first + 1, first + count)
        if not taken.isdisjoint(more) or first + count > 10_000:
            remarks.append(
                f"{one.name} (row {one.row}) names {count} and has one number, {first}; "
                "it was left as one source"
            )
            yield one
            return
        taken.update(more)
        last = first + count - 1
    if last - first + 1 != count:
        remarks.append(
            f"{one.name} (row {one.row}) names {count} and has {last - first + 1} numbers; "
            "it was left as one source"
        )
        yield one
        return
    for number, name in enumerate(said.several):
        yield msgspec.structs.replace(one, name=name, channels=(first + number, first + number))
