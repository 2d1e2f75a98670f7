"""Who hears what, within buses and slots."""

from rigproof.mixes.complete import complete_mixes
from rigproof.mixes.hearing import Heard, Listening, listenings
from rigproof.mixes.slots import SlotUse, slot_uses

__all__ = ["Heard", "Listening", "SlotUse", "complete_mixes", "listenings", "slot_uses"]
