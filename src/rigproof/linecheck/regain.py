"""From the peaks of a take to where the preamps should stand."""

from collections.abc import Iterator, Mapping, Sequence
from math import floor
from typing import Literal

import msgspec

from rigproof.linecheck.tallying import Tally
from rigproof.rig import Rig
from rigproof.signal import Graph
from rigproof.signal.figures import Figures
from rigproof.signal.knobs import Knob, knobs

# Preamps that can be called up turn in whole decibels. Common practice, no source.
STEP_DB = 1.0

Held = Literal["", "silent", "not in the take", "no preamp of ours", "not written down", "its stop"]


class Regain(msgspec.Struct, frozen=True, kw_only=True):
    """One source of the take and its preamp. `held`: why it does not go to where it should.

    `peak_dbfs`: the true peak of its loudest channel. `change_db`: by how much it is turned; with
    `now_db` and `then_db` where the file says where it stands.
    """

    source: str
    channels: tuple[int, ...]
    peak_dbfs: float | None
    clipped: bool
    change_db: float
    now_db: float | None
    then_db: float | None
    held: Held

    @property
    def moves(self) -> bool:
        return self.change_db != 0 and self.then_db is not None


def regains(
    rig: Rig, graph: Graph, figures: Figures, tallies: Sequence[Tally], *, headroom_db: float
) -> tuple[Regain, ...]:
    """For each source on the band's mixer: the turn that leaves this room over its peak.

    Rounded so that never less room is left. What does not play stays as it is.
    """
    by_source = {knob.source: knob for knob in knobs(rig, graph, figures).preamps}
    heard = {tally.number: tally for tally in tallies}
    return tuple(_regains(rig, by_source, heard, headroom_db))


def _regains(
    rig: Rig, by_source: Mapping[str, Knob], heard: Mapping[int, Tally], headroom_db: float
) -> Iterator[Regain]:
    for row in rig.file.patch:
        if row.channel is None:
            continue
        numbers = tuple(row.channel)[: rig.sources[row.source].lanes]
        lanes = [heard[number] for number in numbers if number in heard]
        knob = by_source.get(row.source)
        now = None if knob is None or knob.present_db is None else float(knob.present_db)
        peak = max((lane.true_peak_dbfs for lane in lanes), default=None)
        change, then, held = 0.0, now, _held(knob, lanes)
        if not held and knob is not None and peak is not None:
            change = floor((-headroom_db - peak) / STEP_DB + 1e-9) * STEP_DB
            if now is None:
                held = "not written down"
            else:
                then = min(max(now + change, knob.low_db), knob.high_db)
                held = "its stop" if then != now + change else ""
                change = then - now
        yield Regain(
            source=row.source,
            channels=numbers,
            peak_dbfs=peak,
            clipped=any(lane.clipped for lane in lanes),
            change_db=change,
            now_db=now,
            then_db=then,
            held=held,
        )


def _held(knob: Knob | None, lanes: Sequence[Tally]) -> Held:
    if not lanes:
        return "not in the take"
    if all(lane.playing_lufs is None for lane in lanes):
        return "silent"
    return "no preamp of ours" if knob is None else ""
