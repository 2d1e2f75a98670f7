"""Bytes of a file that may be anything: huge, locked, no file at all."""

from pathlib import Path

from rigproof.rig.where import RigError, Where
from rigproof.rigfile.yaml12 import LARGEST_BYTES


def file_bytes(path: Path, name: str) -> tuple[bytes, list[RigError]]:
    """What a file holds, or the fault that keeps it from being read."""
    at = Where(name)
    try:
        if not path.is_file():  # a pipe would be waited for without end
            fault = RigError(at=at, says="this is not a file.", fix="Move it out of the folder.")
            return b"", [fault]
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        says = f"the file cannot be read: {(error.strerror or 'no reason given').lower()}."
        fix = "Check its permissions, and whether the disk is there."
        return b"", [RigError(at=at, says=says, fix=fix)]
    if len(raw) > LARGEST_BYTES:
        size = path.stat().st_size
        says = f"the file has {size / 1e6:.0f} MB; a rig has at most {LARGEST_BYTES / 1e6:.0f} MB."
        return b"", [RigError(at=at, says=says, fix="Is this the right file?")]
    return raw, []
