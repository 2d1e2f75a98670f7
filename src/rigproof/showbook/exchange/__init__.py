"""What leaves the rig for other programs: workbooks, plain tables, drawings, the rig as data."""

from rigproof.showbook.exchange.listing import Heading, Listing, listings

__all__ = ["Heading", "Listing", "listings"]
