"""The Wi-Fi that the rig is controlled over: what arrives, through whom, on what channel.

The weaker end decides: a tablet sends with less than the access point and holds its antenna at a
body. Free space, one crowd between, no reflections; a real room swings by 20 dB either way.
"""

from collections.abc import Mapping
from typing import Literal

import msgspec

from rigproof.physics import radio, wifi
from rigproof.rig import Rig
from rigproof.rig.quantity import LevelDbm, Metres
from rigproof.rig.spread import Likely, weaker
from rigproof.wording.sentences import sentence

Band = Literal["2.4 GHz", "5 GHz", "6 GHz"]

# What a tablet sends. Typical, from memory; the law allows 20 dBm on 2.4 GHz (EN 300 328).
TABLET_DBM = LevelDbm(15, "assumed")
TABLET_DBI = 0.0
STAFF_DBI = 2.0  # the stick antenna of an access point, near that of a dipole
# What a link needs that must not stutter. Common practice, no source (-67 dBm is what plans for
# voice ask for).
NEEDS_DBM = -67.0
# People between the ends at head height: from a shoulder to a body right before the antenna. The
# upper end is 10 cm of creeping wave at 2.4 GHz; the lower one is common practice, no source.
CROWD_LOW_DB = 6.0
CROWD_HIGH_DB = float(radio.round_body_db(10.0))
# Above the heads of a standing audience. Common practice, no source.
OVER_HEADS_M = 2.2
_MIDDLE_MHZ: Mapping[Band, float] = {"2.4 GHz": 2437.0, "5 GHz": 5220.0, "6 GHz": 5975.0}

# Channels that do not touch, in the order to try them. Which are allowed where, indoors or out,
# and where radar has the right of way, is the law of the place.
_CHANNELS: Mapping[Band, tuple[int, ...]] = {
    "2.4 GHz": (1, 6, 11),
    "5 GHz": (36, 40, 44, 48, 149, 153, 157, 161),
    "6 GHz": (5, 21, 37, 53),
}


class ControlLink(msgspec.Struct, frozen=True):
    """The link budget from the farthest tablet to the access point.

    `received_dbm` is None where no distance is stated; `missing` says what is needed.
    """

    band: Band
    mhz: float
    power_dbm: LevelDbm | None
    distance_m: Metres | None
    path_db: float | None
    crowd: bool | None  # people between the ends; None: nobody said
    crowd_db: tuple[float, float]  # what they take
    received_dbm: Likely | None
    needs_dbm: float
    antenna_up_m: float | None
    over_heads: bool | None
    missing: tuple[str, ...]

    @property
    def margin_db(self) -> float | None:
        """Of the likely worst case; below 0 it stutters."""
        return None if self.received_dbm is None else self.received_dbm.low - self.needs_dbm


class ChannelChoice(msgspec.Struct, frozen=True):
    """One channel to try."""

    channel: int
    centre_mhz: float
    edges_mhz: tuple[float, float]
    stated: bool  # the one the file has; the others touch it and each other nowhere


def control_link(rig: Rig) -> ControlLink | None:
    """The budget of the control link; None where the file states no band."""
    control = rig.file.control
    if control is None or control.band is None:
        return None
    band: Band = control.band
    mhz = (
        wifi.centre_mhz(control.channel, band=band)
        if control.channel is not None
        else _MIDDLE_MHZ[band]
    )
    up_m = antenna_up_m(rig)
    over = None if up_m is None else up_m >= OVER_HEADS_M
    crowd = control.through_audience
    crowd_db = (CROWD_LOW_DB, CROWD_HIGH_DB) if crowd and not over else (0.0, 0.0)
    missing: list[str] = []
    if control.farthest_m is None:
        missing.append(sentence("farthest_m under control"))
    if crowd is None:
        missing.append(sentence("through_audience under control"))
    path = received = None
    if control.farthest_m is not None and control.farthest_m > 0:
        path = float(radio.free_space_db(frequency_mhz=mhz, distance_m=float(control.farthest_m)))
        power = control.power_dbm if control.power_dbm is not None else TABLET_DBM
        ends = [
            float(
                radio.received_dbm(
                    power_dbm=float(power),
                    transmit_dbi=TABLET_DBI,
                    receive_dbi=STAFF_DBI,
                    path_db=path,
                    losses_db=[lost_db],
                )
            )
            for lost_db in (*crowd_db, sum(crowd_db) / 2)
        ]
        provenance = weaker(power.provenance, control.farthest_m.provenance, "assumed")
        received = Likely(min(ends), ends[2], max(ends), provenance)
    return ControlLink(
        band,
        mhz,
        control.power_dbm,
        control.farthest_m,
        path,
        crowd,
        crowd_db,
        received,
        NEEDS_DBM,
        up_m,
        over,
        tuple(missing),
    )


def antenna_up_m(rig: Rig) -> float | None:
    """How high the antenna is: as stated, or no higher than the case that it sits in."""
    control = rig.file.control
    if control is None:
        return None
    if control.antenna_up_m is not None:
        return float(control.antenna_up_m)
    gear = rig.gear.get(control.access_point) if control.access_point else None
    case = rig.file.case
    if gear is None or gear.placed != "case" or case is None:
        return None
    size = rig.types[case.type].case
    return None if size is None or size.height_mm is None else float(size.height_mm) / 1000


def channel_choices(rig: Rig) -> tuple[ChannelChoice, ...]:
    """Channels to try in the stated band, the stated one first; narrow ones, as control needs."""
    control = rig.file.control
    if control is None or control.band is None:
        return ()
    band: Band = control.band
    row = list(_CHANNELS[band])
    if control.channel is not None:
        row = [control.channel, *(c for c in row if c != control.channel)]
    return tuple(
        ChannelChoice(
            channel,
            centre := wifi.centre_mhz(channel, band=band),
            wifi.edges_mhz(centre),
            channel == control.channel,
        )
        for channel in row
    )
