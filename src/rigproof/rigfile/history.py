"""Every earlier version of a rig, kept beside it in `.rigproof/history`.

Content is stored once, compressed, under its own digest; an index that only ever grows has one
line for each version. A line that a power cut tore, or a file that a disk lost, costs what it held
and nothing else, and nothing here is needed to read the rig as it stands.
"""

import hashlib
import json
import os
import tempfile
import zlib
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeAlias

import msgspec

from rigproof.rig.where import RigError, RigErrors, Where

HIDDEN = ".rigproof"
INDEX = "index.jsonl"
# Recordings lie in `measured` too; they are proof, not description, and would fill the disk.
LARGEST_KEPT = 4_000_000

Clock: TypeAlias = Callable[[], datetime]


def now() -> datetime:
    """The time of day in the one zone in which versions sort."""
    return datetime.now(UTC)


class Version(msgspec.Struct, frozen=True):
    """One state of a rig: its number, when it was kept, why, and the digest of each file."""

    number: int
    time: str  # ISO 8601, UTC
    note: str
    files: Mapping[str, str] = msgspec.field(default_factory=dict)


def digest(raw: bytes) -> str:
    """The name under which content is kept."""
    return hashlib.sha256(raw).hexdigest()


def _folder(rig: Path) -> Path:
    return rig / HIDDEN / "history"


def versions(rig: Path) -> tuple[tuple[Version, ...], tuple[RigError, ...]]:
    """All versions that can be listed, oldest first, and what is damaged in the list."""
    index = _folder(rig) / INDEX
    try:
        lines = index.read_bytes().split(b"\n")
    except FileNotFoundError:
        return (), ()
    except OSError as error:
        says = f"the history cannot be read: {error.strerror}."
        return (), (
            RigError(at=Where(str(index)), says=says, fix="The rig itself is not touched."),
        )
    found: dict[int, Version] = {}
    faults: list[RigError] = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        version = _version(line)
        if version is None or version.number in found:
            says = "this line of the history is damaged; the version it listed is missing here."
            fix = "The other versions and the rig itself are not touched."
            faults.append(RigError(at=Where(str(index), number, 1), says=says, fix=fix))
        else:
            found[version.number] = version
    return tuple(found[number] for number in sorted(found)), tuple(faults)


def _version(line: bytes) -> Version | None:
    """A line of the index, if it is whole: it ends in a checksum of itself."""
    try:
        entry: dict[str, Any] = json.loads(line)
        check = entry.pop("check")
        whole = check == _check(entry)
        version = Version(entry["version"], entry["time"], entry["note"], dict(entry["files"]))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    plain = type(entry["version"]) is int and all(map(_is_inside, version.files))
    return version if whole and plain else None


def _check(entry: Mapping[str, Any]) -> str:
    return digest(json.dumps(entry, sort_keys=True).encode())[:12]


def _is_inside(name: str) -> bool:
    """Whether a name is one that `versioned` gives: a restored file never lands elsewhere."""
    parts = name.split("/")
    return (
        len(parts) <= 2
        and all(part not in ("", ".", "..") and not set(part) & set("\\:\0") for part in parts)
        and (len(parts) == 1 or parts[0] in ("gear", "measured"))
    )


def versioned(rig: Path, rig_name: str) -> list[str]:
    """The files of a rig that a version holds."""
    names = [rig_name] if (rig / rig_name).is_file() else []
    for inner, pattern in (("gear", "*.yaml"), ("measured", "*")):
        for path in sorted((rig / inner).glob(pattern)):
            if path.is_file() and path.stat().st_size <= LARGEST_KEPT:
                names.append(f"{inner}/{path.name}")
    return names


def keep(rig: Path, rig_name: str, note: str, clock: Clock = now) -> Version:
    """Keep the rig as it stands; if that is the last version already, that version.

    Raises:
        RigErrors: the history cannot be written.
    """
    try:
        files = {name: store(rig, (rig / name).read_bytes()) for name in versioned(rig, rig_name)}
        known, _ = versions(rig)
        if known and known[-1].files == files:
            return known[-1]
        number = known[-1].number + 1 if known else 1
        version = Version(number, f"{clock():%Y-%m-%dT%H:%M:%SZ}", note, files)
        _append(_folder(rig) / INDEX, version)
    except OSError as error:
        raise _unwritable(rig, error) from error
    return version


def _append(index: Path, version: Version) -> None:
    entry: dict[str, Any] = {
        "version": version.number,
        "time": version.time,
        "note": version.note,
        "files": dict(version.files),
    }
    line = json.dumps(entry | {"check": _check(entry)}).encode() + b"\n"
    with index.open("a+b") as file:
        if file.tell():
            file.seek(-1, os.SEEK_END)
            if file.read(1) != b"\n":
                line = b"\n" + line  # a torn last line stays alone
        file.write(line)
        file.flush()
        os.fsync(file.fileno())


def store(rig: Path, raw: bytes) -> str:
    """Keep some content; returns its digest.

    Raises:
        RigErrors: the disk refuses.
    """
    name = digest(raw)
    path = _folder(rig) / "content" / name[:2] / name[2:]
    try:
        if _stored(path, name) is None:
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(dir=path.parent, suffix=".new")
            with os.fdopen(handle, "wb") as file:
                file.write(zlib.compress(raw))
                file.flush()
                os.fsync(file.fileno())
            os.replace(temporary, path)  # noqa: PTH105 (beside mkstemp, which speaks in strings)
    except OSError as error:
        raise _unwritable(rig, error) from error
    return name


def _stored(path: Path, name: str) -> bytes | None:
    try:
        raw = zlib.decompress(path.read_bytes())
    except (OSError, zlib.error):
        return None
    return raw if digest(raw) == name else None


def _unwritable(rig: Path, error: OSError) -> RigErrors:
    says = f"the history cannot be written: {error.strerror or error}."
    fix = "The rig is as it was. Check the disk's space and the folder's permissions."
    return RigErrors([RigError(at=Where(str(_folder(rig))), says=says, fix=fix)])


def version(rig: Path, number: int) -> Version:
    """One version by its number.

    Raises:
        RigErrors: there is none.
    """
    known, faults = versions(rig)
    for one in known:
        if one.number == number:
            return one
    says = f"there is no version {number}."
    numbers = [v.number for v in known]
    fix = (
        f"There are versions {numbers[0]} to {numbers[-1]}." if numbers else "Nothing is kept yet."
    )
    raise RigErrors([RigError(at=Where(str(_folder(rig))), says=says, fix=fix), *faults])


def show(rig: Path, number: int, file: str = "rig.yaml") -> bytes:
    """What a file of the rig said in a version.

    Raises:
        RigErrors: no such version, no such file in it, or its content is damaged.
    """
    one = version(rig, number)
    if file not in one.files:
        says = f'version {number} has no file "{file}".'
        fix = f"It has: {', '.join(one.files)}."
        raise RigErrors([RigError(at=Where(str(_folder(rig))), says=says, fix=fix)])
    return _content(rig, one, file)


def contents(rig: Path, number: int) -> dict[str, bytes]:
    """Every file of a version.

    Raises:
        RigErrors: no such version, or a file of it is damaged.
    """
    one = version(rig, number)
    return {file: _content(rig, one, file) for file in one.files}


def _content(rig: Path, one: Version, file: str) -> bytes:
    name = one.files[file]
    path = _folder(rig) / "content" / name[:2] / name[2:]
    raw = _stored(path, name)
    if raw is None:
        says = f'"{file}" of version {one.number} is lost or damaged.'
        fix = "Other versions are not touched; bring one of them back, or a copy of this folder."
        raise RigErrors([RigError(at=Where(str(path)), says=says, fix=fix)])
    return raw
