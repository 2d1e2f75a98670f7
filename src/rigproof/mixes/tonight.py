"""A first mix for one show: what would change the rig changes that show instead."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rigproof.rigfile import yaml12
from rigproof.rigfile.edit import Add, Edit, Set
from rigproof.rigfile.tree import plain


def for_show(edits: Sequence[Edit], text: str, show: str) -> tuple[Edit, ...]:
    """The same gains and mixes, stated in a show of the file and nowhere else.

    A mix or a row of the patch that the show does not state yet is stated there whole, as it stands
    in the rig; that of a show counts instead of it.
    """
    node = yaml12.compose(text)
    data: Mapping[str, Any] = plain(node) if node is not None else {}
    (night,) = (one for one in data["shows"] if one["id"] == show)
    return tuple(_Night(data, night).edits(edits))


class _Night:
    def __init__(self, data: Mapping[str, Any], night: Mapping[str, Any]) -> None:
        self.data, self.night = data, night
        self.path = f"shows/{night['id']}"
        self.new: dict[str, list[Any]] = {"patch": [], "mixes": []}

    def edits(self, edits: Sequence[Edit]) -> Iterator[Edit]:
        for edit in edits:
            if isinstance(edit, Set):
                part, _, rest = edit.path.partition("/")
                name, _, key = rest.partition("/")
                yield from self._stated(part, self._entry(part, name), {key: edit.value})
            elif isinstance(edit, Add) and isinstance(edit.value, dict):
                yield from self._stated(edit.path, edit.value, {})
        for part, entries in self.new.items():
            if entries and part in self.night:
                yield from (Add(f"{self.path}/{part}", entry) for entry in entries)
            elif entries:
                yield Set(f"{self.path}/{part}", entries)

    def _entry(self, part: str, name: str) -> dict[str, Any]:
        """An entry of the rig, by its identifier or its number in the list."""
        entries = self.data[part]
        if name.startswith("#"):
            return dict(entries[int(name[1:]) - 1])
        return dict(next(one for one in entries if one["id"] == name))

    def _stated(self, part: str, entry: dict[str, Any], changed: dict[str, Any]) -> Iterator[Edit]:
        """An entry with what is changed in it, where the show states it or newly there."""
        by = "source" if part == "patch" else "id"
        known = self.night.get(part, ())
        place = next((n for n, one in enumerate(known, 1) if one[by] == entry[by]), None)
        if place is None:
            self.new[part].append({**entry, **changed})
            return
        told = changed or {key: entry[key] for key in _TURNED if key in entry}
        for key, value in told.items():
            yield Set(f"{self.path}/{part}/#{place}/{key}", value)


_TURNED = ("gain_db", "sends")
