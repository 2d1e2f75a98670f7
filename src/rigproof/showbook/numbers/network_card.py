"""The network and radio card: streams and their weight, addresses, clock, power, Wi-Fi, packs."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.network.addresses import Addressed, addressed
from rigproof.network.airwaves import Air, air, coax_runs
from rigproof.network.control_link import (
    OVER_HEADS_M,
    STAFF_DBI,
    TABLET_DBI,
    TABLET_DBM,
    ChannelChoice,
    ControlLink,
    channel_choices,
    control_link,
)
from rigproof.network.feeding import budgets
from rigproof.network.plan import address_plan
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
    run,
    say,
    signed,
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
            column("Way", 2.3),
            numbers("Channels", 0.8),
            numbers("Weight", 1.1, unit="Mb/s"),
            numbers("Packet", 0.8, unit="\u00b5s"),
            numbers("Latency set", 1.2, unit="ms"),
            numbers("Needs", 0.8, unit="ms"),
            column("", 1.6),
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
    masks = {one.gear.id: one for one in addressed(view.rig)}
    found = address_plan(view.rig, view.cables)
    if not found:
        return
    yield heading("Addresses")
    for network in found:
        changes = any(box.changed for box in network.boxes)
        told = f"Network {network.range}0, mask {network.netmask}: {network.because}."
        if network.leased is not None:
            told += f" The router hands out {network.leased[0]} to {network.leased[1]}."
        yield say(told)
        yield table(
            [
                column("Box", 2.6),
                column("Has", 1.4),
                column("Mask", 1.8),
                column("Proposed" if changes else "Stays", 1.4),
            ],
            [
                [
                    remark(words.box(view.rig, box.gear.id)),
                    cell(box.stated or "none stated"),
                    cell(_mask(masks.get(box.gear.id))),
                    cell(box.proposed if box.changed else "stays"),
                ]
                for box in network.boxes
            ],
        )


def _mask(one: Addressed | None) -> str:
    if one is None:
        return DASH
    return f"{one.netmask} assumed" if one.assumed_mask else one.netmask


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
    control, link = view.rig.file.control, control_link(view.rig)
    if control is None or link is None:
        return
    yield heading("Control over Wi-Fi")
    if link.received_dbm is None or link.path_db is None or link.distance_m is None:
        yield say(f"{opening(needs(link.missing))}.")
    else:
        yield table(
            [
                column("From the tablet to the access point", 3),
                numbers("Takes or gives", 1.2, unit="dB"),
                numbers("Comes to", 1.4, unit="dBm"),
                column("", 2.6),
            ],
            _budget(link),
        )
        if link.missing:
            yield say(f"{opening(needs(link.missing))}.")
    yield say(_antenna(link))
    wire = {True: "A wire is ready as well.", False: "There is no wire to fall back on."}
    said = wire.get(control.wired_fallback) if control.wired_fallback is not None else None
    yield say(
        f"{said or 'Whether a wire is ready as well is not stated.'} Without any control: "
        f"{(control.works_without or 'not stated what still works').rstrip('.')}."
    )
    choices = channel_choices(view.rig)
    if choices:
        told = " \u00b7 ".join(_choice(choice) for choice in choices)
        yield run(f"Channels of {link.band} to try, each 20 MHz wide, in MHz: {told}", "")
        yield say(
            "They touch one another nowhere. Which may be used here, indoors or out, and where "
            "radar goes first, is the law of the place; look for the emptiest on the night."
        )


def _budget(link: ControlLink) -> list[list[Cell]]:
    """The worst case line by line: what is sent, what the way takes, what is left over."""
    assert link.received_dbm is not None
    assert link.path_db is not None
    assert link.distance_m is not None
    power = link.power_dbm if link.power_dbm is not None else TABLET_DBM
    metres = f"{plain(float(link.distance_m), 0)} m at {plain(link.mhz, 0)} MHz"
    rows: list[list[Cell]] = []
    running = float(power)
    rows.append(
        [cell("the tablet sends"), cell(""), cell(plain(running), power.provenance), cell("")]
    )
    for what, step, note in (
        ("its antenna", TABLET_DBI, ""),
        ("free space", -link.path_db, metres),
        ("people between", -max(link.crowd_db), f"likely {between(*link.crowd_db, 0)} dB"),
        ("the access point's antenna", STAFF_DBI, ""),
    ):
        running += step
        rows.append([cell(what), cell(signed(step)), cell(plain(running)), remark(note)])
    rows.append(
        [
            cell("wanted without stutter"),
            cell(""),
            cell(plain(link.needs_dbm)),
            remark(f"{signed(running - link.needs_dbm)} dB to spare"),
        ]
    )
    return rows


def _antenna(link: ControlLink) -> str:
    if link.antenna_up_m is None:
        return f"{opening(needs(['antenna_up_m under control']))} for whether it clears the heads."
    clears = "above" if link.over_heads else "not above"
    return (
        f"The antenna stands {plain(link.antenna_up_m)} m up, {clears} the heads of a standing "
        f"audience ({plain(OVER_HEADS_M)} m)."
    )


def _choice(choice: ChannelChoice) -> str:
    low, high = choice.edges_mhz
    stated = " as the file has it" if choice.stated else ""
    return f"{choice.channel}{stated}, {plain(low, 0)} to {plain(high, 0)}"


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
    for coax in runs:
        loss = plain(coax.loss_db) + " dB" if coax.loss_db is not None else needs(["its figures"])
        metres = f", {coax.length_m:g} m at {coax.at_mhz:g} MHz" if coax.loss_db is not None else ""
        yield say(f"Antenna lead {coax.name}{metres}: {loss}.")


def _carriers(found: Air) -> Block:
    rows: list[list[Cell]] = []
    for carrier in found.carriers:
        hits = [meeting for meeting in found.meetings if meeting.hits == carrier]
        said = "; ".join(f"order {m.order}: {m.formula}" for m in hits[:4])
        if len(hits) > 4:
            said += f" and {len(hits) - 4} more"
        apart = [abs(one.mhz - carrier.mhz) for one in found.carriers if one is not carrier]
        near = any(carrier in (n.one, n.other) for n in found.near)
        rows.append(
            [
                remark(carrier.link.id),
                cell(f"{carrier.mhz:g}"),
                cell(f"{min(apart):.4g}{' too near' if near else ''}" if apart else DASH),
                cell(str(len(hits))),
                remark(said or "none of third or fifth order, of two or three carriers"),
            ]
        )
    return table(
        [
            column("Link", 1.5),
            numbers("Frequency", 1, unit="MHz"),
            numbers("To the nearest", 1.2, unit="MHz"),
            numbers("Products on it", 0.9),
            column("Which", 4),
        ],
        rows,
    )
