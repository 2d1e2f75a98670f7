"""Rules about numbers: one number from the socket to the channel is the habit to keep."""

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise
from statistics import median

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.band import Family
from rigproof.rig.plan import PatchRow
from rigproof.signal.words import box
from rigproof.wording import listed, opening, some
from rigproof.wording.sentences import sentence


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
                says=sentence(
                    "On {box} the number of the socket is not kept for {names}: socket "
                    "{number} is channel {channel}, and channel {number2} is free.",
                    box=box(view.rig, gear),
                    names=names,
                    number=odd[0].plug.numbers[0],
                    channel=first.channel,
                    number2=odd[0].plug.numbers[0] + best,
                ),
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


# The blocks of an input list, from its top to its end. Common practice, no source; the families
# that stand at a different place in each band's list are left out.
BLOCKS: tuple[Family, ...] = ("drums", "bass", "guitar", "keys", "voices")


def unusual_order(view: View) -> Iterator[Finding]:
    """The channels are not in the order that the trade expects.

    Why: a stranger's hand goes to the top of the list for the kick and to its end for the voices;
        where each band invents its own order, every search takes twice as long.
    Fix: drums from the kick on, then bass, guitars, keys, voices last, as long as nobody has learnt
        your numbers; else leave them, and hand over the list in the house's own order.
    Source: common practice, no source: the usual order of input lists. A festival may put voices
        first for all acts.

    Fails:
        sources:
          - {id: voice, name: Voice, family: voices}
          - {id: bass, name: Bass, family: bass}
          - {id: kick, name: Kick, family: drums}
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: voice, plug: mixer.in.1, channel: 1}
          - {source: bass, plug: mixer.in.2, channel: 2}
          - {source: kick, plug: mixer.in.3, channel: 3}
    Passes:
        sources:
          - {id: voice, name: Voice, family: voices}
          - {id: bass, name: Bass, family: bass}
          - {id: kick, name: Kick, family: drums}
        gear: [{id: mixer, type: mixer-rack-24}]
        patch:
          - {source: kick, plug: mixer.in.1, channel: 1}
          - {source: bass, plug: mixer.in.2, channel: 2}
          - {source: voice, plug: mixer.in.3, channel: 3}
    """
    rows: dict[Family, list[PatchRow]] = {}
    for row in view.rig.rows.values():
        if row.channel is not None:
            rows.setdefault(view.rig.sources[row.source].family, []).append(row)
    middles = [(family, median(map(_channel, rows[family]))) for family in BLOCKS if family in rows]
    wrong = [
        (first, second)
        for (first, high), (second, low) in pairwise(middles)
        if high > low and not any(row.learnt for row in rows[first])
    ]
    if wrong:
        first, second = wrong[0]
        yield Finding(
            at=min(rows[second], key=_channel).where.of("channel"),
            says=sentence(
                "{words} stand before {words2} in the list of channels.",
                words=opening(_WORDS[second]),
                words2=_WORDS[first],
            ),
        )


_WORDS: Mapping[Family, str] = {
    "drums": sentence("the drums"),
    "bass": sentence("the bass lines"),
    "guitar": sentence("the guitars"),
    "keys": sentence("the keys"),
    "voices": sentence("the voices"),
}


def _channel(row: PatchRow) -> int:
    return row.channel.first if row.channel is not None else 0


def learnt_moved(view: View) -> Iterator[Finding]:
    """A source has left the number that other people have learnt.

    Why: the house, the deputy and the lighting desk still hold the old list, and each fader beside
        it now carries somebody else.
    Fix: give it its number back and put what is new into a gap or at the end; where it must move,
        send a change sheet and then write the new number as learnt.
    Source: common practice, no source: numbers that others have learnt stay.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.2, channel: 2, learnt: 1}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1, learnt: 1}]
    """
    rows = [row for row in view.rig.rows.values() if row.channel is not None]
    for row in rows:
        if row.learnt is None or row.channel is None or row.learnt == row.channel:
            continue
        there = [
            view.rig.sources[other.source].name
            for other in rows
            if other.source != row.source and set(other.channel or ()) & set(row.learnt)
        ]
        now = sentence("; there is now {names}", names=listed(there)) if there else ""
        yield Finding(
            at=row.where.of("channel"),
            says=sentence(
                "{source} is on channel {channel}, and others have learnt {learnt}{now}.",
                source=view.rig.sources[row.source].name,
                channel=row.channel,
                learnt=row.learnt,
                now=now,
            ),
        )


def moved_for_a_show(view: View) -> Iterator[Finding]:
    """A source leaves its usual channel for one night.

    Why: what hands have learnt for a year they will do on that night as well.
    Fix: put what comes along into a gap, and leave everybody where they are.
    Source: common practice, no source: numbers that others have learnt stay.

    Fails:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows:
          - id: may
            name: May dance
            date: 2027-05-08
            venue: hall
            patch: [{source: kick, plug: mixer.in.9, channel: 9}]
    Passes:
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows:
          - id: may
            name: May dance
            date: 2027-05-08
            venue: hall
            patch: [{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}]
    """
    if view.show is not None:
        return  # there the show's own numbers are the usual ones
    usual = view.stated.rows
    for show in view.rig.file.shows:
        moved = [
            row
            for row in show.patch
            if row.source in usual
            and row.channel is not None
            and usual[row.source].channel not in (None, row.channel)
        ]
        if moved:
            told = some(
                sentence(
                    "{source} from {channel} to {channel2}",
                    source=view.rig.sources[row.source].name,
                    channel=usual[row.source].channel,
                    channel2=row.channel,
                )
                for row in moved
            )
            yield Finding(
                at=moved[0].where.of("channel"),
                says=sentence(
                    "For {show} channels move: {told}.", show=show.name or show.id, told=told
                ),
            )


RULES = (
    Rule(id="numbering.not-one-number", severity="advice", check=not_one_number, since="0.1"),
    Rule(id="numbering.unusual-order", severity="advice", check=unusual_order, since="0.1"),
    Rule(id="numbering.learnt-moved", severity="risk", check=learnt_moved, since="0.1"),
    Rule(id="numbering.moved-for-a-show", severity="advice", check=moved_for_a_show, since="0.1"),
)
