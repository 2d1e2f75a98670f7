"""The full figures of each pair of ears: the sums of `signal.sums` with all that explains them.

Verdicts ask for the sums alone; ladders, plans and pages also for every share of a hiss, how far
off it may be and what is not known.
"""

from collections.abc import Collection, Mapping
from functools import cached_property

import msgspec

from rigproof.rig import Rig
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.signal.chains import Chains
from rigproof.signal.figures import Figures
from rigproof.signal.graph import Graph
from rigproof.signal.peaks import Peaks
from rigproof.signal.sums import EarSum, EarSums
from rigproof.signal.sums import Share as Share

_LEAST_SHARE = 1e-3  # what adds less to a hiss is not told apart


class EarFigures(msgspec.Struct, frozen=True):
    """One pair of ears: what arrives of each source, the hiss, and the loudest it can get.

    `None` where a figure is missing; `missing` says which. The louder side counts. `unheard`: the
    noise figures nobody states, so that the hiss is at least what stands here. `loudest_spl`: what
    `limited_by` drives the earphones to with every knob at its stop. `isolation_db`: what the
    earphones keep out, for judging the hiss in a noisy place.
    """

    person: str
    levels_spl: Mapping[str, float]
    missing: tuple[str, ...]
    hiss_dba: float | None
    hiss_low_dba: float | None
    hiss_high_dba: float | None
    shares: tuple[Share, ...]
    loudest_spl: float | None
    limited_by: str
    provenance: Provenance
    unheard: tuple[str, ...] = ()
    isolation_db: Quantity | None = None
    total_spl: float | None = None  # all sources together, as powers
    side: int = 0  # the ear that hisses most, by node


class Levels:
    """The electrical state of a rig: figures by hop, and what they come to at the ears."""

    def __init__(self, graph: Graph, rig: Rig, sums: EarSums | None = None) -> None:
        self.graph = graph
        self.rig = rig
        if sums is None:
            sums = EarSums(graph, rig, Chains(graph), Figures(graph, rig))
        self.sums = sums
        self.figures = sums.figures

    @cached_property
    def ears(self) -> tuple[EarFigures, ...]:
        """Everyone with a plug in a socket, in the order of the file."""
        return tuple(self._ear(ear) for ear in self.sums.ears.values())

    @cached_property
    def peaks(self) -> Peaks:
        """How high the peaks stand at every place, and what it bears."""
        return Peaks(self.graph, self.rig, self.figures)

    @cached_property
    def _by_person(self) -> Mapping[str, EarFigures]:
        return {ear.person: ear for ear in self.ears}

    def ear(self, person: str) -> EarFigures | None:
        """The figures of one person."""
        return self._by_person.get(person)

    def together_db(self, places: Collection[int]) -> dict[int, float]:
        """The level of everything that arrives at each of some places, as powers."""
        return self.sums.together_db(places)

    def bears(self, node: int) -> Quantity | None:
        """What a place gives out at most."""
        return self.sums.ceilings.bears(node)

    def _ear(self, ear: EarSum) -> EarFigures:
        hiss, off = ear.hiss_dba, ear.hiss_off_db
        told = self.sums.shares(ear.person, least_ratio=_LEAST_SHARE)
        loudest = self.sums.loudest(ear.person)
        earphone = self.figures.earphone(ear.person)
        return EarFigures(
            person=ear.person,
            levels_spl=ear.levels_spl,
            missing=ear.missing,
            hiss_dba=hiss,
            hiss_low_dba=None if hiss is None else hiss - off,
            hiss_high_dba=None if hiss is None else hiss + off,
            shares=told,
            loudest_spl=loudest.driven_spl if loudest is not None else None,
            limited_by=loudest.by if loudest is not None else "",
            provenance=weakest(
                Quantity(0, ear.provenance), *(share.noise.figure for share in told)
            ),
            unheard=self.sums.unheard(ear.person),
            isolation_db=earphone.isolation_db if earphone else None,
            total_spl=ear.total_spl,
            side=ear.side,
        )
