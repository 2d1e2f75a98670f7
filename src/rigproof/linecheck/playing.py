"""How loud each line is played: as its source will be, so that each preamp sees what it is set for.

Played all alike, a line set for a voice would be overdriven by what a keyboard's line needs. So
each channel of the test signal stands to the others as the planned peaks of the sources do, at the
plugs; with the player's own full scale known, it stands so far under them as is asked for.
"""

from collections.abc import Mapping

import msgspec

from rigproof.linecheck.lineup import Lineup
from rigproof.signal import Graph
from rigproof.signal.peaks import Peaks

LOUDEST_DBFS = -3.0
MOST_UNDER_DB = 60.0  # so far a channel may lie under the loudest and still be told apart
_SAME_DB = 0.01


class Playing(msgspec.Struct, frozen=True, kw_only=True):
    """The levels of a test signal. `under_db`: of each channel under the loudest.

    `planned_dbu`: by channel, the peaks that the plan counts on at its plug. `held`: channels that
    the player cannot play as loud, or that had to be raised to be heard at all.
    """

    level_dbfs: float
    under_db: tuple[float, ...]
    planned_dbu: Mapping[int, float]
    held: tuple[int, ...] = ()

    def level_of(self, channel: int) -> float:
        """The peaks of a channel, counted from 1, in dBFS."""
        return self.level_dbfs - self.under_db[channel - 1]


def planned_peaks_dbu(lineup: Lineup, graph: Graph, peaks: Peaks) -> dict[int, float]:
    """The planned peaks at the plug of each analogue line whose source has a level."""
    found = {}
    for number, line in sorted(lineup.items()):
        node = graph.index.get(line.socket) if line.socket else None
        if node is not None and not graph.nodes[node].digital:
            level = peaks.peak_db(node)
            if level is not None:
                found[number] = level
    return found


def playing(
    planned_dbu: Mapping[int, float],
    *,
    channels: int,
    level_db: float,
    full_scale_dbu: float | None,
) -> Playing:
    """The level of each channel.

    With `full_scale_dbu`, what the player's 0 dBFS is at its sockets, each line stands `level_db`
    (below 0) over its planned peaks; without, the loudest line stands at that many dBFS and the
    others as far under it as planned. A line without a planned level plays as softly as the
    softest. Derived: levels in dB add; 0 dBFS is `full_scale_dbu` for a sine.
    """
    known = {n: level for n, level in planned_dbu.items() if n <= channels}
    if not known:
        return Playing(level_dbfs=level_db, under_db=(0.0,) * channels, planned_dbu={})
    top_dbu = max(known.values())
    wished = {
        n: level + level_db - (top_dbu if full_scale_dbu is None else full_scale_dbu)
        for n, level in known.items()
    }
    softest = min(wished.values())
    loud = [wished.get(n, softest) for n in range(1, channels + 1)]
    able = [min(LOUDEST_DBFS, level) for level in loud]
    top = max(able)
    # A line that would be lost beside the loudest is raised, but never up to its plan.
    highest = {n: level - level_db - 1 for n, level in wished.items()}
    levels = [
        max(level, min(top - MOST_UNDER_DB, highest.get(n, level)))
        for n, level in enumerate(able, 1)
    ]
    return Playing(
        level_dbfs=round(top, 2),
        under_db=tuple(round(top - level, 2) for level in levels),
        planned_dbu=dict(known),
        held=tuple(n for n in sorted(known) if abs(levels[n - 1] - wished[n]) > _SAME_DB),
    )
