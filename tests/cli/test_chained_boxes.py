"""A stage box behind another one: its lines pass the near box, and die with it."""

from itertools import groupby
from pathlib import Path

import pytest

from rigproof.checks.verdict import check
from rigproof.rigfile.load import load
from rigproof.whatif import Failure, failures
from tests.cli.conftest import Run

RIG = """\
format: 1
rig: {name: Two boxes in a row}
people: [{id: ann, name: Ann, ears: {plug: far-amp.phones.1, earphones: headphones-64-ohm}}]
sources:
  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}
  - {id: voice, name: Voice, family: voices, player: ann, mic: mic-vocal-dynamic}
gear:
  - {id: mixer, name: Mixer, type: mixer-core-8}
  - {id: near, name: Near box, type: stage-box-16x8-chain, place: stage}
  - {id: far, name: Far box, type: stage-box-16x8, place: stage}
  - {id: far-amp, name: Amp, type: headphone-amp-4-quiet, place: stage}
leads:
  - {id: far-link, type: lead-network-locking, from: far.link, to: near.link-next, length_m: 10}
  - {id: near-link, type: lead-network-locking, from: near.link, to: mixer.link.1, length_m: 20}
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: far.out.1-2, to: far-amp.in.1, length_m: 1}
patch:
  - {source: kick, plug: near.in.1, channel: 1}
  - {source: voice, plug: far.in.1, channel: 17}
mixes: [{id: mix-ann, name: Ann, listeners: [ann], stereo: true}]
"""


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    (tmp_path / "rig.yaml").write_text(RIG, encoding="utf-8")
    return tmp_path


def test_the_far_box_is_heard_through_the_near_one(run: Run, rig: Path) -> None:
    found = run("check", rig, "--json").json["result"]["findings"]
    assert not [one["says"] for one in found if one["severity"] == "stop"]
    answer = run("trace", rig, "voice", "ann", "--json").json["result"]
    (way,) = answer["ways"]
    boxes = [box for box, _ in groupby(hop["place"].partition(",")[0] for hop in way["hops"])]
    assert boxes[1:] == ["Far box", "Near box", "Mixer", "Near box", "Far box", "Amp", "Ann"]
    needs = [name for hop in way["hops"] for name in hop["needs"]]
    assert needs.count("Near box") == 2  # there and back
    assert needs.count("far-link") == needs.count("near-link") == 2


def test_both_go_with_the_near_box_and_one_with_the_far(rig: Path) -> None:
    view = check(load(rig)).view
    found = {
        one.suspect.name: one for one in failures(view.rig, view.graph, view.lanes, view.lines)
    }

    def missed(failure: Failure) -> set[str]:
        return {name for loss in failure.losses.values() for name in loss.sources}

    assert missed(found["near"]) == {"kick", "voice"}
    assert found["near"].silent == ("ann",)  # her amplifier hangs on the far box, behind it
    assert missed(found["far-link"]) == {"kick", "voice"}
