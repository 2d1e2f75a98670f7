"""Nothing that a band wrote is ever lost: not to a crash, a full disk, or a second writer."""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from rigproof.rig import RigErrors
from rigproof.rigfile import history, migrate, write
from rigproof.rigfile.edit import Add, Edit, Move, Remove, Rename, Set, apply
from rigproof.rigfile.history import Clock, digest, show, versions
from rigproof.rigfile.load import load
from rigproof.rigfile.write import edit_rig, replace, restore
from tests.rigfile.sound import GEAR, RIG, rig_folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return rig_folder(tmp_path / "rig")


def ticking() -> Clock:
    def times() -> Iterator[datetime]:
        at = datetime(2026, 3, 1, 20, tzinfo=UTC)
        while True:
            yield at
            at += timedelta(minutes=1)

    ticks = times()
    return lambda: next(ticks)


def leftovers(folder: Path) -> list[str]:
    return [str(path) for path in folder.rglob("*.new")]


def test_an_edit_keeps_what_was_and_what_is(folder: Path) -> None:
    clock = ticking()
    version = edit_rig(folder, [Set("rig/name", "New")], "renamed", clock=clock)
    assert (version.number, version.note, version.time) == (2, "renamed", "2026-03-01T20:01:00Z")
    assert show(folder, 1) == RIG.encode()
    assert show(folder, 1, "gear/own.yaml") == GEAR.encode()
    assert show(folder, 2) == (folder / "rig.yaml").read_bytes()
    assert load(folder).about.name == "New"
    assert leftovers(folder) == []
    # The present content is the last version already: one more version, not two.
    assert edit_rig(folder, [Set("rig/name", "Newer")], "again", clock=clock).number == 3


def test_an_edit_by_hand_is_kept_too(folder: Path) -> None:
    edit_rig(folder, [Set("rig/name", "New")], "renamed")
    by_hand = RIG.replace("Tin Lantern", "By Hand").encode()
    (folder / "rig.yaml").write_bytes(by_hand)
    edit_rig(folder, [Set("rig/band", "B")], "band")
    assert [v.note for v in versions(folder)[0]] == [
        "found on disk", "renamed", "found on disk", "band",
    ]  # fmt: skip
    assert show(folder, 3) == by_hand


def test_restoring_is_a_new_version(folder: Path) -> None:
    (folder / "measured").mkdir()
    (folder / "measured" / "a.json").write_text("{}")
    edit_rig(folder, [Set("rig/name", "New")], "renamed")
    (folder / "gear" / "later.yaml").write_text("format: 1\ntypes: []\n")
    (folder / "measured" / "a.json").write_text("{1}")
    version = restore(folder, 1)
    assert (folder / "rig.yaml").read_bytes() == RIG.encode()
    assert (folder / "measured" / "a.json").read_text() == "{}"
    assert not (folder / "gear" / "later.yaml").exists()
    assert version.note == "restored version 1"
    assert version.files == versions(folder)[0][0].files
    # Nothing is lost by going back: what stood there a moment ago is a version.
    assert show(folder, version.number - 1, "gear/later.yaml").startswith(b"format")
    assert restore(folder, version.number - 1).number == version.number + 1
    assert (folder / "gear" / "later.yaml").exists()


@pytest.mark.parametrize(
    "edit",
    [
        Set("sources/kick-in/player", "zed"),
        Set("patch/kick-in/plug", "desk.in.99"),
        Remove("people/ann"),
        Set("patch/kick-in/channel", "many"),
        Set("people/ann/size", 3),
        Add("people", {"id": "ann", "name": "Another"}),
        Set("rig/name", "a\x07b"),
        Set("format", 2),
    ],
)
def test_a_fault_changes_nothing(folder: Path, edit: Set | Add | Remove) -> None:
    with pytest.raises(RigErrors) as caught:
        edit_rig(folder, [Set("rig/band", "B"), edit], "bad")
    assert "rig.yaml:" in str(caught.value)
    assert (folder / "rig.yaml").read_bytes() == RIG.encode()
    assert versions(folder)[0] == ()


def test_the_file_that_was_read_must_be_the_one_that_is_there(folder: Path) -> None:
    seen = digest(RIG.encode())
    edit_rig(folder, [Set("rig/band", "B")], "ok", seen=seen)
    with pytest.raises(RigErrors, match="changed by something else"):
        edit_rig(folder, [Set("rig/band", "C")], "late", seen=seen)
    assert load(folder).about.band == "B"


def test_byte_order_mark_line_ends_and_mode_stay(tmp_path: Path) -> None:
    folder = rig_folder(tmp_path / "rig", "\ufeff" + RIG.replace("\n", "\r\n").removesuffix("\r\n"))
    file = folder / "rig.yaml"
    if os.name == "posix":
        file.chmod(0o640)
    edit_rig(folder, [Set("rig/band", "B")], "x")
    raw = file.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf# The rig")
    assert raw.count(b"\n") == raw.count(b"\r\n") == RIG.count("\n")
    assert not raw.endswith(b"\n")
    if os.name == "posix":
        assert file.stat().st_mode & 0o777 == 0o640


@pytest.mark.skipif(os.name != "posix", reason="links need rights on this system")
def test_a_link_stays_a_link(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "elsewhere.yaml"
    (folder / "rig.yaml").rename(target)
    (folder / "rig.yaml").symlink_to(target)
    edit_rig(folder, [Set("rig/band", "B")], "x")
    assert (folder / "rig.yaml").is_symlink()
    assert b"band: B" in target.read_bytes()


# The process dies at the n-th call of one of the system's functions that change the disk.
DYING = """
import os, sys
from pathlib import Path
from rigproof.rigfile.edit import Set
from rigproof.rigfile.write import edit_rig
name, at = sys.argv[2], int(sys.argv[3])
real, calls = getattr(os, name), [0]
def dying(*args, **kwargs):
    calls[0] += 1
    if calls[0] == at:
        os._exit(9)
    return real(*args, **kwargs)
setattr(os, name, dying)
edit_rig(Path(sys.argv[1]), [Set("rig/name", "New")], "renamed")
"""


@pytest.mark.parametrize("function", ["replace", "fsync"])
@pytest.mark.parametrize("at", range(1, 7))
def test_dying_at_any_step_leaves_a_whole_rig(folder: Path, function: str, at: int) -> None:
    command = [sys.executable, "-c", DYING, str(folder), function, str(at)]
    code = subprocess.run(command, check=False).returncode
    assert code in (0, 9)
    assert load(folder).about.name in ("Tin Lantern", "New")
    # The next edit goes through, and the first text is still among the versions.
    edit_rig(folder, [Set("rig/band", "B")], "after the crash")
    known, faults = versions(folder)
    assert not faults
    assert RIG.encode() in [show(folder, v.number) for v in known]
    for v in known:
        history.contents(folder, v.number)


def test_dying_reaches_every_step(folder: Path) -> None:
    """The calls counted above exist: with fewer, the test before this one would test nothing."""
    codes = []
    for function, at in [("replace", 4), ("fsync", 6)]:
        fresh = rig_folder(folder.parent / function)
        command = [sys.executable, "-c", DYING, str(fresh), function, str(at)]
        codes.append(subprocess.run(command, check=False).returncode)
    assert codes == [9, 9]


def test_a_full_disk_leaves_the_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RigErrors, match="No space left"):
        replace(folder / "rig.yaml", b"x")
    with pytest.raises(RigErrors, match="No space left"):
        edit_rig(folder, [Set("rig/band", "B")], "x")
    assert (folder / "rig.yaml").read_bytes() == RIG.encode()
    assert list(folder.glob(".rig*.new")) == []


def test_a_file_held_open_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """As Windows answers while a virus scanner reads the file."""
    waits: list[float] = []
    left = [3]

    def attempt() -> None:
        if left[0]:
            left[0] -= 1
            error = PermissionError(13, "in use")
            error.winerror = 32  # type: ignore[attr-defined,unused-ignore]
            raise error

    write._replace_patiently(attempt, waits.append)
    assert len(waits) == 3
    left[0] = 100
    with pytest.raises(PermissionError):
        write._replace_patiently(attempt, waits.append)
    assert sum(waits) < 10


WRITING = """
import sys
from pathlib import Path
from rigproof.rigfile.edit import Add
from rigproof.rigfile.write import edit_rig
for n in range(6):
    entry = {"id": f"p-{sys.argv[2]}-{n}", "name": "x"}
    edit_rig(Path(sys.argv[1]), [Add("people", entry)], f"{sys.argv[2]} {n}")
"""


def test_writers_take_turns(folder: Path) -> None:
    jobs = [subprocess.Popen([sys.executable, "-c", WRITING, str(folder), name]) for name in "abc"]
    # Readers at the same time see a whole rig, always.
    while any(job.poll() is None for job in jobs):
        assert load(folder).file.people[0].id == "ann"
    assert [job.returncode for job in jobs] == [0, 0, 0]
    assert len(load(folder).file.people) == 3 + 18
    known, faults = versions(folder)
    assert [v.number for v in known] == list(range(1, 20))
    assert not faults


def test_a_writer_that_waits_too_long_says_so(folder: Path) -> None:
    with write.locked(folder):
        failed: list[str] = []

        def other() -> None:
            try:
                with write.locked(folder, wait_s=0.1):
                    pass
            except RigErrors as error:
                failed.append(str(error))

        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert "another program is writing" in failed[0]


@pytest.mark.parametrize("cut", [1, 5, 30, 200])
def test_a_torn_last_line_costs_that_line_only(folder: Path, cut: int) -> None:
    for name in ("one", "two", "three"):
        edit_rig(folder, [Set("rig/name", name)], name)
    index = folder / ".rigproof" / "history" / "index.jsonl"
    index.write_bytes(index.read_bytes()[:-cut])
    known, faults = versions(folder)
    assert len(known) == (4 if cut == 1 else 3)
    assert len(faults) == (cut > 1)
    assert load(folder).about.name == "three"
    version = edit_rig(folder, [Set("rig/name", "four")], "four")
    notes = [v.note for v in versions(folder)[0]]
    assert notes[-2:] == (["three", "four"] if cut == 1 else ["found on disk", "four"])
    assert version.number == known[-1].number + (1 if cut == 1 else 2)


def test_a_damaged_store_is_named_and_blocks_nothing(folder: Path) -> None:
    edit_rig(folder, [Set("rig/name", "New")], "renamed")
    store = folder / ".rigproof" / "history"
    lost = digest(RIG.encode())
    path = store / "content" / lost[:2] / lost[2:]
    path.write_bytes(b"garbage")
    with pytest.raises(RigErrors, match="lost or damaged"):
        show(folder, 1)
    with pytest.raises(RigErrors, match="lost or damaged"):
        restore(folder, 1)
    assert load(folder).about.name == "New"
    # Content that comes by again heals the store.
    (folder / "rig.yaml").write_bytes(RIG.encode())
    edit_rig(folder, [Set("rig/name", "Newer")], "x")
    assert show(folder, 1) == RIG.encode()
    (store / "index.jsonl").write_bytes(b"\xff\xfe[]\n{}\n[[[\n")
    known, faults = versions(folder)
    assert not known
    assert len(faults) == 3
    with pytest.raises(RigErrors, match="no version 7"):
        show(folder, 7)
    edit_rig(folder, [Set("rig/name", "Newest")], "x")
    with pytest.raises(RigErrors, match="no file"):
        show(folder, 1, "gear/none.yaml")


def test_an_index_cannot_write_outside_the_rig(folder: Path) -> None:
    edit_rig(folder, [Set("rig/name", "New")], "renamed")
    for name in ("../evil.yaml", "/etc/x", "gear/../../x", "gear\\x", "a/b/c", "", "other/x"):
        entry = {"version": 9, "time": "", "note": "", "files": {name: digest(b"")}}
        line = json.dumps(entry | {"check": history._check(entry)})
        assert history._version(line.encode()) is None


def test_steps_bring_an_old_file_along(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A format that never was: in it, gear was called boxes."""

    def step(text: str) -> str:
        return apply(text.replace("\nboxes:", "\ngear:"), [Set("format", 1)])

    monkeypatch.setitem(migrate.RIG_STEPS, 0, step)
    monkeypatch.setitem(migrate.GEAR_STEPS, 0, lambda text: apply(text, [Set("format", 1)]))
    old = RIG.replace("format: 1", "format: 0   # long ago").replace("\ngear:", "\nboxes:")
    (folder / "rig.yaml").write_bytes(old.encode())
    (folder / "gear" / "own.yaml").write_bytes(GEAR.replace("format: 1", "format: 0").encode())
    assert load(folder).gear["desk"].unit == 2
    assert (folder / "rig.yaml").read_bytes() == old.encode()  # reading writes nothing
    edit_rig(folder, [Set("rig/band", "B")], "band")
    new = (folder / "rig.yaml").read_text(encoding="utf-8")
    assert "format: 1   # long ago" in new
    assert [x for x in new.splitlines() if "#" in x][2:] == [
        x for x in RIG.splitlines() if "#" in x
    ][1:]
    assert show(folder, 1) == old.encode()


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("", "Add format: 1"),
        ("format: 2\n", "Update the program"),
        ("format: 0\n", "there is no format 0"),
        ("format: -1\n", "there is no format -1"),
        ("format: one\n", '"one"'),
        ("format:\n", "empty"),
    ],
)
def test_the_format_is_asked_for(folder: Path, line: str, says: str) -> None:
    (folder / "rig.yaml").write_bytes(RIG.replace("format: 1\n", line).encode())
    with pytest.raises(RigErrors) as caught:
        load(folder)
    assert says in str(caught.value)
    assert len(caught.value.faults) == 1


def test_all_kinds_of_edit_in_one(folder: Path) -> None:
    edits: list[Edit] = [
        Rename("gear/desk", "mixer"),
        Move("people/cy", before="ann"),
        Remove("leads/lead-1"),
        Set("patch/kick-in/plug", "mixer.in.12"),
    ]
    edit_rig(folder, edits, "all")
    rig = load(folder)
    assert [p.id for p in rig.file.people] == ["cy", "ann", "bo"]
    assert rig.file.leads == ()


def test_a_rig_file_that_was_deleted_comes_back(folder: Path) -> None:
    edit_rig(folder, [Set("rig/name", "New")], "renamed")
    (folder / "rig.yaml").unlink()
    restore(folder, 2)
    assert load(folder).about.name == "New"


@pytest.mark.parametrize(
    "raw", [b"", b"\xff\xfea", b"a: \xe9", b"a: [", b"a: 1\na: 2", b"\x00", b"- a"]
)
def test_a_broken_file_cannot_be_edited_and_stays(folder: Path, raw: bytes) -> None:
    (folder / "rig.yaml").write_bytes(raw)
    with pytest.raises(RigErrors):
        edit_rig(folder, [Set("rig/name", "New")], "x")
    assert (folder / "rig.yaml").read_bytes() == raw
    assert versions(folder)[0] == ()


def test_half_written_files_of_a_crash_go(folder: Path) -> None:
    (folder / ".rig.yaml.abc.new").write_bytes(b"half")
    edit_rig(folder, [Set("rig/name", "New")], "x")
    assert leftovers(folder) == []
