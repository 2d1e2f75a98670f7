"""Sockets, boxes and people in the user's own words."""

from rigproof.signal.words import box as box
from rigproof.signal.words import person as person
from rigproof.signal.words import place as place
from rigproof.signal.words import places as places
from rigproof.wording import opening as opening
from rigproof.wording import some as some
from rigproof.wording.connectors import a_connector as plug_words

__all__ = ["plug_words"]
