"""Audio in packets: what each stream weighs on the wire, each socket carries, each way takes.

A stream of the file is cut into flows of at most eight channels, as every receiver must take
them; a packet lasts as long as the latency that is set allows. Boxes that pack otherwise weigh
otherwise; what is found here is the order of it, headers included.
"""

from collections.abc import Mapping

import msgspec

from rigproof.network.cabling import HANDS_ON, Cabling, Link, cabling
from rigproof.physics import frames, hops
from rigproof.rig import Rig, Stream
from rigproof.rig.geartype import Port
from rigproof.rig.lanes import Socket
from rigproof.rig.quantity import Milliseconds
from rigproof.rig.ref import HOUSE, PortRef

FLOW_CHANNELS = frames.REQUIRED_CHANNELS
SAMPLE_BYTES = 3
USUAL_RATE_HZ = 48_000.0
# AES67 packet times, longest first; a receiver waits for three packets at least (from memory).
PACKET_TIMES_US = (1000.0, 333.0, 250.0, 125.0)
WAITED_PACKETS = 3
USUAL_LATENCY = Milliseconds(3, "assumed")
# Of a link for media in packets: IEEE 802.1Qav.
MEDIA_SHARE = 0.75
USUAL_SPEED_MBPS = 100.0  # the slowest that such a socket is sold with


class Flow(msgspec.Struct, frozen=True):
    """One stream of the file, in packets."""

    stream: Stream
    channels: int
    flows: int  # multicast groups or unicast sessions it takes
    rate_hz: float
    packet_us: float
    packets_hz: float  # of all flows together
    mbps: float  # on the wire, everything included
    ways: tuple[Link, ...] | None  # in order; None where no leads join the ends
    again: tuple[Link, ...]  # the same once more, where a redundant way is laid
    latency_ms: Milliseconds  # as set, or the usual
    latency_stated: bool


class Crossing(msgspec.Struct, frozen=True):
    """How long the packets of one stream take on their way, and what is left of the latency."""

    flow: Flow
    switches: int
    needs_ms: float  # a packet's own time, storing, and a frame already on each wire
    sleeping_ms: float  # what ports that save energy may add
    slowest_mbps: float
    wire_us: float  # of `needs_ms`: all flows one after the other on one wire
    stored_us: float  # of `needs_ms`: a packet kept whole in each switch
    metres_m: float

    @property
    def fits(self) -> bool:
        return self.needs_ms + self.sleeping_ms <= self.flow.latency_ms


class SocketLoad(msgspec.Struct, frozen=True):
    """What one socket of a box sends out, in the worse of its two ways.

    `filtered_mbps`: only the streams that are on their way through it; `flooded_mbps`: with every
    multicast stream of the network, as switches without filtering send them. `carries_mbps` is
    the one of the two that counts here.
    """

    gear: str
    socket: str
    speed_mbps: float
    speed_stated: bool
    streams: tuple[str, ...]
    filtered_mbps: float
    flooded_mbps: float
    filters: bool

    @property
    def carries_mbps(self) -> float:
        return self.filtered_mbps if self.filters else self.flooded_mbps

    @property
    def share_ratio(self) -> float:
        return self.carries_mbps / self.speed_mbps


def flows(rig: Rig, cables: Cabling | None = None) -> tuple[Flow, ...]:
    """Every stream of the file with its weight and its way."""
    cables = cables or cabling(rig)
    rates = {clock.gear: float(clock.rate_hz) for clock in rig.file.clocks}
    ways: dict[tuple[str, str], tuple[tuple[Link, ...], ...]] = {}
    found: list[Flow] = []
    for stream in rig.file.streams:
        ends = (stream.from_.gear, stream.to.gear)
        if ends not in ways:
            ways[ends] = cables.ways(*ends)
        way, again = (*ways[ends], None, None)[:2]
        rate_hz = rates.get(stream.from_.gear, USUAL_RATE_HZ)
        latency = stream.latency_ms if stream.latency_ms is not None else USUAL_LATENCY
        channels = _channels(rig, stream)
        packet_us = packet_time_us(float(latency))
        samples = frames.packet_samples(rate_hz=rate_hz, packet_us=packet_us)
        full, rest = divmod(channels, FLOW_CHANNELS)
        sizes = [FLOW_CHANNELS] * full + ([rest] if rest else [])
        mbps = sum(
            frames.stream_mbps(
                channels=size, sample_bytes=SAMPLE_BYTES, samples=samples, rate_hz=rate_hz
            )
            for size in sizes
        )
        found.append(
            Flow(
                stream,
                channels,
                len(sizes),
                rate_hz,
                packet_us,
                len(sizes) * rate_hz / samples,
                mbps,
                way,
                again or (),
                latency,
                stream.latency_ms is not None,
            )
        )
    return tuple(found)


def packet_time_us(latency_ms: float) -> float:
    """The longest packet time of which the latency holds three; the shortest where none fits."""
    for packet_us in PACKET_TIMES_US:
        if WAITED_PACKETS * packet_us <= 1000 * latency_ms + 1e-6:
            return packet_us
    return PACKET_TIMES_US[-1]


def _channels(rig: Rig, stream: Stream) -> int:
    """The lanes that a stream takes out of its sender."""
    ref = stream.from_
    picked = ref.lanes or ref.numbers
    if ref.gear == HOUSE or ref.gear not in rig.gear:
        return _width(picked) or 1
    port = rig.type_of(ref.gear).banks.get(ref.bank)
    if not isinstance(port, Port):
        return 1
    each = port.lanes_tx if port.way == "both" else port.lanes
    if port.count > 1:
        return _width(ref.numbers) * (_width(ref.lanes) or each) if ref.numbers else each
    return _width(picked) or each


def _width(numbers: tuple[int, int] | None) -> int:
    return numbers[1] - numbers[0] + 1 if numbers else 0


def crossings(rig: Rig, found: tuple[Flow, ...]) -> tuple[Crossing, ...]:
    """The time each stream needs between its boxes, as far as leads join them.

    Each switch stores a packet whole and may have to let one full frame of another finish; every
    link adds its length. The last receiver waits for one packet to be complete.
    """
    result: list[Crossing] = []
    for flow in found:
        if flow.ways is None:
            continue
        switches = max(0, len(flow.ways) - 1)
        slowest = min((_speed(link) for link in flow.ways), default=USUAL_SPEED_MBPS)
        bps = slowest * 1e6
        samples = frames.packet_samples(rate_hz=flow.rate_hz, packet_us=flow.packet_us)
        audio = frames.audio_bytes(
            channels=min(flow.channels, FLOW_CHANNELS), samples=samples, sample_bytes=SAMPLE_BYTES
        )
        payload = audio + frames.rtp_header_bytes() + frames.UDP_BYTES + frames.IP_BYTES
        metres = sum(float(link.lead.length_m or 0) for link in flow.ways)
        # A burst: all flows of one stream leave together, and the last waits for the others.
        wire_us = flow.flows * hops.frame_us(
            frame_bytes=frames.on_wire_bytes(payload), link_bps=bps
        )
        stored_us = hops.switches_us(
            switches=switches, frame_bytes=frames.frame_bytes(payload), link_bps=bps
        )
        blocked_us = switches * hops.blocked_us(link_bps=bps)
        needs_us = (
            flow.packet_us + wire_us + float(stored_us) + blocked_us + metres * hops.COPPER_US_PER_M
        )
        result.append(
            Crossing(
                flow,
                switches,
                needs_us / 1000,
                _sleeping_ms(rig, flow.ways),
                slowest,
                wire_us,
                float(stored_us),
                metres,
            )
        )
    return tuple(result)


def _sleeping_ms(rig: Rig, ways: tuple[Link, ...]) -> float:
    """What ports of switches that save energy, and cannot be told not to, may add."""
    total_us = 0.0
    for link in ways:
        for box in link.boxes:
            if box in rig.gear and rig.type_of(box).energy_saving == "on":
                fast = _speed(link) >= 1000
                total_us += hops.wake_us("1 Gb/s" if fast else "100 Mb/s")
    return total_us / 1000


def _speed(link: Link) -> float:
    """The slower of the two sockets of a link."""
    stated = [
        float(socket.port.speed_mbps)
        for socket in (link.start, link.end)
        if socket.port is not None and socket.port.speed_mbps is not None
    ]
    return min(stated, default=USUAL_SPEED_MBPS)


def socket_loads(
    rig: Rig, found: tuple[Flow, ...], cables: Cabling | None = None
) -> tuple[SocketLoad, ...]:
    """What each socket sends, for every box that streams leave or pass, in the order of the file.

    A stream whose way is not laid still leaves its sender. Flooding reaches what packets reach
    through switches, but goes no further than the last box.
    """
    cables = cables or cabling(rig)
    sent: dict[str, list[Flow]] = {}
    sockets: dict[str, tuple[str, Socket, float, bool]] = {}
    for flow in found:
        here = flow.stream.from_.gear
        if flow.ways is None:
            socket = _own_socket(rig, flow.stream.from_)
            if socket is not None:
                own_mbps = socket.port.speed_mbps if socket.port else None
                sockets.setdefault(
                    socket.key,
                    (here, socket, float(own_mbps or USUAL_SPEED_MBPS), own_mbps is not None),
                )
                sent.setdefault(socket.key, []).append(flow)
            continue
        for way in (flow.ways, flow.again):
            here = flow.stream.from_.gear
            for link in way:
                socket = cables.socket_at(link, here)
                stated = any(s.port and s.port.speed_mbps for s in (link.start, link.end))
                sockets.setdefault(socket.key, (here, socket, _speed(link), stated))
                sent.setdefault(socket.key, []).append(flow)
                here = cables.beyond(link, here).gear
    flood = _flooded(rig, found, cables, sockets)
    loads: list[SocketLoad] = []
    for key, (gear, _, speed, is_stated) in sockets.items():
        own = sum(flow.mbps for flow in sent.get(key, ()))
        loads.append(
            SocketLoad(
                gear,
                key,
                speed,
                is_stated,
                tuple(flow.stream.id for flow in sent.get(key, ())),
                own,
                max(own, flood.get(key, 0.0)),
                _filters(rig, gear),
            )
        )
    return tuple(loads)


def _own_socket(rig: Rig, ref: PortRef) -> Socket | None:
    if ref.gear not in rig.gear:
        return None
    port = rig.type_of(ref.gear).banks.get(ref.bank)
    return Socket(ref.gear, port, 1) if isinstance(port, Port) else None


def _filters(rig: Rig, gear: str) -> bool:
    """Whether a box sends on only what was asked for; what is no switch sends what it has."""
    if gear not in rig.gear:
        return True
    type_ = rig.type_of(gear)
    return type_.class_ not in HANDS_ON or bool(type_.igmp)


def _flooded(
    rig: Rig,
    found: tuple[Flow, ...],
    cables: Cabling,
    sockets: dict[str, tuple[str, Socket, float, bool]],
) -> Mapping[str, float]:
    """What the sockets of switches send if every stream that enters a switch leaves everywhere."""
    entering: dict[str, float] = {}
    for flow in found:
        here = flow.stream.from_.gear
        for switch in dict.fromkeys(_switches(rig, flow, cables, here)):
            entering[switch] = entering.get(switch, 0.0) + flow.mbps
    flood: dict[str, float] = {}
    for switch, mbps in entering.items():
        for link in cables.packet_links(switch):
            socket = cables.socket_at(link, switch)
            stated = any(s.port and s.port.speed_mbps for s in (link.start, link.end))
            sockets.setdefault(socket.key, (switch, socket, _speed(link), stated))
            flood[socket.key] = mbps
    return flood


def _switches(rig: Rig, flow: Flow, cables: Cabling, here: str) -> list[str]:
    found: list[str] = []
    start = here
    for way in (flow.ways or (), flow.again):
        here = start
        for link in way:
            for box in (here, cables.beyond(link, here).gear):
                if box in rig.gear and rig.type_of(box).class_ in HANDS_ON:
                    found.append(box)
            here = cables.beyond(link, here).gear
    return found
