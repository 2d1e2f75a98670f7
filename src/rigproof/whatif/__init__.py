"""Break one thing, look again: who is left with what, and how long until it is back."""

from rigproof.whatif.failures import (
    Failure,
    Listener,
    Loss,
    Suspect,
    dark_with,
    failures,
    rack_off,
)

__all__ = ["Failure", "Listener", "Loss", "Suspect", "dark_with", "failures", "rack_off"]
