"""Who leads the clock when a box is switched off, and who is left without one."""

import msgspec

from rigproof.network.clocks import Domain
from rigproof.rig import Rig
from rigproof.rig.quantity import Seconds


class Cycle(msgspec.Struct, frozen=True):
    """One domain with one of its boxes off.

    `leader` is who leads then; None where nothing says. `may_lead`: the boxes that an election
    can choose among, where packets join them and no preference decides. `adrift`: the boxes whose
    chain of followers is cut; each runs on its own clock, or stays silent. `boot_s` is how long
    the box is away when it is only switched off and on; None where its type does not say.
    """

    off: str
    leader: str | None
    may_lead: tuple[str, ...]
    adrift: tuple[str, ...]
    boot_s: Seconds | None

    @property
    def rides_through(self) -> bool:
        """Whether every other box keeps a stated clock."""
        return self.leader is not None and not self.adrift


class Tree(msgspec.Struct, frozen=True):
    """The clock of one domain: who leads, who follows whom, and what each power-cycle does."""

    leader: str | None
    follows: tuple[tuple[str, str | None], ...]  # box, whom it follows
    by_network: bool
    cycles: tuple[Cycle, ...]


def clock_trees(rig: Rig, found: tuple[Domain, ...]) -> tuple[Tree, ...]:
    """The clock tree of every domain, with each of its boxes off in turn."""
    return tuple(_tree(rig, domain) for domain in found)


def _tree(rig: Rig, domain: Domain) -> Tree:
    leader = domain.heads[0] if len(domain.heads) == 1 else None
    follows = tuple(
        (box, domain.clocks[box].follows if box in domain.clocks else None) for box in domain.boxes
    )
    return Tree(
        leader,
        follows,
        domain.by_network,
        tuple(_cycle(rig, domain, leader, dict(follows), off) for off in domain.boxes),
    )


def _cycle(
    rig: Rig, domain: Domain, leader: str | None, follows: dict[str, str | None], off: str
) -> Cycle:
    power = rig.type_of(off).power
    boot = power.boot_s if power else None
    children: dict[str, list[str]] = {}
    for box, followed in follows.items():
        if followed is not None:
            children.setdefault(followed, []).append(box)
    if off != leader:
        return Cycle(off, leader, (), tuple(_below(children, off)), boot)
    left = [box for box in domain.boxes if box != off]
    able = tuple(box for box in left if domain.abilities[box].leads)
    if not domain.by_network:
        return Cycle(off, None, (), tuple(left), boot)
    # Packets elect a new leader; boxes that follow over a plain link keep following.
    chosen = able[0] if len(able) == 1 else None
    return Cycle(off, chosen, able if chosen is None else (), (), boot)


def _below(children: dict[str, list[str]], start: str) -> list[str]:
    """Everyone who follows a box, directly or not, in the order of the file."""
    found: list[str] = []
    queue = list(children.get(start, ()))
    while queue:
        box = queue.pop(0)
        if box not in found and box != start:
            found.append(box)
            queue += children.get(box, ())
    return found
