"""How heavily each microphone is loaded, and how many volts of 48 V are left for it.

A source's line is judged from the output it begins at: what hangs on it now, and what it would be
with one to four desks. The figures of a second desk that nobody stated are the usual ones.
"""

from collections.abc import Iterator, Mapping
from typing import Literal

import msgspec

from rigproof.physics.loading import loading_loss_db, parallel_ohm
from rigproof.physics.phantom48 import (
    P48_LEG_OHM,
    P48_V,
    feeder_ma,
    microphone_v,
    shared_microphone_v,
    supply,
)
from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rig.geartype import GearType
from rigproof.rig.quantity import Provenance, Quantity, weakest
from rigproof.rig.spread import Likely, likely
from rigproof.signal.graph import Graph
from rigproof.signal.lines import HOUSE_INPUT_OHM, Lines
from rigproof.signal.phantom import PhantomLine, line_ends

DESKS = (1, 2, 3, 4)

FedBy = Literal["one feeder", "two feeders", "one feeder, the other's resistors at earth"]


class LoadedLine(msgspec.Struct, frozen=True):
    """The first lane of one source, its driver and the inputs that hang on it.

    `loads`: the place and impedance of each input. `unknown`: inputs whose impedance nobody
    states; they are not in the sums. None where the driver's own impedance is unknown.
    """

    source: str
    driver: str
    source_ohm: Quantity | None
    loads: tuple[tuple[str, Quantity], ...]
    unknown: tuple[str, ...]

    @property
    def load_ohm(self) -> Quantity | None:
        """All inputs side by side."""
        if not self.loads:
            return None
        ohms = [ohm for _, ohm in self.loads]
        return Quantity(parallel_ohm(map(float, ohms)), weakest(*ohms))

    @property
    def loss_db(self) -> float | None:
        """What the source loses into its inputs; None where a figure is missing."""
        if self.source_ohm is None or not self.loads:
            return None
        return loading_loss_db(
            source_ohm=float(self.source_ohm), input_ohm=[float(ohm) for _, ohm in self.loads]
        )

    def with_desks_db(self, desks: int) -> float | None:
        """The loss into so many desks: those that hang here, the rest with the usual input."""
        if self.source_ohm is None:
            return None
        ohms = [float(ohm) for _, ohm in self.loads][:desks]
        ohms += [float(HOUSE_INPUT_OHM)] * (desks - len(ohms))
        return loading_loss_db(source_ohm=float(self.source_ohm), input_ohm=ohms)

    @property
    def provenance(self) -> Provenance:
        stated = [self.source_ohm] if self.source_ohm is not None else []
        return weakest(*stated, *(ohm for _, ohm in self.loads))


class FedLine(msgspec.Struct, frozen=True):
    """48 V at one microphone, by how it is fed. Volts and milliamperes at and from each feeder."""

    source: str
    needs_ma: Quantity
    volts: Mapping[FedBy, float]
    feeder_ma: Mapping[FedBy, float]


def loaded_lines(graph: Graph, rig: Rig, lines: Lines) -> Mapping[str, LoadedLine]:
    """Source -> its line with all that loads it, for every source that is plugged in somewhere."""
    found: dict[str, LoadedLine] = {}
    for source, ends in line_ends(graph, rig).items():
        if ends and not graph.nodes[ends[0]].digital:
            driver = ends[0]
            line = lines.line(driver)
            found[source] = LoadedLine(
                source,
                graph.nodes[driver].key,
                lines.driver_ohm(driver),
                tuple((graph.nodes[o.node].key, line.seen(driver, o)) for o in line.loads),
                tuple(graph.nodes[node].key for node in line.unknown),
            )
    return found


def fed_lines(rig: Rig, phantoms: Mapping[str, PhantomLine]) -> tuple[FedLine, ...]:
    """The volts left for every source that draws from 48 V and states how much."""
    return tuple(_fed(rig, phantoms))


def _fed(rig: Rig, phantoms: Mapping[str, PhantomLine]) -> Iterator[FedLine]:
    for source in rig.file.sources:
        type_ = _drawing(rig, source)
        power = type_.power if type_ else None
        if power is None or power.phantom_ma is None or source.id not in phantoms:
            continue
        yield fed(source.id, power.phantom_ma)


def likely_volts(line: FedLine) -> tuple[Likely, ...]:
    """The volts left, in the order of its ways to be fed, by what it likely draws."""
    need = likely(line.needs_ma)
    most, least = (fed(line.source, Quantity(end)).volts for end in (need.high, need.low))
    return tuple(
        Likely(max(most[how], 0.0), volts, least[how], need.provenance)
        for how, volts in line.volts.items()
    )


def fed(source: str, needs_ma: Quantity) -> FedLine:
    """What is left at a microphone that draws so much, from one feeder and from two.

    The third case is a second desk whose 48 V is off while its resistors stay on the line at 0 V.
    """
    current = float(needs_ma)
    legs = [P48_LEG_OHM, P48_LEG_OHM]
    volts: dict[FedBy, float] = {
        "one feeder": microphone_v(current_ma=current, supply_v=P48_V, leg_ohm=P48_LEG_OHM),
        "two feeders": shared_microphone_v(
            current_ma=current, supply_v=[P48_V, P48_V], leg_ohm=legs
        ),
        "one feeder, the other's resistors at earth": shared_microphone_v(
            current_ma=current, supply_v=[P48_V, 0.0], leg_ohm=legs
        ),
    }
    given: dict[FedBy, float] = {
        how: feeder_ma(supply_v=P48_V, leg_ohm=P48_LEG_OHM, microphone_v=left)
        for how, left in volts.items()
    }
    return FedLine(source, needs_ma, volts, given)


def least_v(needs_ma: Quantity) -> float:
    """The least that a supply within its tolerance leaves at a microphone of this current.

    What any microphone made for 48 V has to work with.
    """
    p48 = supply("P48")
    return microphone_v(
        current_ma=float(needs_ma),
        supply_v=p48.voltage_v - p48.tolerance_v,
        leg_ohm=P48_LEG_OHM,
    )


def _drawing(rig: Rig, source: Source) -> GearType | None:
    """The microphone or DI box of a source that lives on 48 V."""
    for name in (source.di, source.mic):
        type_ = rig.types.get(name) if name else None
        if type_ is not None and type_.power is not None and type_.power.by == "phantom":
            return type_
    return None
