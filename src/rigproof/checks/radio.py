"""Rules about wireless packs and microphones, and the Wi-Fi that the rig is controlled over."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.network.airwaves import (
    MOST_COAX_DB,
    SPACING_MHZ,
    Air,
    Meeting,
    Order,
    coax_runs,
    spare_mhz,
)
from rigproof.network.antennas import antennas
from rigproof.network.control_link import OVER_HEADS_M, control_link
from rigproof.signal.words import box, place
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence


def third_order(view: View) -> Iterator[Finding]:
    """Two or three transmitters together make a signal on a fourth one's frequency.

    Why: it comes and goes as people walk about, so each link is fine alone and one gargles when
        all are on.
    Fix: move the one that is hit, or one of its makers, to another frequency, and look again.
    Source: third-order products 2a - b and a + b - c, within half a channel of 200 kHz (EN 300
        422, from memory). How strong they are hangs on distances that no file knows.

    Fails:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: t2, type: transmitter-ears}
          - {id: t3, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: p2, type: pack-wireless}
          - {id: p3, type: pack-wireless}
        radio:
          - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
          - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 826.0}
          - {id: c, from: t3.rf, to: p3.rf, frequency_mhz: 828.0}
    Passes:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: t2, type: transmitter-ears}
          - {id: t3, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: p2, type: pack-wireless}
          - {id: p3, type: pack-wireless}
        radio:
          - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
          - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 826.0}
          - {id: c, from: t3.rf, to: p3.rf, frequency_mhz: 829.1}
    """
    yield from _hits(view, 3)


def fifth_order(view: View) -> Iterator[Finding]:
    """A weaker mixing product, of fifth order, falls on a frequency.

    Why: it is heard only where transmitters stand close together, such as in one rack.
    Fix: move the one that is hit where there is room; put the antennas further apart otherwise.
    Source: fifth-order products 3a - 2b, 3a - b - c and 2a + b - 2c, within half a channel of
        200 kHz (EN 300 422, from memory).

    Fails:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: t2, type: transmitter-ears}
          - {id: t3, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: p2, type: pack-wireless}
          - {id: p3, type: pack-wireless}
        radio:
          - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
          - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 825.0}
          - {id: c, from: t3.rf, to: p3.rf, frequency_mhz: 827.0}
    Passes:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: t2, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: p2, type: pack-wireless}
        radio:
          - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
          - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 825.0}
    """
    yield from _hits(view, 5)


def _hits(view: View, order: Order) -> Iterator[Finding]:
    """One finding for each link that is hit, with the first of its makers' sums."""
    found: dict[str, list[Meeting]] = {}
    for meeting in view.air.meetings:
        if meeting.order == order:
            found.setdefault(meeting.hits.link.id, []).append(meeting)
    free = spare_mhz(view.air.carriers) if found else None
    for meetings in found.values():
        first = meetings[0]
        more = (
            sentence(", and {meetings} more like it", meetings=len(meetings) - 1)
            if len(meetings) > 1
            else ""
        )
        yield Finding(
            at=first.hits.link.where.of("frequency_mhz"),
            says=sentence(
                "{formula} = {at_mhz:g} MHz{more}: that is where {link} is ({mhz:g} MHz).",
                formula=first.formula,
                at_mhz=first.at_mhz,
                more=more,
                link=first.hits.link.id,
                mhz=first.hits.mhz,
            ),
            fix=sentence(
                "Move it or one of its makers; {free:g} MHz meets nothing of third order.",
                free=free,
            )
            if free is not None
            else "",
            found=round(abs(first.off_mhz), 6),
            unit="MHz",
        )


def too_near(view: View) -> Iterator[Finding]:
    """Two wireless links stand closer than receivers tell apart.

    Why: the nearer transmitter is heard in the other one's ears, or as noise under it.
    Fix: leave two channels, 400 kHz, between carriers; what the maker states comes first.
    Source: EN 300 422 (200 kHz channels), from memory; two of them are common practice.

    Fails:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: t2, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: p2, type: pack-wireless}
        radio:
          - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
          - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 824.2}
    Passes:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: t2, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: p2, type: pack-wireless}
        radio:
          - {id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}
          - {id: b, from: t2.rf, to: p2.rf, frequency_mhz: 825.0}
    """
    for near in view.air.near:
        yield Finding(
            at=near.other.link.where.of("frequency_mhz"),
            says=sentence(
                "The links {link} ({mhz:g} MHz) and {link2} ({mhz2:g} MHz) are "
                "{spacing_mhz:g} MHz apart; {wanted_mhz:g} MHz are wanted.",
                link=near.one.link.id,
                mhz=near.one.mhz,
                link2=near.other.link.id,
                mhz2=near.other.mhz,
                spacing_mhz=near.spacing_mhz,
                wanted_mhz=SPACING_MHZ,
            ),
            found=near.spacing_mhz,
            limit=SPACING_MHZ,
            unit="MHz",
        )


def frequency_unknown(view: View) -> Iterator[Finding]:
    """Some of the wireless links state no frequency, so the set cannot be judged.

    Why: the one that is not on the list is the one that gargles: the microphones mix with the
        ears' transmitters like any other.
    Fix: give each pack and each microphone a line under radio with its frequency_mhz.
    Source: intermodulation counts all carriers that are on at once.

    Fails:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: rx, type: receiver-mic-dual}
        sources: [{id: v, name: Voice, family: voices, from: rx.out.1}]
        radio: [{id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}]
    Passes:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
        radio: [{id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}]
    """
    found: Air = view.air
    if len(found.carriers) + len(found.unknown) < 2:
        return
    if found.unknown:
        at = found.carriers[0].link.where if found.carriers else view.rig.file.gear[0].where
        yield Finding(
            at=at,
            says=sentence(
                "Which frequencies meet cannot be judged in full: needs that of {names}.",
                names=some(_words(view, name) for name in found.unknown),
            ),
        )
    elif not found.all_counted:
        yield Finding(
            at=found.carriers[0].link.where,
            says=sentence(
                "Of {carriers} carriers at once not every mixing product was counted.",
                carriers=len(found.carriers),
            ),
            fix=sentence("Look at the links of each band by themselves."),
        )


def _words(view: View, name: str) -> str:
    """A link by its name, a socket of a receiver in words."""
    return place(view.rig, name) if "." in name else sentence("the link {name}", name=name)


def coax_too_long(view: View) -> Iterator[Finding]:
    """The lead to an antenna takes half of the signal or more.

    Why: a better antenna further away is then worse than the stubby one at the rack.
    Fix: a thicker lead, a shorter one, or a box that strengthens at the antenna's end.
    Source: cable loss tables (the type's figure, grown with the root of the frequency), 0.5 dB
        for each plug; half the power, 3 dB, is common practice, no source.

    Fails:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: c, type: antenna-combiner-4}
        leads: [{id: coax, type: lead-antenna, from: t1.rf, to: c.in.1, length_m: 5}]
        radio: [{id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}]
    Passes:
        gear:
          - {id: t1, type: transmitter-ears}
          - {id: p1, type: pack-wireless}
          - {id: c, type: antenna-combiner-4}
        leads: [{id: coax, type: lead-antenna, from: t1.rf, to: c.in.1, length_m: 0.5}]
        radio: [{id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}]
    """
    at = {lead.id: lead.where for lead in view.rig.file.leads}
    for run in coax_runs(view.rig):
        if run.loss_db is not None and run.loss_db > MOST_COAX_DB:
            yield Finding(
                at=at[run.lead_id],
                says=sentence(
                    "The lead {run} takes {loss_db:.1f} dB at {at_mhz:g} MHz, plugs "
                    "included; {most_coax_db:g} dB is half of the power.",
                    run=run.name,
                    loss_db=run.loss_db,
                    at_mhz=run.at_mhz,
                    most_coax_db=MOST_COAX_DB,
                ),
                found=run.loss_db,
                limit=MOST_COAX_DB,
                unit="dB",
            )


def antenna_low(view: View) -> Iterator[Finding]:
    """The antennas of packs stand no higher than heads.

    Why: between an antenna in the case and a pack on a belt stand the band, its wearer and, in the
        house, an audience; each takes a part, and they move.
    Fix: put the antennas on a stand or a bar above the heads, in sight of everybody who wears a
        pack, and write antenna_up_m at the box or the antenna.
    Source: common practice, no source: 2.2 m clear standing heads. On-body propagation papers
        measure some 2 dB for each centimetre round a body at 2.4 GHz; less at lower frequencies.

    Fails:
        case: {type: case-12}
        gear:
          - {id: t1, name: Transmitter, type: transmitter-ears, unit: 1}
          - {id: p1, type: pack-wireless, place: person}
        radio: [{id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}]
    Passes:
        case: {type: case-12}
        gear:
          - {id: t1, name: Transmitter, type: transmitter-ears, unit: 1}
          - {id: p1, type: pack-wireless, place: person}
          - {id: bar, type: antenna-directional, place: stage, antenna_up_m: 2.5}
        leads: [{id: coax, type: lead-antenna, from: t1.rf, to: bar.antenna, length_m: 4}]
        radio: [{id: a, from: t1.rf, to: p1.rf, frequency_mhz: 824.0}]
    """
    low = [one for one in antennas(view.rig) if one.over_heads is False]
    if not low:
        return
    highest = max(one.up_m for one in low if one.up_m is not None)
    yield Finding(
        at=low[0].gear.where,
        says=sentence(
            "The antennas of {names} stand {up:.1f} m up at most; above standing heads means "
            "{over_heads_m:g} m.",
            names=some(box(view.rig, one.gear.id) for one in low),
            up=highest,
            over_heads_m=OVER_HEADS_M,
        ),
        found=float(highest),
        limit=OVER_HEADS_M,
        unit="m",
    )


def wifi_weak(view: View) -> Iterator[Finding]:
    """The control's Wi-Fi is weak at the farthest tablet.

    Why: it stutters first for the one who mixes from the middle of the room.
    Fix: move the access point nearer or higher, or control over a wire from there.
    Source: Friis (free space) with a tablet of 15 dBm and, through people, 6 to 20 dB less (10 cm
        of wave creeping round a body at 2 dB for each cm); -67 dBm is common practice, no source.
        Reflections swing by 20 dB on top: try it in a full room.

    Fails:
        gear: [{id: router, type: router-wifi}]
        control:
          band: 5 GHz
          access_point: router
          wired_fallback: true
          farthest_m: 35
          through_audience: true
    Passes:
        gear: [{id: router, type: router-wifi}]
        control: {band: 5 GHz, access_point: router, wired_fallback: true, farthest_m: 8}
    """
    control = view.rig.file.control
    link = control_link(view.rig)
    if control is None or link is None or link.received_dbm is None or link.margin_db is None:
        return
    if link.margin_db < 0:
        people = sentence(" through people") if link.crowd_db[1] > 0 else ""
        yield Finding(
            at=control.where.of("farthest_m"),
            says=sentence(
                "At {distance_m:g} m{people} the {band} link may fall to {low:.0f} dBm; "
                "{needs_dbm:g} dBm are wanted.",
                distance_m=link.distance_m,
                people=people,
                band=link.band,
                low=link.received_dbm.low,
                needs_dbm=link.needs_dbm,
            ),
            found=link.received_dbm.low,
            limit=link.needs_dbm,
            unit="dBm",
        )


def audience_in_the_way(view: View) -> Iterator[Finding]:
    """The audience stands between the access point and whoever controls.

    Why: bodies are water; what reached across the empty room at soundcheck does not cross a full
        one, and nobody can test that before the doors open.
    Fix: put the access point or its antennas on a stand above the heads, or on the same side of
        the people as the tablet.
    Source: on-body propagation at 2.4 GHz, 2 dB for each cm round a body; 2.2 m for standing
        heads is common practice, no source.

    Fails:
        case: {type: case-12}
        gear: [{id: router, type: router-wifi-rack, unit: 11}]
        control: {band: 5 GHz, access_point: router, wired_fallback: true, through_audience: true}
    Passes:
        gear: [{id: router, type: router-wifi, place: stage}]
        control:
          band: 5 GHz
          access_point: router
          wired_fallback: true
          through_audience: true
          antenna_up_m: 2.5
    """
    control = view.rig.file.control
    link = control_link(view.rig)
    if control is None or link is None or not control.through_audience:
        return
    if link.over_heads is None:
        yield Finding(
            at=control.where.of("through_audience"),
            severity="unknown",
            says=sentence(
                "Whether the audience hides the access point cannot be judged: needs "
                "antenna_up_m under control."
            ),
            fix=sentence("State how high above the floor of the audience its antennas are."),
        )
    elif not link.over_heads:
        yield Finding(
            at=control.where.of("through_audience"),
            says=sentence(
                "The antennas of the control are {antenna_up_m:.1f} m up and the "
                "audience stands before them; above heads means {over_heads_m:g} m.",
                antenna_up_m=link.antenna_up_m,
                over_heads_m=OVER_HEADS_M,
            ),
            found=link.antenna_up_m,
            limit=OVER_HEADS_M,
            unit="m",
        )


def channel_overlaps(view: View) -> Iterator[Finding]:
    """The control sits on a Wi-Fi channel that half-covers its neighbours.

    Why: two networks on one channel take turns; two that overlap by half only shout each other
        down.
    Fix: take channel 1, 6 or 11; where the law of the place allows 13, one of 1, 5, 9 and 13.
    Source: IEEE 802.11 (channels 5 MHz apart and 20 MHz wide).

    Fails:
        gear: [{id: router, type: router-wifi}]
        control: {band: 2.4 GHz, channel: 3, access_point: router, wired_fallback: true}
    Passes:
        gear: [{id: router, type: router-wifi}]
        control: {band: 2.4 GHz, channel: 6, access_point: router, wired_fallback: true}
    """
    control = view.rig.file.control
    if control is None or control.band != "2.4 GHz" or control.channel is None:
        return
    usual = (1, 5, 6, 9, 11, 13)
    if control.channel not in usual:
        yield Finding(
            at=control.where.of("channel"),
            says=sentence(
                "Channel {channel} overlaps {names}, where other networks are.",
                channel=control.channel,
                names=listed(_touching(control.channel)),
            ),
        )


def _touching(channel: int) -> list[str]:
    return [str(other) for other in (1, 6, 11) if 0 < abs(other - channel) < 4]


RULES = (
    Rule(id="radio.intermodulation", severity="risk", check=third_order, since="0.1"),
    Rule(id="radio.intermodulation-fifth", severity="advice", check=fifth_order, since="0.1"),
    Rule(id="radio.spacing", severity="risk", check=too_near, since="0.1"),
    Rule(id="radio.frequency-unknown", severity="unknown", check=frequency_unknown, since="0.1"),
    Rule(id="radio.antenna-lead-too-long", severity="advice", check=coax_too_long, since="0.1"),
    Rule(id="radio.antenna-low", severity="advice", check=antenna_low, since="0.1"),
    Rule(id="radio.wifi-weak", severity="risk", check=wifi_weak, since="0.1"),
    Rule(id="radio.audience-in-the-way", severity="risk", check=audience_in_the_way, since="0.1"),
    Rule(id="radio.channel-overlaps", severity="advice", check=channel_overlaps, since="0.1"),
)
