"""How the boxes are joined digitally: leads, switches, streams, clocks, addresses."""

from rigproof.network.addresses import Addressed, addressed, subnet
from rigproof.network.cabling import Cabling, Link, cabling, passed, stream_ways
from rigproof.network.clocks import Domain, Ways, digital_ways, domains, follows, ring

__all__ = [
    "Addressed",
    "Cabling",
    "Domain",
    "Link",
    "Ways",
    "addressed",
    "cabling",
    "digital_ways",
    "domains",
    "follows",
    "passed",
    "ring",
    "stream_ways",
    "subnet",
]
