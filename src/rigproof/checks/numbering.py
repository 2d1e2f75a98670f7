"""Rules about numbers: one number from the socket to the channel is the habit to keep."""

from collections import Counter
from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.plan import PatchRow
from rigproof.signal.words import box
from rigproof.wording import some


def not_one_number(view: View) -> Iterator[Finding]:
    """A source changes its number on the way although it need not.

    Why: on stage people say "line five"; where socket 5 is channel 12, half of them mean the one
        and half the other.
    Fix: swap the plug or the channel while nobody has learnt the number yet.
    Source: common practice, no source: the same number all the way where that is free.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: snare, plug: mixer.in.2, channel: 12}
    Passes:
        sources: [{id: kick, name: Kick, family: drums}, {id: snare, name: Snare, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: snare, plug: mixer.in.2, channel: 2}
    """
    mixer = view.rig.mixer
    bank = next(view.rig.types[mixer.type].stages("channel"), None) if mixer else None
    if bank is None:
        return
    taken = {n for row in view.rig.rows.values() for n in row.channel or ()}
    taken |= {n for hold in view.rig.file.holds for n in hold.channels or ()}
    for gear, rows in _by_box(view).items():
        # A box whose sockets all sit 16 higher on the mixer keeps its numbers too.
        usual = Counter(_step(row) for row in rows).most_common()
        best = min((step for step, count in usual if count == usual[0][1]), key=abs)
        odd = [
            row
            for row in rows
            if _step(row) != best and _free(view, row, best, taken, most=bank.count)
        ]
        if odd and odd[0].plug is not None and odd[0].plug.numbers is not None:
            first = odd[0]
            names = some(view.rig.sources[row.source].name for row in odd)
            yield Finding(
                at=first.where.of("channel"),
                says=f"On {box(view.rig, gear)} the number of the socket is not kept for {names}: "
                f"socket {odd[0].plug.numbers[0]} is channel {first.channel}, and channel "
                f"{odd[0].plug.numbers[0] + best} is free.",
            )


def _by_box(view: View) -> dict[str, list[PatchRow]]:
    found: dict[str, list[PatchRow]] = {}
    for row in view.rig.rows.values():
        if row.plug is not None and row.plug.numbers is not None and row.channel is not None:
            found.setdefault(row.plug.gear, []).append(row)
    return found


def _step(row: PatchRow) -> int:
    assert row.channel is not None
    assert row.plug is not None
    assert row.plug.numbers is not None
    return row.channel.first - row.plug.numbers[0]


def _free(view: View, row: PatchRow, step: int, taken: set[int], *, most: int) -> bool:
    """Whether the channel of the socket's own number could have been had."""
    assert row.channel is not None
    assert row.plug is not None
    assert row.plug.numbers is not None
    first = row.plug.numbers[0] + step
    lanes = view.rig.sources[row.source].lanes
    wanted = set(range(first, first + lanes)) - set(row.channel)
    if first < 1 or first + lanes - 1 > most or (lanes == 2 and first % 2 == 0):
        return False
    return not wanted & taken


RULES = (Rule(id="numbering.not-one-number", severity="advice", check=not_one_number, since="0.1"),)
