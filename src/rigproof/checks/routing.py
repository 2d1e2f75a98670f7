"""Rules about what is set inside the boxes: routes that a box cannot do."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.checks.settings import Setting
from rigproof.rig.where import Where
from rigproof.signal.blocks import Block, Blocks, Taken
from rigproof.signal.words import box, place, within
from rigproof.wording import listed
from rigproof.wording.sentences import sentence


def _at(view: View, one: Setting) -> Where:
    """Where a setting is written; a planned one points at its box."""
    return one.hop.at if one.hop.at.line else view.rig.gear[one.gear].where


def route_impossible(view: View) -> Iterator[Finding]:
    """A route is written that the box does not offer.

    Why: the plan looks complete, and the menu on the box has no such line.
    Fix: route it by a place the box offers: its type lists what can be sent where.
    Source: the gear type's own choices.

    Fails:
        gear: [{id: box, type: stage-box-16x8}]
        routes: [{from: box.adc.1, to: box.dac.1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        routes: [{from: mixer.adc.1, to: mixer.dac.1}]
    """
    told: set[tuple[str, int, int]] = set()
    for one in view.settings:
        mark = (one.hop.at.file, one.hop.at.line, one.hop.at.column)
        wired = one.end in one.plan.after.get(one.start, ())
        if mark in told or wired or one.choice is not None:
            continue
        told.add(mark)
        start, end = (within(view.rig, f"{one.gear}.{lane}") for lane in one.names)
        yield Finding(
            at=_at(view, one),
            says=sentence(
                "{box} cannot route {start} to {end}.",
                box=box(view.rig, one.gear),
                start=start,
                end=end,
            ),
        )


def two_into_one(view: View) -> Iterator[Finding]:
    """Two signals are routed to a place that takes one.

    Why: a channel or an output takes one signal; the box keeps the last one set, and the other
        is gone without a word.
    Fix: remove one route, or mix the two on a bus.
    Source: the gear type's own choices: only buses and sums add.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        routes: [{from: mixer.adc.1, to: mixer.ch.1}, {from: mixer.adc.2, to: mixer.ch.1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        routes: [{from: mixer.adc.1-2, to: mixer.ch.1-2}]
    """
    into: dict[int, dict[int, Setting]] = {}
    for one in view.settings:
        into.setdefault(one.hop.end, {}).setdefault(one.start, one)
    for end, given in into.items():
        if len(given) < 2 or all(one.choice and one.choice.adds for one in given.values()):
            continue
        names = listed(within(view.rig, f"{one.gear}.{one.names[0]}") for one in given.values())
        yield Finding(
            at=_at(view, list(given.values())[-1]),
            says=sentence(
                "{place} takes one signal and is given {names}.",
                place=place(view.rig, view.graph.nodes[end].key),
                names=names,
            ),
            found=len(given),
            limit=1,
            unit="signals",
        )


def block_broken(view: View) -> Iterator[Finding]:
    """A mixer that takes its channels in blocks is asked to mix blocks.

    Why: where inputs are chosen eight at a time, one odd route moves seven other channels.
    Fix: keep what comes from one box within one block of channels; hold the rest of it open.
    Source: the gear type's own block size.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        routes: [{from: mixer.adc.1-4, to: mixer.ch.1-4}, {from: mixer.link.rx.5, to: mixer.ch.5}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}]
        routes: [{from: mixer.adc.1-8, to: mixer.ch.1-8}, {from: mixer.link.rx.1, to: mixer.ch.9}]
    """
    spots: dict[str, Blocks] = {}
    asked: dict[tuple[str, Block], dict[Taken, Setting]] = {}
    for one in view.settings:
        if one.gear not in spots:
            spots[one.gear] = Blocks(one.plan)
        for block, taken in spots[one.gear].asked(one.start, one.end):
            asked.setdefault((one.gear, block), {}).setdefault(taken, one)
    for (gear, (choice, block_number)), given in asked.items():
        size = spots[gear].size(choice)
        last = list(given.values())[-1]
        first, end = block_number * size + 1, (block_number + 1) * size
        where = within(view.rig, f"{gear}.{last.plan.banks[last.end].id}.{first}-{end}")
        if len(given) == 1:
            if any(apart for _, _, apart in given):
                right = spots[gear].own_place(choice, last.start, last.end)
                yield _out_of_place(view, last, where, size, last.plan.names[right])
            continue
        names = listed(within(view.rig, f"{one.gear}.{one.names[0]}") for one in given.values())
        yield Finding(
            at=_at(view, last),
            says=sentence(
                "{box} sets {where} as one block of {size}, and the plan wants {names} in it.",
                box=box(view.rig, gear),
                where=where,
                size=size,
                names=names,
            ),
            found=len(given),
            limit=1,
            unit="blocks",
        )


def _out_of_place(view: View, one: Setting, where: str, size: int, right: str) -> Finding:
    """A route whose input stands elsewhere in its block than the channel in its own."""
    start, end = (within(view.rig, f"{one.gear}.{name}") for name in one.names)
    return Finding(
        at=_at(view, one),
        says=sentence(
            "{box} sets {where} as one block of {size}, each input at its own place "
            "in it, and the plan puts {start} on {end}.",
            box=box(view.rig, one.gear),
            where=where,
            size=size,
            start=start,
            end=end,
        ),
        fix=sentence(
            "Put it on {within}, or plug it where {end} has its place.",
            within=within(view.rig, f"{one.gear}.{right}"),
            end=end,
        ),
    )


RULES = (
    Rule(id="patch.route-impossible", severity="stop", check=route_impossible, since="0.1"),
    Rule(id="patch.two-into-one", severity="stop", check=two_into_one, since="0.1"),
    Rule(id="patch.block-broken", severity="stop", check=block_broken, since="0.1"),
)
