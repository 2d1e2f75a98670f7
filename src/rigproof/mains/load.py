"""What the rack takes from the mains: watts, amperes, the rush at switching on, earth leakage.

Currents of several supplies are added as if they were in step, which none are: the sum errs to
the large side. A supply that does not state its power factor is taken for one without correction.
"""

import msgspec

from rigproof.mains.outlets import gives_mains, needs_mains, sequence, supplies
from rigproof.physics import mains
from rigproof.rig import Gear, Rig
from rigproof.rig.equipment import MainsFeed
from rigproof.rig.geartype import Power
from rigproof.rig.quantity import PowerFactor, Quantity, weakest
from rigproof.rig.ref import HOUSE
from rigproof.rig.spread import NOTHING, Likely, likely, total

# Switch-mode supplies without correction; see `physics.mains.current_a`.
UNCORRECTED = PowerFactor(0.6, "assumed")


class BoxLoad(msgspec.Struct, frozen=True):
    """What one box takes. None: its type does not say.

    `usual_w` counts what a box hands on over network leads; `most_w` is the figure on its plate,
    which includes that.
    """

    gear: Gear
    usual_w: Likely | None
    most_w: Likely | None
    power_factor: PowerFactor
    inrush_a: Quantity | None
    leakage_ma: Quantity | None
    boot_s: Quantity | None

    @property
    def most_va(self) -> Likely | None:
        """Volt-amperes at most: what leads, fuses, generators and UPSs have to carry."""
        if self.most_w is None:
            return None
        return self.most_w.times(PowerFactor(1 / self.power_factor, self.power_factor.provenance))

    @property
    def usual_va(self) -> Likely | None:
        if self.usual_w is None:
            return None
        return self.usual_w.times(PowerFactor(1 / self.power_factor, self.power_factor.provenance))


class Load(msgspec.Struct, frozen=True):
    """The sum of several boxes. `without_*`: those that do not state the figure."""

    boxes: tuple[BoxLoad, ...]
    usual_w: Likely
    most_w: Likely
    usual_va: Likely
    most_va: Likely
    leakage_ma: Likely
    inrush_a: Likely
    without_watts: tuple[Gear, ...]
    without_leakage: tuple[Gear, ...]
    without_inrush: tuple[Gear, ...]

    def most_a(self, volts_v: float) -> Likely:
        """Current at the volts of a venue: half the volts, twice the amperes."""
        return self.most_va.times(1 / volts_v)

    def power_factor_ratio(self) -> float | None:
        """Of all boxes together, at most; None where nothing is known."""
        if self.most_va.value <= 0:
            return None
        return float(
            mains.power_factor_ratio(power_w=self.most_w.value, apparent_va=self.most_va.value)
        )


def on_the_feed(rig: Rig) -> tuple[BoxLoad, ...]:
    """The band's boxes that hang on the rack's one mains lead, strips with a supply among them.

    Boxes of the case count even where nobody wrote down their outlet; boxes on the stage only
    where an outlet of the rack feeds them.
    """
    hung = {feed.gear for feed in _feeds(rig)}
    fed_w = _handed_on(rig)
    found: list[BoxLoad] = []
    for gear in rig.file.gear:
        type_ = rig.types[gear.type]
        if gear.owner != "band" or not needs_mains(type_):
            continue
        inside = gear.placed == "case" or gear.id in hung
        if inside and (not gives_mains(type_) or type_.power is not None):
            found.append(_box(rig, gear, fed_w.get(gear.id, NOTHING)))
    return tuple(found)


def _feeds(rig: Rig) -> list[MainsFeed]:
    power = rig.file.power
    if power is None:
        return []
    return [feed for feed in power.feeds if feed.outlet.gear != HOUSE]


def _handed_on(rig: Rig) -> dict[str, Likely]:
    """Box -> what the boxes usually take that live on power from its network sockets."""
    found: dict[str, list[Likely]] = {}
    for lead in rig.file.leads:
        for giver, taker in ((lead.from_.gear, lead.to.gear), (lead.to.gear, lead.from_.gear)):
            if HOUSE in (giver, taker):
                continue
            gives, takes = rig.type_of(giver).power, rig.type_of(taker).power
            if gives is None or gives.poe_budget_watts is None or takes is None:
                continue
            if takes.by == "poe" and takes.watts is not None:
                found.setdefault(giver, []).append(likely(takes.watts))
    return {giver: total(parts) for giver, parts in found.items()}


def _box(rig: Rig, gear: Gear, handed_on: Likely) -> BoxLoad:
    type_ = rig.types[gear.type]
    power = type_.power
    assert power is not None
    passive = gives_mains(type_) and power.watts is None and type_.class_ == "power-strip"
    usual = NOTHING if passive else likely(power.watts) if power.watts is not None else None
    most = NOTHING if passive else likely(power.watts_max) if power.watts_max is not None else None
    if most is None:
        most = usual  # a lone figure counts for both, as most plates have it
    if most is None:
        plate = plate_w(power)
        most = likely(plate) if plate is not None else None
    if usual is not None:
        usual = total((usual, handed_on))
    nothing = Quantity(0.0, "measured") if passive else None
    return BoxLoad(
        gear,
        usual if usual is not None else most,
        most,
        power.power_factor or UNCORRECTED,
        power.inrush_a if power.inrush_a is not None else nothing,
        power.leakage_ma if power.leakage_ma is not None else nothing,
        power.boot_s,
    )


def plate_w(power: Power) -> Quantity | None:
    """What a plate that prints amperes alone comes to: they are drawn at the lowest volts."""
    if power.amps_a is None or power.volts_min is None:
        return None
    factor = power.power_factor or UNCORRECTED
    watts = mains.power_w(
        voltage_v=float(power.volts_min),
        current_a=float(power.amps_a),
        power_factor_ratio=float(factor),
    )
    return Quantity(float(watts), weakest(power.amps_a, power.volts_min, factor))


def load_of(boxes: tuple[BoxLoad, ...]) -> Load:
    """The sum of some boxes, as far as they state figures."""
    return Load(
        boxes,
        total(b.usual_w for b in boxes if b.usual_w is not None),
        total(b.most_w for b in boxes if b.most_w is not None),
        total(b.usual_va for b in boxes if b.usual_va is not None),
        total(b.most_va for b in boxes if b.most_va is not None),
        total(likely(b.leakage_ma) for b in boxes if b.leakage_ma is not None),
        total(likely(b.inrush_a) for b in boxes if b.inrush_a is not None),
        tuple(b.gear for b in boxes if b.most_w is None),
        tuple(b.gear for b in boxes if b.leakage_ma is None),
        tuple(b.gear for b in boxes if b.inrush_a is None),
    )


def rack_load(rig: Rig) -> Load:
    """Everything that hangs on the rack's mains lead."""
    return load_of(on_the_feed(rig))


class StripLoad(msgspec.Struct, frozen=True):
    """What passes through one strip, filter, sequencer or UPS, its own supply included."""

    gear: Gear
    load: Load


def strip_loads(rig: Rig, load: Load | None = None) -> tuple[StripLoad, ...]:
    """Each box that others are plugged in, with what hangs behind it, strip behind strip too."""
    by_name = {box.gear.id: box for box in (load or rack_load(rig)).boxes}
    behind: dict[str, list[BoxLoad]] = {}
    for supply in supplies(rig):
        box = by_name.get(supply.gear)
        if box is None or supply.ring:
            continue
        for strip in supply.through:
            behind.setdefault(strip, []).append(box)
    return tuple(
        StripLoad(gear, load_of(tuple(behind[gear.id]) + own))
        for gear in rig.file.gear
        if gear.id in behind
        for own in ((by_name[gear.id],) if gear.id in by_name else (),)
    )


class Start(msgspec.Struct, frozen=True):
    """One step of switching on: the rush it makes, and when its boxes are ready."""

    step: int
    gear: tuple[str, ...]
    inrush_a: Likely
    boot_s: float  # of the slowest box of the step that states one
    ready_s: float  # from the first switch, if each step waits for the one before
    without_boot: tuple[str, ...]


def starts(rig: Rig, load: Load | None = None) -> tuple[Start, ...]:
    """The order of switching on with its times; empty where the file states no steps."""
    by_name = {box.gear.id: box for box in (load or rack_load(rig)).boxes}
    found: list[Start] = []
    ready_s = 0.0
    for step in sequence(rig):
        boxes = [by_name[name] for name in step.gear if name in by_name]
        boots = [float(box.boot_s) for box in boxes if box.boot_s is not None]
        ready_s += max(boots, default=0.0)
        found.append(
            Start(
                step.step,
                step.gear,
                total(likely(box.inrush_a) for box in boxes if box.inrush_a is not None),
                max(boots, default=0.0),
                ready_s,
                tuple(b.gear.id for b in boxes if b.boot_s is None and not _passive(rig, b.gear)),
            )
        )
    return tuple(found)


def _passive(rig: Rig, gear: Gear) -> bool:
    return rig.types[gear.type].class_ == "power-strip"
