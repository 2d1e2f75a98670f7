"""The network and radio card: streams and their weight, addresses, clock, power, Wi-Fi, packs."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.network.addresses import addressed
from rigproof.network.airwaves import Air, air, coax_runs
from rigproof.network.control_link import control_link
from rigproof.network.feeding import budgets
from rigproof.network.power_cycle import Cycle, clock_trees
from rigproof.network.traffic import crossings, flows, socket_loads
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    between,
    cell,
    column,
    figure,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    ranged,
    remark,
    say,
    table,
)
from rigproof.signal import words
from rigproof.wording import listed, opening


def blocks(view: View) -> Iterator[Block]:
    """Everything that runs in packets or through the air; nothing where nothing does."""
    found = [
        *_traffic(view),
        *_addresses(view),
        *_clock(view),
        *_feeding(view),
        *_control(view),
        *_radio(view),
    ]
    yield from found or [say("Nothing of this rig runs in packets or through the air.")]
    yield left_out(
        "what boxes say of themselves beside the sound, other people's networks and transmitters, "
        "walls and reflections, filters in receivers. Whether a frequency may be used here is a "
        "matter of the law of the place."
    )


def _traffic(view: View) -> Iterator[Block]:
    rig = view.rig
    found = flows(rig, view.cables)
    if not found:
        return
    times = {c.flow.stream.id: c for c in crossings(rig, found)}
    yield heading("Streams")
    rows: list[list[Cell]] = []
    for flow in found:
        crossing = times.get(flow.stream.id)
        ends = (flow.stream.from_.gear, flow.stream.to.gear)
        needed = DASH
        if crossing is not None:
            needed = plain(crossing.needs_ms + crossing.sleeping_ms, 2)
        rows.append(
            [
                remark(flow.stream.id),
                remark(" \u2192 ".join(_gear(view, end) for end in ends)),
                cell(str(flow.channels)),
                cell(plain(flow.mbps)),
                cell(plain(flow.packet_us, 0)),
                figure(flow.latency_ms, decimals=2),
                cell(needed),
                remark(
                    ("fits" if crossing.fits else "does not fit")
                    if crossing
                    else "cannot judge: needs the leads between them"
                ),
            ]
        )
    yield table(
        [
            column("Stream", 1.3),
            column("Way", 2.6),
            numbers("Channels", 0.8),
            numbers("Weight", 0.9, unit="Mb/s"),
            numbers("Packet", 0.8, unit="\u00b5s"),
            numbers("Latency set", 1.2, unit="ms"),
            numbers("Needs", 0.8, unit="ms"),
            column("", 1.3),
        ],
        rows,
    )
    loads = socket_loads(rig, found, view.cables)
    yield heading("What each socket sends")
    yield table(
        [
            column("Socket", 3),
            numbers("Filtered", 1, unit="Mb/s"),
            numbers("Flooded", 1, unit="Mb/s"),
            numbers("Of", 1.4, unit="Mb/s"),
            numbers("Share", 0.8),
        ],
        [
            [
                remark(words.place(rig, load.socket)),
                cell(plain(load.filtered_mbps)),
                cell(plain(load.flooded_mbps)),
                cell(plain(load.speed_mbps, 0), "" if load.speed_stated else "assumed"),
                cell(f"{100 * load.share_ratio:.1f} %"),
            ]
            for load in loads
        ],
    )


def _gear(view: View, name: str) -> str:
    return "the house" if name == "house" else words.box(view.rig, name)


def _addresses(view: View) -> Iterator[Block]:
    found = addressed(view.rig)
    if not found:
        return
    yield heading("Addresses")
    yield table(
        [column("Box", 3), column("Address", 1.5), column("Mask", 1.5), column("", 1.5)],
        [
            [
                remark(words.box(view.rig, one.gear.id)),
                cell(one.address),
                cell(one.netmask),
                cell("mask assumed" if one.assumed_mask else ""),
            ]
            for one in found
        ],
    )


def _clock(view: View) -> Iterator[Block]:
    trees = clock_trees(view.rig, view.clock_domains)
    if not trees:
        return
    yield heading("Clock, and what happens when a box goes off")
    rows: list[list[Cell]] = []
    for tree in trees:
        for cycle in tree.cycles:
            follows = dict(tree.follows).get(cycle.off)
            role = "leads" if cycle.off == tree.leader else "stands alone or elects"
            if follows is not None:
                role = f"follows {words.box(view.rig, follows)}"
            rows.append(
                [
                    remark(words.box(view.rig, cycle.off)),
                    remark(role),
                    remark(_off(view, cycle)),
                    figure(cycle.boot_s, decimals=0),
                ]
            )
    yield table(
        [
            column("Box", 1.8),
            column("Its clock", 2),
            column("When it goes off", 4),
            numbers("Back after", 1, unit="s"),
        ],
        rows,
    )


def _off(view: View, cycle: Cycle) -> str:
    if cycle.rides_through:
        return "everybody else keeps the clock"
    if cycle.may_lead:
        return f"an election among {listed(words.box(view.rig, b) for b in cycle.may_lead)}"
    names = listed(words.box(view.rig, b) for b in cycle.adrift)
    return f"{names} lose their clock" if names else "nothing says who leads"


def _feeding(view: View) -> Iterator[Block]:
    found = budgets(view.rig, view.cables)
    if not found:
        return
    yield heading("Power over network leads")
    yield table(
        [
            column("Box", 2),
            column("Fed by", 2.4),
            numbers("Socket gives", 1.2, unit="W"),
            numbers("Takes", 1.6, unit="W"),
            numbers("Of the budget", 1.4, unit="W"),
        ],
        [
            [
                remark(words.box(view.rig, fed.gear.id)),
                remark(words.place(view.rig, fed.socket)),
                figure(fed.gives_w),
                ranged(fed.takes_w, 1),
                figure(budget.budget_w),
            ]
            for budget in found
            for fed in budget.fed
        ],
    )


def _control(view: View) -> Iterator[Block]:
    link = control_link(view.rig)
    if link is None:
        return
    yield heading("Control over Wi-Fi")
    if link.received_dbm is None or link.distance_m is None or link.path_db is None:
        yield say(f"{opening(needs(link.missing))}.")
        return
    yield say(
        f"{link.band}, {plain(link.mhz, 0)} MHz, the farthest tablet at "
        f"{plain(float(link.distance_m), 0)} m ({link.distance_m.provenance}): the way takes "
        f"{plain(link.path_db, 0)} dB, people {between(*link.crowd_db, 0)}; "
        f"{plain(link.received_dbm.value, 0)} dBm arrive (likely "
        f"{between(link.received_dbm.low, link.received_dbm.high, 0)}), "
        f"{plain(link.needs_dbm, 0)} are wanted."
        + (f" {opening(needs(link.missing))}." if link.missing else "")
    )


def _radio(view: View) -> Iterator[Block]:
    found = air(view.rig)
    if not found.carriers and not found.unknown:
        return
    yield heading("Wireless packs and microphones")
    if found.carriers:
        yield _carriers(found)
    if found.unknown:
        names = [f"the frequency of {name}" for name in found.unknown]
        yield say(f"{opening(needs(names, most=6))}.")
    if not found.all_counted:
        yield say("Of so many carriers not all kinds of products were counted.")
    runs = coax_runs(view.rig)
    for run in runs:
        loss = plain(run.loss_db) + " dB" if run.loss_db is not None else needs(["its figures"])
        yield say(f"Antenna lead {run.name}: {loss}.")


def _carriers(found: Air) -> Block:
    rows: list[list[Cell]] = []
    for carrier in found.carriers:
        hits = [m for m in found.meetings if m.hits is carrier or m.hits == carrier]
        near = [n for n in found.near if carrier in (n.one, n.other)]
        said = "; ".join(m.formula for m in hits[:4]) + (
            f" and {len(hits) - 4} more" if len(hits) > 4 else ""
        )
        rows.append(
            [
                remark(carrier.link.id),
                cell(f"{carrier.mhz:g}"),
                cell(str(len(hits))),
                remark(said or "none"),
                cell(f"{min(n.spacing_mhz for n in near):g} MHz" if near else "far enough"),
            ]
        )
    return table(
        [
            column("Link", 1.5),
            numbers("Frequency", 1, unit="MHz"),
            numbers("Products on it", 1),
            column("Which", 4),
            column("Nearest too near", 1.2),
        ],
        rows,
    )
