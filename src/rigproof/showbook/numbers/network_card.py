"""The network and radio card: streams and their weight, addresses, clock, power, Wi-Fi, packs."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.network.addresses import Addressed, addressed
from rigproof.network.airwaves import Air, air, coax_runs
from rigproof.network.antennas import Antenna, antennas
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
from rigproof.showbook.edition import Edition
from rigproof.signal import words
from rigproof.wording import listed, opening
from rigproof.wording.sentences import Figure, joined, sentence


def blocks(view: View, edition: Edition) -> Iterator[Block]:
    """Everything that runs in packets or through the air; nothing where nothing does."""
    found = [
        *_traffic(view),
        *_addresses(view),
        *_clock(view),
        *_feeding(view),
        *_control(view, edition),
        *_radio(view, edition),
    ]
    yield from found or [say(sentence("Nothing of this rig runs in packets or through the air."))]
    yield left_out(
        sentence(
            "what boxes say of themselves beside the sound, other people's networks "
            "and transmitters, walls and reflections, filters in receivers. Whether "
            "a frequency may be used here is a matter of the law of the place."
        )
    )


def _traffic(view: View) -> Iterator[Block]:
    rig = view.rig
    found = flows(rig, view.cables)
    if not found:
        return
    times = {c.flow.stream.id: c for c in crossings(rig, found)}
    yield heading(sentence("Streams"))
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
                remark(joined(" \u2192 ", (_gear(view, end) for end in ends))),
                cell(str(flow.channels)),
                cell(plain(flow.mbps)),
                cell(plain(flow.packet_us, 0)),
                figure(flow.latency_ms, decimals=2),
                cell(needed),
                remark(
                    (sentence("fits") if crossing.fits else sentence("does not fit"))
                    if crossing
                    else sentence("cannot judge: needs the leads between them")
                ),
            ]
        )
    yield table(
        [
            column(sentence("Stream"), 1.3),
            column(sentence("Way"), 2.3),
            numbers(sentence("Channels"), 0.8),
            numbers(sentence("Weight"), 1.1, unit="Mb/s"),
            numbers(sentence("Packet"), 0.8, unit="\u00b5s"),
            numbers(sentence("Latency set"), 1.2, unit="ms"),
            numbers(sentence("Needs"), 0.8, unit="ms"),
            column("", 1.6),
        ],
        rows,
    )
    loads = socket_loads(rig, found, view.cables)
    yield heading(sentence("What each socket sends"))
    yield table(
        [
            column(sentence("Socket"), 3),
            numbers(sentence("Filtered"), 1, unit="Mb/s"),
            numbers(sentence("Flooded"), 1, unit="Mb/s"),
            numbers(sentence("Of"), 1.4, unit="Mb/s"),
            numbers(sentence("Share"), 0.8),
        ],
        [
            [
                remark(words.place(rig, load.socket)),
                cell(plain(load.filtered_mbps)),
                cell(plain(load.flooded_mbps)),
                cell(plain(load.speed_mbps, 0), "" if load.speed_stated else "assumed"),
                cell(sentence("{share:.1f} %", share=100 * load.share_ratio)),
            ]
            for load in loads
        ],
    )


def _gear(view: View, name: str) -> str:
    return sentence("the house") if name == "house" else words.box(view.rig, name)


def _addresses(view: View) -> Iterator[Block]:
    masks = {one.gear.id: one for one in addressed(view.rig)}
    found = address_plan(view.rig, view.cables)
    if not found:
        return
    yield heading(sentence("Addresses"))
    for network in found:
        changes = any(box.changed for box in network.boxes)
        told = sentence(
            "Network {begins}0, mask {netmask}: {because}.",
            begins=network.range,
            netmask=network.netmask,
            because=network.because,
        )
        if network.leased is not None:
            told += sentence(
                " The router hands out {first} to {last}.",
                first=network.leased[0],
                last=network.leased[1],
            )
        yield say(told)
        yield table(
            [
                column(sentence("Box"), 2.6),
                column(sentence("Has"), 1.4),
                column(sentence("Mask"), 1.8),
                column(sentence("Proposed") if changes else sentence("Stays"), 1.4),
            ],
            [
                [
                    remark(words.box(view.rig, box.gear.id)),
                    cell(box.stated or sentence("none stated")),
                    cell(_mask(masks.get(box.gear.id))),
                    cell(box.proposed if box.changed else sentence("stays")),
                ]
                for box in network.boxes
            ],
        )


def _mask(one: Addressed | None) -> str:
    if one is None:
        return DASH
    return sentence("{netmask} assumed", netmask=one.netmask) if one.assumed_mask else one.netmask


def _clock(view: View) -> Iterator[Block]:
    trees = clock_trees(view.rig, view.clock_domains)
    if not trees:
        return
    yield heading(sentence("Clock, and what happens when a box goes off"))
    rows: list[list[Cell]] = []
    for tree in trees:
        for cycle in tree.cycles:
            follows = dict(tree.follows).get(cycle.off)
            role = (
                sentence("leads the clock")
                if cycle.off == tree.leader
                else sentence("stands alone or elects")
            )
            if follows is not None:
                role = sentence("follows {box}", box=words.box(view.rig, follows))
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
            column(sentence("Box"), 1.8),
            column(sentence("Its clock"), 2),
            column(sentence("When it goes off"), 4),
            numbers(sentence("Back after"), 1, unit="s"),
        ],
        rows,
    )


def _off(view: View, cycle: Cycle) -> str:
    if cycle.rides_through:
        return sentence("everybody else keeps the clock")
    if cycle.may_lead:
        return sentence(
            "an election among {names}",
            names=listed(words.box(view.rig, b) for b in cycle.may_lead),
        )
    names = listed(words.box(view.rig, b) for b in cycle.adrift)
    return (
        sentence("no clock left for {names}", names=names)
        if names
        else sentence("nothing says who leads")
    )


def _feeding(view: View) -> Iterator[Block]:
    found = budgets(view.rig, view.cables)
    if not found:
        return
    yield heading(sentence("Power over network leads"))
    yield table(
        [
            column(sentence("Box"), 2),
            column(sentence("Fed by"), 2.4),
            numbers(sentence("Socket gives"), 1.2, unit="W"),
            numbers(sentence("Takes"), 1.6, unit="W"),
            numbers(sentence("Of the budget"), 1.4, unit="W"),
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


def _control(view: View, edition: Edition) -> Iterator[Block]:
    control, link = view.rig.file.control, control_link(view.rig)
    if control is None or link is None:
        return
    yield heading(sentence("Control over Wi-Fi"))
    if link.received_dbm is None or link.path_db is None or link.distance_m is None:
        yield say(sentence("{needs}.", needs=opening(needs(link.missing))))
    else:
        yield table(
            [
                column(sentence("From the tablet to the access point"), 3),
                numbers(sentence("Takes or gives"), 1.2, unit="dB"),
                numbers(sentence("Comes to"), 1.4, unit="dBm"),
                column("", 2.6),
            ],
            _budget(link, edition),
        )
        if link.missing:
            yield say(sentence("{needs}.", needs=opening(needs(link.missing))))
    yield say(_antenna(link, edition))
    wire = {
        True: sentence("A wire is ready as well."),
        False: sentence("There is no wire to fall back on."),
    }
    said = wire.get(control.wired_fallback) if control.wired_fallback is not None else None
    yield say(
        sentence(
            "{said} Without any control: {works_without}.",
            said=said or sentence("Whether a wire is ready as well is not stated."),
            works_without=control.works_without.rstrip(".")
            or sentence("not stated what still works"),
        )
    )
    choices = channel_choices(view.rig)
    if choices:
        told = joined(" \u00b7 ", map(_choice, choices))
        yield run(
            sentence(
                "Channels of {band} to try, each 20 MHz wide, in MHz: {told}",
                band=Figure(link.band),
                told=told,
            ),
            "",
        )
        yield say(
            sentence(
                "They touch one another nowhere. Which may be used here, indoors or out, "
                "and where radar goes first, is the law of the place; look for the "
                "emptiest on the night."
            )
        )


def _budget(link: ControlLink, edition: Edition) -> list[list[Cell]]:
    """The worst case line by line: what is sent, what the way takes, what is left over."""
    assert link.received_dbm is not None
    assert link.path_db is not None
    assert link.distance_m is not None
    power = link.power_dbm if link.power_dbm is not None else TABLET_DBM
    metres = sentence(
        "{length} at {mhz} MHz",
        length=edition.length(round(float(link.distance_m))),
        mhz=plain(link.mhz, 0),
    )
    rows: list[list[Cell]] = []
    running = float(power)
    rows.append(
        [
            cell(sentence("the tablet sends")),
            cell(""),
            cell(plain(running), power.provenance),
            cell(""),
        ]
    )
    for what, step, note in (
        (sentence("its antenna"), TABLET_DBI, ""),
        (sentence("free space"), -link.path_db, metres),
        (
            sentence("people between"),
            -max(link.crowd_db),
            sentence("likely {between} dB", between=between(*link.crowd_db, 0)),
        ),
        (sentence("the access point's antenna"), STAFF_DBI, ""),
    ):
        running += step
        rows.append([cell(what), cell(signed(step)), cell(plain(running)), remark(note)])
    rows.append(
        [
            cell(sentence("wanted without stutter")),
            cell(""),
            cell(plain(link.needs_dbm)),
            remark(sentence("{running} dB to spare", running=signed(running - link.needs_dbm))),
        ]
    )
    return rows


def _antenna(link: ControlLink, edition: Edition) -> str:
    if link.antenna_up_m is None:
        return sentence(
            "{needs} for whether it clears the heads.",
            needs=opening(needs([sentence("antenna_up_m under control")])),
        )
    return sentence(
        "The antenna stands {high} up, {clears} the heads of a standing audience ({heads}).",
        high=edition.length(round(float(link.antenna_up_m), 1)),
        clears=sentence("above") if link.over_heads else sentence("not above"),
        heads=edition.length(OVER_HEADS_M),
    )


def _choice(choice: ChannelChoice) -> str:
    low, high = choice.edges_mhz
    stated = sentence(" as the file has it") if choice.stated else ""
    return sentence(
        "{channel}{stated}, {low} to {high}",
        channel=choice.channel,
        stated=stated,
        low=plain(low, 0),
        high=plain(high, 0),
    )


def _radio(view: View, edition: Edition) -> Iterator[Block]:
    found = air(view.rig)
    if not found.carriers and not found.unknown:
        return
    yield heading(sentence("Wireless packs and microphones"))
    if found.carriers:
        yield _carriers(found)
    if found.unknown:
        names = [sentence("the frequency of {name}", name=name) for name in found.unknown]
        yield say(sentence("{needs}.", needs=opening(needs(names, most=6))))
    if not found.all_counted:
        yield say(sentence("Of so many carriers not all kinds of products were counted."))
    runs = coax_runs(view.rig)
    for coax in runs:
        loss = (
            sentence("{loss_db} dB", loss_db=plain(coax.loss_db))
            if coax.loss_db is not None
            else needs([sentence("its figures")])
        )
        metres = (
            sentence(
                ", {length} at {at_mhz:g} MHz",
                length=edition.length(coax.length_m or 0.0),
                at_mhz=coax.at_mhz,
            )
            if coax.loss_db is not None
            else ""
        )
        yield say(
            sentence(
                "Antenna lead {coax}{metres}: {loss}.", coax=coax.name, metres=metres, loss=loss
            )
        )
    yield from _heights(view, edition)


def _heights(view: View, edition: Edition) -> Iterator[Block]:
    """How high the antennas of the packs stand, those of one height together."""
    alike: dict[float | None, list[Antenna]] = {}
    for one in antennas(view.rig):
        alike.setdefault(None if one.up_m is None else float(one.up_m), []).append(one)
    for up_m, found in alike.items():
        names = listed(words.box(view.rig, one.gear.id) for one in found)
        if up_m is None:
            yield say(
                sentence(
                    "How high the antennas of {names} stand cannot be judged: needs antenna_up_m.",
                    names=names,
                )
            )
            continue
        yield say(
            sentence(
                "The antennas of {names} stand {high} up, {verdict} ({over_heads}).",
                names=names,
                high=edition.length(up_m),
                verdict=sentence("above standing heads")
                if found[0].over_heads
                else sentence("not above standing heads"),
                over_heads=edition.length(OVER_HEADS_M),
            )
        )


def _carriers(found: Air) -> Block:
    rows: list[list[Cell]] = []
    for carrier in found.carriers:
        hits = [meeting for meeting in found.meetings if meeting.hits == carrier]
        said = joined(
            "; ",
            (
                sentence("order {order}: {formula}", order=m.order, formula=Figure(m.formula))
                for m in hits[:4]
            ),
        )
        if len(hits) > 4:
            said = sentence("{names} and {count} more", names=said, count=len(hits) - 4)
        apart = [abs(one.mhz - carrier.mhz) for one in found.carriers if one is not carrier]
        near = any(carrier in (n.one, n.other) for n in found.near)
        rows.append(
            [
                remark(carrier.link.id),
                cell(sentence("{mhz:g}", mhz=carrier.mhz)),
                cell(
                    sentence("{apart_mhz:.4g} too near", apart_mhz=min(apart))
                    if near
                    else Figure(f"{min(apart):.4g}")
                    if apart
                    else DASH
                ),
                cell(str(len(hits))),
                remark(said or sentence("none of third or fifth order, of two or three carriers")),
            ]
        )
    return table(
        [
            column(sentence("Link"), 1.5),
            numbers(sentence("Frequency"), 1, unit="MHz"),
            numbers(sentence("To the nearest"), 1.2, unit="MHz"),
            numbers(sentence("Products on it"), 0.9),
            column(sentence("Which"), 4),
        ],
        rows,
    )
