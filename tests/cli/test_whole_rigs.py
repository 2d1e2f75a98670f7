"""Every question about the rigs that ship gets an answer: none of them stops the program."""

from pathlib import Path

import pytest

from rigproof.rigfile.load import load
from tests.cli.conftest import Run

ROOT = Path(__file__).parent.parent.parent
RIGS = [ROOT / name for name in ("src/rigproof/demo", "examples/trio", "examples/twelve")]


@pytest.mark.parametrize("rig", RIGS, ids=lambda rig: rig.name)
def test_every_source_can_be_followed(run: Run, rig: Path) -> None:
    file = load(rig).file
    people = [person.id for person in file.people if person.ears]
    for number, source in enumerate(file.sources):
        # Each source to one pair of ears, the ears in turn, and to the house.
        for listener in (people[number % len(people)], "house"):
            outcome = run("trace", rig, source.id, listener)
            assert outcome.code in {0, 1}, outcome.err
            assert source.name.split()[0] in outcome.out


@pytest.mark.parametrize("rig", RIGS, ids=lambda rig: rig.name)
def test_every_figure_at_every_ear_can_be_asked_why(run: Run, rig: Path) -> None:
    for person in load(rig).file.people:
        if person.ears is None:
            continue
        for of in ("hiss", "loudest"):
            outcome = run("why", rig, person.id, "--of", of)
            assert outcome.code in {0, 1}, outcome.err
