"""Rigs of any size: copies of one rig side by side on one very large mixer, as files.

The first copy keeps its names, so shows and venues stay what they are; the others get a number
behind each name. Sockets and channels of the mixer, and the house's lines, move on by one rig's
worth for each copy. Boxes of later copies stand outside the case, which holds only one rig.
"""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rigproof.rig.entry import PLACE_KEY
from rigproof.rig.ref import HOUSE
from rigproof.rigfile import yaml12

# Keys whose values are names or sockets of things that are copied.
_NAMING = frozenset(
    {
        *("id", "player", "from", "to", "back", "plug", "wedge", "source", "sources", "sockets"),
        *("port", "takes", "listeners", "on", "gear", "outlet", "follows", "inside", "out"),
        "with_person",
    }
)
_COPIED = (
    *("people", "sources", "groups", "gear", "leads", "patch", "holds", "routes", "mixes"),
    *("feeds", "streams", "clocks", "radio", "talk"),
)
_IN_CASE = ("unit", "face", "half", "inside", "rear_support")
_SOCKET = re.compile(r"^([a-z0-9-]+)\.(.+)$")
_PLAIN = re.compile(r"^[A-Za-z][A-Za-z0-9 ./'-]*$")
_HOUSE_LINES = 80


def many(rig: str, gear: str, n: int) -> tuple[str, str]:
    """The text of a rig with `n` copies of this one, and of the gear types it needs."""
    data, types = _read(rig), _read(gear)
    mixer = data["rig"]["mixer"]
    own = next(box["type"] for box in data["gear"] if box["id"] == mixer)
    type_ = next(t for t in types["types"] if t["id"] == own)
    copies = [_Copy(data, type_, mixer, k).made() for k in range(2, n + 1)]
    for section in _COPIED:
        data[section] = data.get(section, []) + [e for made in copies for e in made[section]]
    data["power"]["feeds"] += [e for made in copies for e in made["power"]]
    for bank in (*type_["ports"], *type_["inside"]["stages"]):
        bank["count"] = bank.get("count", 1) * n
    return _text(data), _text(types)


def write(source: Path, target: Path, n: int) -> Path:
    """A rig folder with `n` copies of the rig in another folder."""
    gear_file = next((source / "gear").glob("*.yaml"))
    rig, gear = many((source / "rig.yaml").read_text("utf-8"), gear_file.read_text("utf-8"), n)
    (target / "gear").mkdir(parents=True)
    (target / "rig.yaml").write_text(rig, "utf-8")
    (target / "gear" / gear_file.name).write_text(gear, "utf-8")
    return target


class _Copy:
    """One copy of a rig: what it is called, and where on the mixer and at the house it begins."""

    def __init__(self, data: dict[str, Any], type_: dict[str, Any], mixer: str, k: int) -> None:
        self.data = data
        self.mixer = mixer
        self.k = k
        banks = (*type_["ports"], *type_["inside"]["stages"])
        self.counts = {bank["id"]: bank.get("count", 1) for bank in banks}
        self.buses = [s["id"] for s in type_["inside"]["stages"] if s["kind"] == "bus"]
        self.channels = next(s["count"] for s in type_["inside"]["stages"] if s["id"] == "ch")
        self.names = {
            entry["id"] for section in _COPIED for entry in data.get(section, []) if "id" in entry
        } - {mixer}

    def made(self) -> dict[str, list[Any]]:
        found = {
            section: [self.entry(e) for e in self.data.get(section, []) if self.copied(e)]
            for section in _COPIED
        }
        found["power"] = [self.entry(e) for e in self.data["power"]["feeds"] if self.copied(e)]
        return found

    def copied(self, entry: Mapping[str, Any]) -> bool:
        return entry.get("id") != self.mixer and entry.get("gear") != self.mixer

    def entry(self, entry: Mapping[str, Any]) -> dict[str, Any]:
        new = {key: self.value(key, value, entry) for key, value in entry.items()}
        if "type" in new and any(key in new for key in _IN_CASE):
            new = {key: value for key, value in new.items() if key not in _IN_CASE}
            new["place"] = "stage"
        if "address" in new:
            host = new["address"].rpartition(".")[2]
            new["address"] = f"10.73.{self.k}.{host}"
        if "frequency_mhz" in new:
            new["frequency_mhz"] = round(
                470 + (new["frequency_mhz"] * 10 + 37 * self.k) % 2240 / 10, 1
            )
        return new

    def value(self, key: str, value: Any, entry: Mapping[str, Any]) -> Any:
        if isinstance(value, dict):
            return self.entry(value)
        if isinstance(value, list):
            return [self.value(key, part, entry) for part in value]
        if key in {"channel", "channels"}:
            return _moved(value, (self.k - 1) * self.channels)
        if key == "lines":
            return _moved(value, (self.k - 1) * _HOUSE_LINES)
        if key == "bus":
            bank = entry.get("bank", self.buses[0])
            return _moved(value, (self.k - 1) * self.counts[bank])
        return self.name(value) if key in _NAMING and isinstance(value, str) else value

    def name(self, value: str) -> str:
        if value in self.names:
            return f"{value}-x{self.k}"
        socket = _SOCKET.match(value)
        if socket is None:
            return value
        gear, rest = socket.groups()
        if gear == HOUSE:
            return f"{HOUSE}.{_moved(rest, (self.k - 1) * _HOUSE_LINES)}"
        if gear == self.mixer:
            return f"{gear}.{self.on_mixer(rest)}"
        return f"{gear}-x{self.k}.{rest}" if gear in self.names else value

    def on_mixer(self, rest: str) -> str:
        bank, _, numbers = rest.partition(".")
        count = self.counts[bank]
        if count == 1:
            return f"{bank}.{self.k}" + (f".{numbers}" if numbers else "")
        if not numbers:
            return f"{bank}.{(self.k - 1) * count + 1}-{self.k * count}"
        return f"{bank}.{_moved(numbers, (self.k - 1) * count)}"


def _moved(numbers: object, by: int) -> object:
    if isinstance(numbers, int):
        return numbers + by
    low, _, high = str(numbers).partition("-")
    return f"{int(low) + by}-{int(high) + by}" if high else f"{int(low) + by}"


def _read(text: str) -> dict[str, Any]:
    data = yaml12.read(text.encode(), "rig.yaml")[0]
    plain = _plain(data)
    assert isinstance(plain, dict)
    return plain


def _plain(value: object) -> Any:
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items() if key != PLACE_KEY}
    return [_plain(part) for part in value] if isinstance(value, list) else value


def _text(data: Mapping[str, Any]) -> str:
    """A file as people write it: sections, and in each a line for every entry."""
    lines: list[str] = []
    for key, value in data.items():
        if isinstance(value, list):
            lines += [f"{key}:", *(f"  - {_flow(entry)}" for entry in value)]
        else:
            lines.append(f"{key}: {_flow(value)}")
    return "\n".join(lines) + "\n"


def _flow(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    if isinstance(value, str) and _PLAIN.match(value) and value not in {"true", "false", "null"}:
        return value
    return json.dumps(value, ensure_ascii=False)
