"""Rigs with a mixer beside the band's own: a keyboard mixer before it, a spare one next to it."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.test_papers import pages

RIG = """\
format: 1
rig: {name: Two mixers and a spare, mixer: mixer}
people:
  - {id: ann, name: Ann, ears: {plug: amp.phones.1, earphones: headphones-64-ohm}}
  - {id: ben, name: Ben, ears: {plug: backup.phones, earphones: headphones-64-ohm}}
sources:
  - {id: kick, name: Kick, family: drums, player: ben, mic: mic-kick-dynamic}
  - {id: hat, name: Hat, family: drums, player: ben, mic: mic-small-condenser}
  - {id: voice, name: Voice, family: voices, player: ann, mic: mic-vocal-dynamic}
  - {id: piano, name: Piano, family: keys, player: ann, stereo: true, connector: jack-ts-f}
  - {id: organ, name: Organ, family: keys, player: ann, stereo: true, connector: jack-ts-f}
  - {id: keys, name: Keys, family: keys, player: ann, stereo: true, from: keymix.out.1-2}
gear:
  - {id: mixer, name: Mixer, type: mixer-rack-16}
  - {id: backup, name: Backup mixer, type: mixer-rack-12}
  - {id: keymix, name: Keyboard mixer, type: mixer-line-8, place: stage}
  - {id: split, name: Split, type: splitter-passive-16}
  - {id: amp, name: Amp, type: headphone-amp-4-quiet}
leads:
  - {id: to-mixer, type: lead-xlr, from: split.direct.1-3, to: mixer.in.1-3}
  - {id: to-backup, type: lead-xlr, from: split.second.1-3, to: backup.in.1-3}
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}
  - {id: keys-lead, type: lead-jack-trs-xlr, from: keymix.out.1-2, to: mixer.in.5-6}
patch:
  - {source: kick, plug: split.in.1, channel: 1, gain_db: 20, also: [{on: backup, channel: 7}]}
  - {source: hat, plug: split.in.2, channel: 2}
  - {source: voice, plug: split.in.3, channel: 3, gain_db: 30,
     also: [{on: backup, channel: 1, gain_db: 33}]}
  - {source: piano, plug: keymix.in.1-2, also: [{on: keymix, channel: 1-2}]}
  - {source: organ, plug: keymix.in.3-4, also: [{on: keymix, channel: 3-4}]}
  - {source: keys, channel: 5-6}
mixes:
  - {id: mix-ann, name: Ann, listeners: [ann], stereo: true}
  - {id: spare, name: Spare, on: backup, bank: main, bus: 1-2, out: backup.phones,
     listeners: [ben], stereo: true, sends: [{from: voice}, {from: kick, level_db: -6}]}
  - {id: keys-sum, name: Keys, on: keymix, bus: 1-2, out: keymix.out.1-2, purpose: group,
     stereo: true, sends: [{from: piano}, {from: organ}]}
"""


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    (tmp_path / "rig.yaml").write_text(RIG, encoding="utf-8")
    return tmp_path


def changed(rig: Path, old: str, new: str) -> Path:
    assert RIG.count(old) == 1
    (rig / "rig.yaml").write_text(RIG.replace(old, new), encoding="utf-8")
    return rig


def found(run: Run, rig: Path) -> dict[str, str]:
    answer = run("check", rig, "--json").json
    return {one["rule"]: one["says"] for one in answer["result"]["findings"]}


def test_each_mixer_has_numbers_of_its_own(run: Run, rig: Path) -> None:
    assert not [name for name in found(run, rig) if name.startswith("patch.")]


def test_a_voice_reaches_the_spare_mixer_by_its_channel_there(run: Run, rig: Path) -> None:
    out = run("trace", rig, "voice", "ben").out
    assert "Backup mixer, in 3" in out
    assert "channel 1" in out
    assert "+33.0" in out  # the gain at that mixer, not the 30 dB of the other
    assert "+30.0" not in out
    out = run("trace", rig, "voice", "ann").out
    assert "channel 3" in out
    assert "+30.0" in out


def test_a_piano_goes_through_the_keyboard_mixer(run: Run, rig: Path) -> None:
    out = run("trace", rig, "piano", "ann").out
    for place in ("Keyboard mixer, in 1-2", "Mixer, in 5-6", "channel 5-6", "Ann"):
        assert place in out
    assert run("trace", rig, "hat", "ben").code == 1  # it is not sent to the spare mix


def test_faults_on_the_other_mixer_are_found(run: Run, rig: Path) -> None:
    said = found(run, changed(rig, "{on: backup, channel: 7}", "{on: backup, channel: 1}"))
    assert (
        "Kick and Voice are both on channel 1 of Backup mixer"
        in said["patch.channel-with-two-sources"]
    )
    said = found(run, changed(rig, "{on: backup, channel: 7}", "{on: backup, channel: 17}"))
    assert "Backup mixer has 12" in said["patch.channel-does-not-exist"]
    said = found(run, changed(rig, "{on: keymix, channel: 3-4}", "{on: keymix, channel: 4-5}"))
    assert "Organ" in said["patch.pair-not-odd-even"]
    said = found(run, changed(rig, "from: split.second.1-3", "from: split.second.2-4"))
    assert "does not arrive at channel 7 of Backup mixer" in said["patch.source-does-not-arrive"]


def test_48_v_can_be_fed_by_either_mixer(run: Run, rig: Path) -> None:
    # Both legs of this split are direct: a condenser gets what either input feeds.
    row = "{source: hat, plug: split.in.2, channel: 2}"
    assert "phantom.nobody-feeds" not in " ".join(found(run, rig))
    both = '{source: hat, plug: split.in.2, channel: 2, phantom: "on", '
    both += 'also: [{on: backup, channel: 2, phantom: "on"}]}'
    said = " ".join(found(run, changed(rig, row, both)).values())
    assert "Mixer and Backup mixer can each feed 48 V to Hat." in said


def test_a_channel_on_a_box_without_channels_is_refused(run: Run, rig: Path) -> None:
    outcome = run("check", changed(rig, "{on: backup, channel: 7}", "{on: amp, channel: 7}"))
    assert outcome.code == 2
    assert '"amp" has no channels' in outcome.err
    outcome = run("check", changed(rig, "{on: backup, channel: 7}", "{on: bakup, channel: 7}"))
    assert 'Did you mean "backup"?' in outcome.err


def test_a_night_without_the_spare_mixer(run: Run, rig: Path) -> None:
    night = "venues: [{id: hall, name: Hall, desk: {takes: nothing}}]\n"
    night += "shows: [{id: light, date: 2030-05-01, venue: hall, without: [backup]}]\n"
    (rig / "rig.yaml").write_text(RIG + night, encoding="utf-8")
    assert run("trace", rig, "voice", "ann", "--show", "light").code == 0


def test_the_book_prints(run: Run, rig: Path) -> None:
    assert run("book", rig, "-o", rig / "book.pdf").code == 1


def test_papers_name_the_channel_on_the_other_mixer(run: Run, rig: Path) -> None:
    def words(paper: str) -> str:
        target = rig / "paper.pdf"
        run("papers", rig, "--only", paper, "-o", target)
        return " ".join(" ".join(pages(target)).split())

    assert "Backup mixer channel 7" in words("input-list")
    flow = words("whole-flow")
    # The numbers of each box stand in it: 1-3 of the band's own, 7 and 1 of the spare.
    assert "ch 1-3" in flow
    assert "ch 1, 7" in flow
    # Instruments that are plugged straight in are drawn like those with a microphone or DI.
    assert "Piano" in flow
    assert "Organ" in flow
    assert "ch 1-4" in flow
