"""Writing a rig so that a crash, a full disk or a second writer never costs the band its work.

A file is replaced in one step, after its new content is on the disk. Before that, what stands
there now (perhaps edited by hand) is kept in the history; after it, the new content is.
"""

import os
import stat
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from rigproof.rig import Rig
from rigproof.rig.measured import Kept
from rigproof.rig.where import RigError, RigErrors, Where
from rigproof.rigfile import history, library, migrate, yaml12
from rigproof.rigfile.edit import Edit, apply
from rigproof.rigfile.files import file_bytes
from rigproof.rigfile.history import HIDDEN, Clock, Version, digest, now
from rigproof.rigfile.load import RIG_FILE, parse, rig_path
from rigproof.rigfile.measured import FOLDER, json_text

LOCK_WAIT_S = 10.0
# Virus scanners and sync programs hold a file for a moment; Windows then refuses to replace it.
REPLACE_TRIES = 8


def edit_rig(
    path: Path,
    edits: Sequence[Edit],
    note: str,
    *,
    seen: str = "",
    clock: Clock = now,
) -> Version:
    """Make edits to a rig on disk; returns the version that the new content got.

    `seen` is the digest of the text that the edits were thought out for, where they were: a file
    that says something else by now is left alone.

    Raises:
        RigErrors: the rig would be faulty, has changed meanwhile, or cannot be written; in each
            case the files are as they were.
    """
    file = rig_path(path)
    with locked(file.parent):
        for torn in file.parent.glob(f".{file.name}.*.new"):  # a crash left it half written
            torn.unlink(missing_ok=True)
        raw = _read(file)
        if seen and digest(raw) != seen:
            raise _changed(file)
        text = apply(migrate.to_current(_text(raw, file), migrate.RIG_STEPS), edits, file.name)
        new = text.encode("utf-8")
        _sound(new, file)
        history.keep(file.parent, file.name, "found on disk", clock)
        history.store(file.parent, new)
        if _read(file) != raw:
            raise _changed(file)
        if new != raw:
            replace(file, new)
        return history.keep(file.parent, file.name, note, clock)


def restore(folder: Path, number: int, *, clock: Clock = now) -> Version:
    """Bring an earlier version back as a new one; what stands there now is kept first.

    Raises:
        RigErrors: no such version, its content is damaged, or the files cannot be written.
    """
    # The rig file itself may be what was lost.
    file = folder / RIG_FILE if folder.is_dir() else folder
    folder = file.parent
    with locked(folder):
        content = history.contents(folder, number)
        history.keep(folder, file.name, "found on disk", clock)
        for name in history.versioned(folder, file.name):
            if name not in content and name.startswith("gear/"):
                (folder / name).unlink()  # kept a moment ago; left here it would change the rig
        # The rig last: until it is there, its old text still stands.
        for name in sorted(content, key=lambda n: n == file.name):
            target = folder / name
            target.parent.mkdir(exist_ok=True)
            if not target.exists() or target.read_bytes() != content[name]:
                replace(target, content[name])
        return history.keep(folder, file.name, f"restored version {number}", clock)


def keep_measured(folder: Path, kept: Kept) -> Path:
    """Write a measurement into the rig's folder, beside those of earlier days; the file.

    Raises:
        RigErrors: it cannot be written; nothing is left half done.
    """
    place = folder / FOLDER
    with locked(folder):
        try:
            place.mkdir(exist_ok=True)
        except OSError as error:
            raise _cannot(place, "written", error) from error
        path = place / f"{kept.kind}-{kept.date}.json"
        number = 2
        while path.exists():
            path = place / f"{kept.kind}-{kept.date}-{number}.json"
            number += 1
        replace(path, json_text(kept).encode("ascii"))
    return path


def _sound(raw: bytes, file: Path) -> Rig:
    types, faults = library.own_types(file.parent)
    return parse(raw, file.name, types, faults, str(file.parent))


def _read(file: Path) -> bytes:
    raw, unread = file_bytes(file, file.name)
    if unread:
        raise RigErrors(unread)
    return raw


def _text(raw: bytes, file: Path) -> str:
    _, faults = yaml12.read(raw, file.name)
    if faults:
        raise RigErrors(faults)
    return raw.decode("utf-8")  # with its byte order mark, which the edits keep


def _changed(file: Path) -> RigErrors:
    return RigErrors(
        [
            RigError(
                at=Where(str(file)),
                says="the file was changed by something else since it was read.",
                fix="Nothing was written. Read it again, then repeat the change.",
            )
        ]
    )


def _cannot(file: Path, what: str, error: OSError) -> RigErrors:
    why = error.strerror or str(error)
    return RigErrors(
        [
            RigError(
                at=Where(str(file)),
                says=f"cannot be {what}: {why}.",
                fix="Check the disk's space, its permissions, and which program has it open.",
            )
        ]
    )


def replace(path: Path, raw: bytes) -> None:
    """Give a file new content in one step: a reader sees the old or the new, never half of it.

    Raises:
        RigErrors: it cannot be written; the old content stands.
    """
    target = Path(os.path.realpath(path))  # a link stays a link
    handle, name = -1, ""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".new", dir=target.parent)
        with os.fdopen(handle, "wb") as temporary:
            temporary.write(raw)
            temporary.flush()
            os.fsync(temporary.fileno())
        mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o666 & ~_umask()
        os.chmod(name, mode)  # noqa: PTH101 (beside mkstemp, which speaks in strings)
        _replace_patiently(lambda: os.replace(name, target))  # noqa: PTH105
    except OSError as error:
        if name:
            with suppress(OSError):
                Path(name).unlink()
        raise _cannot(path, "written", error) from error
    _sync_folder(target.parent)


def _replace_patiently(
    attempt: Callable[[], None], sleep: Callable[[float], None] = time.sleep
) -> None:
    for trial in range(REPLACE_TRIES):
        try:
            attempt()
            return
        except PermissionError as error:
            # 5 access denied, 32 sharing violation, 33 lock violation (from memory).
            if getattr(error, "winerror", None) not in (5, 32, 33) or trial == REPLACE_TRIES - 1:
                raise
            sleep(0.02 * 2**trial)


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the rename itself last through a power cut, where the system can (not on Windows)."""
    if sys.platform == "win32":
        return
    with suppress(OSError):  # some network disks refuse; the content is down already
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def locked(folder: Path, *, wait_s: float = LOCK_WAIT_S) -> Iterator[None]:
    """One writer at a time in a rig's folder. The lock dies with its process, never later.

    Raises:
        RigErrors: another writer kept it for too long, or the folder cannot be written in.
    """
    path = folder / HIDDEN / "lock"
    try:
        path.parent.mkdir(exist_ok=True)
        lock = path.open("a+b")
    except OSError as error:
        raise _cannot(folder, "written", error) from error
    with lock:
        until = time.monotonic() + wait_s
        while not _take(lock.fileno()):
            if time.monotonic() > until:
                says = "another program is writing this rig."
                fix = "Wait for it or close it, then try again. Nothing was written."
                raise RigErrors([RigError(at=Where(str(folder)), says=says, fix=fix)])
            time.sleep(0.02)
        yield  # closing the file gives the lock back


def _take(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(handle, 0, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
