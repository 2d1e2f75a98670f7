"""Why a figure of the network or of the air is what it is."""

from rigproof.network.airwaves import GUARD_MHZ, Air, CoaxRun
from rigproof.network.cabling import COPPER_LONGEST_M
from rigproof.network.control_link import STAFF_DBI, TABLET_DBI, TABLET_DBM, ControlLink
from rigproof.network.feeding import LOOP_OHM_PER_M, SUPPLY_V, Budget, Fed
from rigproof.network.traffic import (
    FLOW_CHANNELS,
    SAMPLE_BYTES,
    Crossing,
    Flow,
    SocketLoad,
)
from rigproof.physics import frames, hops
from rigproof.rig import Rig
from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import NOTHING, spread_db
from rigproof.signal.reasons import Line, Reason
from rigproof.signal.words import box, place


def why_bandwidth(flow: Flow) -> Reason:
    """What one stream weighs on the wire: packets each second, and the bytes of each."""
    name = flow.stream.name or flow.stream.id
    samples = frames.packet_samples(rate_hz=flow.rate_hz, packet_us=flow.packet_us)
    each_hz = flow.rate_hz / samples
    lines = [
        Line(place=name, what="samples of a channel in a packet", value=samples, unit="",
             provenance=flow.latency_ms.provenance, by="frames.packet_samples",
             inputs=(("rate_hz", Quantity(flow.rate_hz)),
                     ("packet_us", Quantity(flow.packet_us))),
             worked=f"{flow.packet_us:g} \u00b5s at {flow.rate_hz:g} Hz = {samples}"),
        Line(place=name, what="packets each second, of one flow", value=each_hz, unit="Hz",
             provenance="datasheet", worked=f"{flow.rate_hz:g} / {samples} = {each_hz:.1f}"),
    ]  # fmt: skip
    running = 0.0
    left = flow.channels
    for number in range(1, flow.flows + 1):
        channels = min(left, FLOW_CHANNELS)
        left -= channels
        audio = frames.audio_bytes(channels=channels, samples=samples, sample_bytes=SAMPLE_BYTES)
        headers = frames.rtp_header_bytes() + frames.UDP_BYTES + frames.IP_BYTES
        whole = frames.on_wire_bytes(audio + headers)
        mbps = frames.stream_mbps(
            channels=channels, sample_bytes=SAMPLE_BYTES, samples=samples, rate_hz=flow.rate_hz
        )
        running += mbps
        lines.append(
            Line(place=name, what=f"flow {number}, {channels} channels", value=mbps, unit="Mb/s",
                 provenance="datasheet", by="frames.stream_mbps", comes_to=running,
                 worked=f"({channels} x {samples} x {SAMPLE_BYTES} + {whole - audio}) bytes x 8 x "
                        f"{each_hz:.1f} / 1e6 = {mbps:.2f}")
        )  # fmt: skip
    return Reason(figure="bandwidth", value=flow.mbps, low=None, high=None, unit="Mb/s",
                  lines=tuple(lines))  # fmt: skip


def why_crossing(found: Crossing | None, name: str) -> Reason:
    """How long the packets of one stream take, against the latency that is set."""
    if found is None:
        return _waits("latency", "ms", (f"the leads between the ends of {name}",))
    flow = found.flow
    bps = found.slowest_mbps * 1e6
    lines: list[Line] = []
    running = 0.0
    speed = f"{found.slowest_mbps:g} Mb/s"
    for what, us, by, sum_ in (
        ("a packet's own time", flow.packet_us, "frames.packet_time_ms", ""),
        (f"on the wire at {speed}, packets: {flow.flows}", found.wire_us, "hops.frame_us",
         f"{flow.flows} x 8 x bytes / {speed}"),
        (f"stored whole, switches: {found.switches}", found.stored_us, "hops.switches_us", ""),
        ("a full frame of another before it at each switch",
         found.switches * hops.blocked_us(link_bps=bps), "hops.blocked_us",
         f"{found.switches} x {hops.blocked_us(link_bps=bps):.1f} \u00b5s"),
        (f"{found.metres_m:g} m of lead", found.metres_m * hops.COPPER_US_PER_M, "",
         f"{found.metres_m:g} x {hops.COPPER_US_PER_M:g} \u00b5s"),
        ("sockets that sleep and wake", 1000 * found.sleeping_ms, "hops.wake_us", ""),
    ):  # fmt: skip
        if us:
            running += us / 1000
            lines.append(
                Line(place=flow.stream.name or name, what=what, value=us / 1000, unit="ms",
                     provenance="typical", by=by, comes_to=running,
                     worked=f"{sum_} = {us / 1000:.4f} ms" if sum_ else "")
            )  # fmt: skip
    left = flow.latency_ms - running
    lines.append(
        Line(place=flow.stream.name or name, what="left of the latency that is set", value=left,
             unit="ms", provenance=flow.latency_ms.provenance,
             inputs=(("latency_ms", flow.latency_ms),),
             worked=f"{flow.latency_ms:g} - {running:.3f} = {left:.3f}")
    )  # fmt: skip
    return Reason(figure="latency", value=running, low=None, high=None, unit="ms",
                  lines=tuple(lines))  # fmt: skip


def why_socket(rig: Rig, load: SocketLoad, flows: tuple[Flow, ...]) -> Reason:
    """What one socket sends: the streams through it, and all of them where nothing filters."""
    lines: list[Line] = []
    running = 0.0
    for flow in flows:
        if flow.stream.id in load.streams:
            running += flow.mbps
            lines.append(
                Line(place=flow.stream.name or flow.stream.id, what="passes here",
                     value=flow.mbps, unit="Mb/s", provenance="datasheet",
                     by="frames.stream_mbps", comes_to=running)
            )  # fmt: skip
    if not load.filters and load.flooded_mbps > load.filtered_mbps:
        rest = load.flooded_mbps - load.filtered_mbps
        lines.append(
            Line(place=place(rig, load.socket), what="every other stream: nothing filters",
                 value=rest, unit="Mb/s", provenance="datasheet", comes_to=running + rest)
        )  # fmt: skip
    lines.append(
        Line(place=place(rig, load.socket), what="of what the socket can", unit="%",
             value=100 * load.share_ratio, provenance="datasheet" if load.speed_stated
             else "assumed",
             worked=f"100 x {load.carries_mbps:.1f} / {load.speed_mbps:g} = "
                    f"{100 * load.share_ratio:.1f}")
    )  # fmt: skip
    return Reason(figure="load", value=load.carries_mbps, low=None, high=None, unit="Mb/s",
                  lines=tuple(lines))  # fmt: skip


def why_fed(rig: Rig, budget: Budget, fed: Fed | None = None) -> Reason:
    """What a box takes at the socket that feeds it; of the giver, all of its boxes together."""
    lines: list[Line] = []
    running = 0.0
    for one in budget.fed if fed is None else (fed,):
        if one.takes_w is None or one.device_w is None:
            continue
        running += one.takes_w.value
        watts = one.device_w
        metres = float(one.length_m) if one.length_m is not None else COPPER_LONGEST_M
        lines.append(
            Line(place=box(rig, one.gear.id), what="takes at its socket, its lead included",
                 value=one.takes_w.value, unit="W", provenance=one.takes_w.provenance,
                 by="poe.cable_loss_w", comes_to=running,
                 inputs=(("device_w", watts),),
                worked=f"{watts:g} + ({watts:g} / {SUPPLY_V:g})^2 x {LOOP_OHM_PER_M:g} x "
                f"{metres:g} = "
                        f"{one.takes_w.value:.2f}")
        )  # fmt: skip
    if budget.budget_w is not None:
        left = budget.budget_w - budget.takes_w.value
        lines.append(
            Line(place=box(rig, budget.gear.id), what="left of its budget", value=left, unit="W",
                 provenance=budget.budget_w.provenance, inputs=(("budget_w", budget.budget_w),),
                 worked=f"{budget.budget_w:g} - {budget.takes_w.value:.2f} = {left:.2f}")
        )  # fmt: skip
    silent = tuple(f"the watts of {box(rig, gear.id)}" for gear in budget.unknown)
    taken = budget.takes_w if fed is None else (fed.takes_w or NOTHING)
    return Reason(figure="poe", value=running, low=taken.low, high=taken.high, unit="W",
                  lines=tuple(lines), missing=silent)  # fmt: skip


def why_control(link: ControlLink | None) -> Reason:
    """What arrives of the weaker end of the control link, in the likely worst case."""
    if link is None:
        return _waits("signal", "dBm", ("band under control",))
    if link.received_dbm is None or link.path_db is None or link.distance_m is None:
        return _waits("signal", "dBm", link.missing)
    power = link.power_dbm if link.power_dbm is not None else TABLET_DBM
    running = float(power)
    lines = [
        Line(place="the tablet", what="sends", value=power, unit="dBm",
             provenance=power.provenance, comes_to=running)
    ]  # fmt: skip
    metres, lost = float(link.distance_m), max(link.crowd_db)
    for where, what, value, by, sum_ in (
        ("the tablet", "its antenna", TABLET_DBI, "", ""),
        ("the air", f"{metres:g} m at {link.mhz:g} MHz", -link.path_db, "radio.free_space_db",
         f"-20 lg({metres:g} m x {link.mhz:g} MHz) + 27.55 = {-link.path_db:.1f}"),
        ("the audience", "people between the ends, at worst", -lost, "radio.round_body_db", ""),
        ("the access point", "its antenna", STAFF_DBI, "", ""),
    ):  # fmt: skip
        running += value
        lines.append(
            Line(place=where, what=what, value=value, unit="dB", provenance="assumed" if not by
                 else link.distance_m.provenance, by=by, worked=sum_, comes_to=running)
        )  # fmt: skip
    margin = running - link.needs_dbm
    lines.append(
        Line(place="the access point", what="above what it wants", value=margin, unit="dB",
             provenance=link.received_dbm.provenance,
             worked=f"{running:.1f} - ({link.needs_dbm:g}) = {margin:.1f}")
    )  # fmt: skip
    off_db = spread_db(power.provenance)  # of what is sent; the people are in both ends already
    return Reason(figure="signal", value=running, low=link.received_dbm.low - off_db,
                  high=link.received_dbm.high + off_db, unit="dBm", lines=tuple(lines),
                  missing=link.missing)  # fmt: skip


def why_products(found: Air, link_id: str) -> Reason:
    """The mixing products that fall on one carrier, each by its formula."""
    own = next((c for c in found.carriers if c.link.id == link_id), None)
    if own is None:
        return _waits("products", "", (f"the frequency of {link_id}",))
    lines = tuple(
        Line(place=" and ".join(dict.fromkeys(c.link.id for c in meeting.makers)),
             what=f"order {meeting.order}, {abs(meeting.off_mhz):.3f} MHz off",
             value=meeting.at_mhz, unit="MHz", provenance="datasheet", by="intermod.product_mhz",
             worked=f"{meeting.formula} = {meeting.at_mhz:.3f}")
        for meeting in found.meetings
        if meeting.hits == own
    )  # fmt: skip
    nearest = min(
        (abs(other.mhz - own.mhz) for other in found.carriers if other is not own), default=None
    )
    if nearest is not None:
        lines += (
            Line(place=link_id, what=f"to the nearest carrier; products count within "
                 f"{GUARD_MHZ:g} MHz", value=nearest, unit="MHz", provenance="datasheet"),
        )  # fmt: skip
    count = sum(meeting.hits == own for meeting in found.meetings)
    return Reason(figure="products", value=float(count), low=None, high=None,
                  unit="products on it", lines=lines)  # fmt: skip


def why_coax(run: CoaxRun) -> Reason:
    """What a lead to an antenna takes at the highest frequency."""
    known = run.loss_db is not None and run.at_mhz is not None and run.per_100_m_db is not None
    if not known or run.stated_db is None or run.stated_mhz is None:
        return _waits("loss", "dB", (f"the length of {run.name}, its loss, or a frequency",))
    assert run.loss_db is not None
    assert run.per_100_m_db is not None
    stated = (("loss_db_per_100_m", run.stated_db), ("loss_at_mhz", run.stated_mhz))
    per, metres = run.per_100_m_db, float(run.length_m or 0)
    lines = (
        Line(place=run.name, what=f"100 m of it at {run.at_mhz:g} MHz", value=per, unit="dB",
             provenance=run.provenance, inputs=stated,
             worked=f"{run.stated_db:g} x sqrt({run.at_mhz:g} / {run.stated_mhz:g}) = {per:.2f}"),
        Line(place=run.name, what="lost, with a plug at each end", value=run.loss_db, unit="dB",
             provenance=run.provenance, by="radio.coax_db",
             worked=f"{metres:g} x {per:.2f} / 100 + 2 plugs = {run.loss_db:.2f}"),
    )  # fmt: skip
    low, high = run.likely_db or (None, None)
    return Reason(figure="loss", value=run.loss_db, low=low, high=high, unit="dB",
                  lines=lines)  # fmt: skip


def _waits(figure: str, unit: str, missing: tuple[str, ...]) -> Reason:
    return Reason(figure=figure, value=None, low=None, high=None, unit=unit, lines=(),
                  missing=missing)  # fmt: skip
