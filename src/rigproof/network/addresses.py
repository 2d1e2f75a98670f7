"""The addresses of the boxes, and which of them can talk to one another."""

import msgspec

from rigproof.rig import Gear, Rig

USUAL_NETMASK = "255.255.255.0"
# Where nearly every home and club router starts: the house's boxes are likely to sit there too.
# Common practice, no source.
COMMON_RANGES = ("192.168.0.", "192.168.1.", "10.0.0.")


class Addressed(msgspec.Struct, frozen=True):
    """A box with an address, and the subnet it counts itself to."""

    gear: Gear
    address: str
    netmask: str
    assumed_mask: bool  # the file says nothing; the usual one is taken

    @property
    def subnet(self) -> str:
        return subnet(self.address, self.netmask)


def addressed(rig: Rig) -> tuple[Addressed, ...]:
    """The boxes with an address, in the order of the file."""
    return tuple(
        Addressed(gear, gear.address, gear.netmask or USUAL_NETMASK, gear.netmask is None)
        for gear in rig.file.gear
        if gear.address is not None
    )


def subnet(address: str, netmask: str) -> str:
    """The network part of an address: boxes with the same one reach each other directly."""
    parts = zip(address.split("."), netmask.split("."), strict=True)
    return ".".join(str(int(part) & int(mask)) for part, mask in parts)
