"""Rigs on disk, and the command run as from a shell."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from rigproof.cli import main
from rigproof.cli.schema import ANSWERS

SMALL = """\
format: 1
rig: {name: Small rig, band: Mossgate Three}
people:
  - {id: ana, name: Ana Ørn, plays: voice, part: voices,
     ears: {plug: pack.phones, earphones: earphones-dual}}
  - {id: bo, name: Bo, plays: keys, part: keys}
sources:
  - {id: voice, name: Lead voice, family: voices, player: ana, mic: mic-vocal-dynamic}
  - {id: keys, name: Keys, family: keys, player: bo, stereo: true, di: di-passive-stereo,
     connector: jack-ts-f}
  - {id: click, name: Click, family: click, mic: mic-vocal-dynamic}
gear:
  - {id: split, name: Split, type: splitter-transformer-8}
  - {id: mixer, name: Mixer, type: mixer-rack-12}
  - {id: amp, name: Amp, type: headphone-amp-4}
  - {id: pack, name: Belt, type: pack-wired-passive, place: person, with_person: ana}
leads:
  - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8, length_m: 1}
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1, length_m: 1}
  - {id: to-belt, type: lead-jack-stereo, from: amp.phones.1, to: pack.in, length_m: 5}
  - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8, length_m: 10}
patch:
  - {source: voice, plug: split.in.1, channel: 1, gain_db: 36}
  - {source: keys, plug: split.in.3-4, channel: 3-4}
  - {source: click, plug: mixer.in.12, channel: 12}
mixes:
  - {id: ana, name: Ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.out.1-2,
     sends: [{from: voice, level_db: -3}, {from: keys}]}
"""


@cache
def published() -> jsonschema.Draft202012Validator:
    """The schema of all answers, which is looked at once: that takes longer than most answers."""
    schema = json.loads(ANSWERS.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str

    @cached_property
    def json(self) -> Any:
        """The answer, held against the published schema."""
        answer = json.loads(self.out)
        published().validate(answer)
        assert answer["exit"] == self.code
        return answer


Run = Callable[..., Outcome]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def run(*words: object) -> Outcome:
        code = main([str(word) for word in words])
        answer = capsys.readouterr()
        assert "Traceback" not in answer.out + answer.err
        return Outcome(code, answer.out, answer.err)

    return run


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A folder with a small rig."""
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "rig.yaml").write_text(SMALL, encoding="utf-8")
    return folder
