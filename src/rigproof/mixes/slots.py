"""The places of a personal-mixer feed: who is in which, and who loses a knob of their own."""

import msgspec

from rigproof.rig import Rig
from rigproof.rig.lanes import inner_lanes
from rigproof.rig.plan import Feed, Slot


class SlotUse(msgspec.Struct, frozen=True):
    """One place, or pair of places, of a feed."""

    feed: str
    slot: Slot | None  # None: free
    numbers: tuple[int, ...]
    sources: tuple[str, ...]
    made_by: str  # "channel" or the buses that make it

    @property
    def grouped(self) -> bool:
        return len(self.sources) > 1


def slot_uses(rig: Rig) -> tuple[SlotUse, ...]:
    """Every place of every feed, filled or free, in order."""
    uses: list[SlotUse] = []
    for feed in rig.file.feeds:
        taken: set[int] = set()
        for slot in feed.slots:
            numbers = tuple(slot.slot)
            taken.update(numbers)
            sources = tuple(s for name in slot.takes for s in rig.members(name))
            made_by = f"bus {slot.bus}" if slot.bus else "channel"
            uses.append(SlotUse(feed.id, slot, numbers, sources, made_by))
        free = (n for n in range(1, places(rig, feed) + 1) if n not in taken)
        uses += [SlotUse(feed.id, None, (n,), (), "") for n in free]
    return tuple(sorted(uses, key=lambda use: (use.feed, use.numbers)))


def places(rig: Rig, feed: Feed) -> int:
    """How many places a feed has: the lanes its port sends."""
    type_ = rig.type_of(feed.port.gear)
    return len(inner_lanes(type_, feed.port, entering=False, at=feed.where))
