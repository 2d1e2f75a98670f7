"""One reading and one judgement for each version of a rig, and a new one for the least change."""

import multiprocessing
import os
from pathlib import Path

import pytest

from rigproof.checks import verdict as judging
from rigproof.checks.beside import beside
from rigproof.checks.rule import View, look
from rigproof.checks.verdict import check, check_whole
from rigproof.rig import Rig
from rigproof.rig.where import RigErrors
from rigproof.rigfile.load import load
from rigproof.wording.sentences import said_in

RIG = """\
format: 1
rig: {name: Kept}
sources: [{id: kick, name: Kick, family: drums, mic: own-mic}]
gear: [{id: mixer, type: mixer-rack-12}]
patch: [{source: kick, plug: mixer.in.1, channel: 1}]
"""
GEAR = """\
format: 1
types:
  - id: own-mic
    name: Own microphone
    class: microphone
    ports: [{id: out, way: out, connector: xlr-m, carries: mic, phantom_need: never}]
    inside: {stages: [{id: capsule, kind: capsule}], wires: [{from: capsule, to: out}]}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "gear").mkdir()
    (tmp_path / "rig.yaml").write_text(RIG, "utf-8")
    (tmp_path / "gear" / "own.yaml").write_text(GEAR, "utf-8")
    return tmp_path


def test_the_same_files_are_judged_once(folder: Path) -> None:
    verdict = check(load(folder))
    assert check(load(folder)) is verdict
    assert check(load(folder / "rig.yaml")) is verdict


def test_one_changed_letter_is_a_new_rig(folder: Path) -> None:
    before = check(load(folder))
    (folder / "rig.yaml").write_text(RIG.replace("Kick,", "Kack,"), "utf-8")
    after = check(load(folder))
    assert after is not before
    assert after.view.rig.sources["kick"].name == "Kack"


def test_a_changed_gear_type_is_a_new_rig(folder: Path) -> None:
    def needs() -> str | None:
        return load(folder).types["own-mic"].ports[0].phantom_need

    assert needs() == "never"
    (folder / "gear" / "own.yaml").write_text(GEAR.replace("never", "must"), "utf-8")
    assert needs() == "must"
    assert check(load(folder)).view.rig.rows["kick"].phantom == "on"


def test_a_fault_is_found_again_and_a_mended_file_is_read_again(folder: Path) -> None:
    load(folder)
    (folder / "rig.yaml").write_text(RIG + "nonsense: 1\n", "utf-8")
    for _ in range(2):
        with pytest.raises(RigErrors):
            load(folder)
    (folder / "rig.yaml").write_text(RIG, "utf-8")
    assert load(folder).about.name == "Kept"


def test_equal_files_in_two_folders_are_two_rigs(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    (other / "gear").mkdir(parents=True)
    (other / "rig.yaml").write_text(RIG, "utf-8")
    (other / "gear" / "own.yaml").write_text(GEAR, "utf-8")
    assert load(other).path != load(folder).path


def test_a_fault_of_two_shows_is_told_of_both(folder: Path) -> None:
    # Without the mixer the kick arrives nowhere, on either date and at one place of the file:
    # neither date may be silent because the other one spoke.
    shows = "".join(
        f"  - {{id: night-{n}, date: 2027-0{n}-01, venue: bar, without: [mixer]}}\n" for n in (4, 5)
    )
    bar = "venues: [{id: bar, name: Bar, desk: {takes: nothing}}]\n"
    (folder / "rig.yaml").write_text(f"{RIG}{bar}shows:\n{shows}", "utf-8")
    told: dict[str, set[tuple[str, str]]] = {"night-4": set(), "night-5": set()}
    for finding in check(load(folder)).findings:
        if finding.show and finding.at.line <= RIG.count("\n"):
            told[finding.show].add((finding.rule, finding.says))
    assert told["night-4"]
    assert told["night-4"] == told["night-5"]


needs_copies = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="a running process cannot be copied here"
)
DEMO = Path(judging.__file__).parent.parent / "demo"
EXAMPLES = Path(__file__).parent.parent.parent / "examples"


def _name(folder: Path) -> str:
    return folder.name


@needs_copies
@pytest.mark.parametrize("folder", [DEMO, EXAMPLES / "trio", EXAMPLES / "twelve"], ids=_name)
def test_nights_judged_by_two_processes_are_judged_alike(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = check(load(folder))
    assert [isinstance(night, View) for night in here.nights] == [True, True]
    monkeypatch.setattr(judging, "_LARGE", 0)
    # Tests before this one may have left threads, beside which nothing is done in copies.
    monkeypatch.setattr(judging, "processes", lambda: 2)
    apart = check(Rig(here.view.stated.file, here.view.stated.types, here.view.stated.path))
    assert [isinstance(night, View) for night in apart.nights] == [True, False]
    assert apart.findings == here.findings
    assert [str(f.at) for f in apart.findings] == [str(f.at) for f in here.findings]
    # Also those that came from the other process can be said again in another language.
    german = [said_in("de", f.says) for f in here.findings]
    assert [said_in("de", f.says) for f in apart.findings] == german
    assert all(one != other.says for one, other in zip(german, apart.findings, strict=True))
    # Whoever asks for the other night gets it, looked at here.
    assert apart.views[1].rig == here.views[1].rig
    assert apart.views[1].graph == here.views[1].graph


@needs_copies
@pytest.mark.parametrize("working", [2, 3, 4])
def test_shows_dealt_among_processes_keep_their_order(
    folder: Path, working: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shows = "".join(
        f"  - {{id: night-{n}, date: 2027-0{n}-01, venue: bar, without: [mixer]}}\n"
        for n in range(1, 6)
    )
    bar = "venues: [{id: bar, name: Bar, desk: {takes: nothing}}]\n"
    (folder / "rig.yaml").write_text(f"{RIG}{bar}shows:\n{shows}", "utf-8")
    here = check(load(folder))
    monkeypatch.setattr(judging, "_LARGE", 0)
    monkeypatch.setattr(judging, "processes", lambda: working)
    apart = check(Rig(here.view.stated.file, here.view.stated.types, here.view.stated.path))
    assert sum(isinstance(night, View) for night in apart.nights) < 6
    assert apart.findings == here.findings
    assert {f.show for f in apart.findings} >= {f"night-{n}" for n in range(1, 6)}
    assert [view.show for view in apart.views] == [view.show for view in here.views]
    # Whoever prints pages of every night has them all, and looks at none twice.
    whole = check_whole(Rig(here.view.stated.file, here.view.stated.types, here.view.stated.path))
    assert whole.views == whole.nights
    assert whole.findings == here.findings


@needs_copies
def test_work_that_a_copy_brings_nothing_of_is_done_here() -> None:
    here = os.getpid()

    def work() -> int:
        if os.getpid() != here:
            os._exit(9)
        return os.getpid()

    with beside(work) as brought:
        assert brought() == here
    with beside(os.getpid) as brought:
        assert brought() != here
    with pytest.raises(ZeroDivisionError), beside(lambda: 1 // 0) as broken:
        broken()
    assert not multiprocessing.active_children()


def test_the_nights_of_the_rig_looked_at_last_are_kept(folder: Path) -> None:
    rig, demo = load(folder), load(DEMO)
    meadow = next(show for show in demo.file.shows if show.id == "meadow")
    usual, other = look(demo), look(demo, meadow)
    assert usual is not other
    assert look(demo) is usual
    assert look(demo, meadow) is other
    assert check(demo).view is usual
    assert look(rig).stated is rig
    assert look(demo) is not usual
