"""The files in `measured` beside a rig, which are read with it.

Each is `proof-DATE.json`, `take-DATE.json` or `tails-DATE.json`, with a number behind the date from
the second of a day on. Whatever else lies in that folder, recordings say, is left alone.
"""

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec

from rigproof.rig.entry import PLACE_KEY, Spot
from rigproof.rig.measured import MEASURED_FORM, Kept
from rigproof.rig.where import RigError, Where
from rigproof.rigfile import yaml12
from rigproof.rigfile.files import file_bytes
from rigproof.rigfile.form import build

FOLDER = "measured"
_NAMES = ("proof-*.json", "tails-*.json", "take-*.json")


def measured_texts(folder: Path) -> Iterator[tuple[str, bytes, list[RigError]]]:
    """The files of measurements beside a rig by name, with what keeps one from being read."""
    place = folder / FOLDER
    if not place.is_dir():
        return
    for path in sorted(found for name in _NAMES for found in place.glob(name)):
        name = f"{FOLDER}/{path.name}"
        yield name, *file_bytes(path, name)


def measurements(
    texts: Iterable[tuple[str, bytes, list[RigError]]],
) -> tuple[tuple[Kept, ...], list[RigError]]:
    """What the files hold, the oldest first, and everything that is wrong with them."""
    found: list[Kept] = []
    faults: list[RigError] = []
    for name, raw, unread in texts:
        if unread:
            faults += unread
            continue
        try:
            one = msgspec.json.decode(raw, type=Kept)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            faults += [_with_way_out(fault, name) for fault in _faults(raw, name, error)]
            continue
        found.append(msgspec.structs.replace(one, where=Where(name)))
    return tuple(sorted(found, key=_age)), faults


def _age(kept: Kept) -> tuple[str, int, str]:
    """By day, and of one day by the number behind it; a proof before a take."""
    tail = Path(kept.where.file).stem.removeprefix(f"{kept.kind}-{kept.date}").lstrip("-")
    return kept.date, int(tail) if tail.isascii() and tail.isdigit() else 1, kept.kind


def _faults(raw: bytes, name: str, error: Exception) -> list[RigError]:
    """What is wrong with a file that does not fit: asked of the reader that knows places."""
    at = Where(name)
    data, faults = yaml12.read(raw, name)
    if isinstance(data, Spot) and data.get("form", MEASURED_FORM) != MEASURED_FORM:
        says = f'"form" is not {MEASURED_FORM}, the only one that this Rigproof reads.'
        return [RigError(at=data.where.of("form"), says=says)]
    if data is not None and not faults:
        _, faults = build(data, Kept, at)
    return faults or [RigError(at=at, says=f"this is no JSON: {error}.")]


def _with_way_out(fault: RigError, name: str) -> RigError:
    way_out = f"Bring {name} back as it was, or move it away: then the figures it replaced stand."
    return RigError(at=fault.at, says=fault.says, fix=way_out)


def json_text(kept: Kept) -> str:
    """A measurement as its file has it; what was not measured is left out."""
    return json.dumps(_bare(msgspec.to_builtins(kept, enc_hook=lambda _: None)), indent=1) + "\n"


def _bare(value: Any) -> Any:
    if isinstance(value, dict):
        return {
            key: _bare(part) for key, part in value.items() if key != PLACE_KEY and part is not None
        }
    return [_bare(part) for part in value] if isinstance(value, list | tuple) else value
