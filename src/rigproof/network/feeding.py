"""Power over network leads: what each socket gives, what its box takes, what the giver has."""

import msgspec

from rigproof.network.cabling import COPPER_LONGEST_M, Cabling, cabling
from rigproof.physics import poe
from rigproof.rig import Gear, Rig
from rigproof.rig.quantity import Metres, Watts, weakest
from rigproof.rig.spread import Likely, likely, total

SUPPLY_V = 48.0  # of the wide range that IEEE 802.3 allows; common practice
LOOP_OHM_PER_M = 0.2  # IEEE 802.3: 20 ohm for 100 m


class Fed(msgspec.Struct, frozen=True):
    """One box that lives on power from its network lead."""

    gear: Gear
    giver: str
    socket: str
    gives_w: Watts
    device_w: Watts | None  # as its type states it
    takes_w: Likely | None  # at the giver's socket, what the lead turns to heat included
    length_m: Metres | None  # None: not stated, the longest is taken


class Budget(msgspec.Struct, frozen=True):
    """One box that gives power to others."""

    gear: Gear
    budget_w: Watts | None
    fed: tuple[Fed, ...]

    @property
    def takes_w(self) -> Likely:
        return total(fed.takes_w for fed in self.fed if fed.takes_w is not None)

    @property
    def unknown(self) -> tuple[Gear, ...]:
        """The boxes that do not say what they take."""
        return tuple(fed.gear for fed in self.fed if fed.takes_w is None)


def budgets(rig: Rig, cables: Cabling | None = None) -> tuple[Budget, ...]:
    """Every giver with what hangs on it; each box counts at its first socket with power."""
    cables = cables or cabling(rig)
    fed: dict[str, list[Fed]] = {}
    for gear in rig.file.gear:
        power = rig.types[gear.type].power
        if power is None or power.by != "poe":
            continue
        for link in cables.at.get(gear.id, ()):
            socket = cables.beyond(link, gear.id)
            if socket.port is None or socket.port.poe_watts is None or socket.gear == gear.id:
                continue
            stated = power.watts_max if power.watts_max is not None else power.watts
            takes = None if stated is None else at_socket(stated, link.lead.length_m)
            fed.setdefault(socket.gear, []).append(
                Fed(
                    gear,
                    socket.gear,
                    socket.key,
                    socket.port.poe_watts,
                    stated,
                    takes,
                    link.lead.length_m,
                )
            )
            break
    return tuple(
        Budget(rig.gear[giver], power.poe_budget_watts if power else None, tuple(boxes))
        for giver, boxes in fed.items()
        for power in (rig.type_of(giver).power,)
    )


def at_socket(device_w: Watts, length_m: Metres | None) -> Likely:
    """What a socket has to give for a box at the other end of a lead."""
    length = length_m if length_m is not None else Metres(COPPER_LONGEST_M, "assumed")
    loss = float(poe.cable_loss_w(current_a=device_w / SUPPLY_V, loop_ohm=LOOP_OHM_PER_M * length))
    lost = Watts(loss, weakest(device_w, length))
    return total((likely(device_w), likely(lost)))
