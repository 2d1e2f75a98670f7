"""Why a figure of the mains is what it is: each box, each cable, and the arithmetic between."""

from collections.abc import Iterator

from rigproof.mains.battery import EFFICIENCY, Bridge
from rigproof.mains.circuit import Place, Rush, residual, rush
from rigproof.mains.heat import WANTED_RISE_K, Warmth
from rigproof.mains.load import BoxLoad, Load, starts
from rigproof.mains.sag import CORD_M, CORD_MM2, Sag, cord_ohm
from rigproof.physics import heat, ratings
from rigproof.rig import Gear, Rig
from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import Likely, likely, total
from rigproof.signal.reasons import Line, Reason


def why_current(rig: Rig, place: Place, load: Load) -> Reason:
    """The current at one place with every box at its most, and what is left of the circuit."""
    if place.volts_v is None:
        return _waits("current", "A", (f"the volts {place.name}",))
    volts = place.volts_v
    lines: list[Line] = []
    running = 0.0
    for box in load.boxes:
        if box.most_w is None or box.most_va is None:
            continue
        amps = box.most_va.times(1 / volts)
        running += amps.value
        lines.append(_current_line(rig, box, amps, volts, running))
    total = load.most_a(float(volts))
    usable = place.usable_a
    if usable is not None and place.amps_a is not None:
        share = f"{place.amps_a:g} x 0.8 - " if place.continuous_only else f"{place.amps_a:g} - "
        lines.append(
            Line(place=place.name, what="left of the circuit", value=usable - total.value,
                 unit="A", provenance=usable.provenance,
                 by="mains.continuous_w" if place.continuous_only else "",
                 worked=f"{share}{total.value:.2f} = {usable - total.value:.2f}")
        )  # fmt: skip
    return _ranged("current", total, "A", lines, _names(rig, load.without_watts, "the watts of"))


def _current_line(rig: Rig, box: BoxLoad, amps: Likely, volts: Quantity, running: float) -> Line:
    assert box.most_w is not None
    watts = Quantity(box.most_w.value, box.most_w.provenance)
    return Line(
        place=rig.box_names[box.gear.id],
        what="current at its most",
        value=amps.value,
        unit="A",
        provenance=amps.provenance,
        by="mains.current_a",
        inputs=(
            ("power_w", watts),
            ("voltage_v", volts),
            ("power_factor_ratio", box.power_factor),
        ),
        worked=f"{watts:g} / ({volts:g} x {box.power_factor:g}) = {amps.value:.3f}",
        comes_to=running,
    )


def why_leakage(rig: Rig, place: Place, load: Load) -> Reason:
    """What all supplies leak to earth, against the residual-current device of one place."""
    lines: list[Line] = []
    running = 0.0
    for box in load.boxes:
        if box.leakage_ma is not None and box.leakage_ma > 0:
            running += box.leakage_ma
            lines.append(
                Line(place=rig.box_names[box.gear.id], what="earth leakage", value=box.leakage_ma,
                     unit="mA", provenance=box.leakage_ma.provenance, comes_to=running)
            )  # fmt: skip
    device = residual(place)
    rated = device.rated_ma
    lines.append(
        Line(place=place.name, what="should hang on the device at most", value=device.budget_ma,
             unit="mA", provenance=rated.provenance, by="ratings.leakage_budget_ma",
             inputs=(("rated_ma", rated),),
             worked=f"{rated:g} x {device.budget_ma / rated:.2g} = {device.budget_ma:.1f}")
    )  # fmt: skip
    lines.append(
        Line(place=place.name, what="may trip from", value=device.may_trip_ma, unit="mA",
             provenance=rated.provenance,
             worked=f"{rated:g} x {ratings.NO_TRIP_RATIO:g} = {device.may_trip_ma:g}")
    )  # fmt: skip
    silent = _names(rig, load.without_leakage, "the leakage of")
    return _ranged("leakage", load.leakage_ma, "mA", lines, silent)


def why_inrush(rig: Rig, place: Place, load: Load) -> Reason:
    """The rush when everything is switched on at once, against the breaker of one place."""
    lines: list[Line] = []
    running = 0.0
    for box in load.boxes:
        if box.inrush_a is not None and box.inrush_a > 0:
            running += box.inrush_a
            lines.append(
                Line(place=rig.box_names[box.gear.id], what="rush at switching on",
                     value=box.inrush_a, unit="A", provenance=box.inrush_a.provenance,
                     comes_to=running)
            )  # fmt: skip
    found = rush(place, peak_a=load.inrush_a.value)
    if found is not None:
        lines += _breaker_lines(place, found)
    silent = _names(rig, load.without_inrush, "the rush of")
    return _ranged("inrush", load.inrush_a, "A", lines, silent)


def _breaker_lines(place: Place, found: Rush) -> Iterator[Line]:
    for what, value in (
        ("may let go from", found.may_trip_a),
        ("surely lets go from", found.surely_trips_a),
    ):
        times = value / (found.rated_a * 2**0.5)
        yield Line(
            place=place.name,
            what=f"a {found.curve} breaker {what}",
            value=value,
            unit="A",
            provenance=found.rated_a.provenance,
            by="ratings.instant_trip_a",
            inputs=(("rated_a", found.rated_a),),
            worked=f"{times:g} x {found.rated_a:g} x sqrt(2) = {value:.1f}",
        )


def why_ready(rig: Rig, load: Load) -> Reason:
    """When everything is awake, if each step of switching on waits for the one before."""
    found = starts(rig, load)
    if not found:
        return _waits("ready", "s", ("the steps of power.feeds",))
    by_name = {box.gear.id: box for box in load.boxes}
    lines: list[Line] = []
    for step in found:
        boots = [
            (name, box.boot_s)
            for name in step.gear
            if (box := by_name.get(name)) is not None and box.boot_s is not None
        ]
        if not boots:
            continue
        slowest, boot_s = max(boots, key=lambda boot: boot[1])
        lines.append(
            Line(place=rig.box_names[slowest], what=f"boots, the slowest of step {step.step}",
                 value=boot_s, unit="s", provenance=boot_s.provenance, comes_to=step.ready_s)
        )  # fmt: skip
    awake = total(likely(Quantity(line.value, line.provenance)) for line in lines)
    names = (name for step in found for name in step.without_boot)
    silent = tuple(f"the boot time of {rig.box_names[name]}" for name in names)
    return _ranged("ready", awake, "s", lines, silent)


def why_volts(rig: Rig, place: Place, load: Load, found: Sag | None, gear: str = "") -> Reason:
    """The volts at one box when the supply is at its lowest; of the weakest where none is named."""
    if found is None or place.volts_v is None:
        return _waits("volts", "V", (f"the volts {place.name}",))
    volts, tolerance = place.volts_v, place.tolerance_percent
    lines = [
        Line(place=place.name, what="the lowest the supply may be", value=found.lowest_v, unit="V",
             provenance=tolerance.provenance, by="mains.supply_band_v",
             inputs=(("nominal_v", volts), ("tolerance_percent", tolerance)),
             worked=f"{volts:g} - {volts:g} x {tolerance:g} / 100 = {found.lowest_v:.1f}")
    ]  # fmt: skip
    loop_ohm = 0.0
    for cable in found.cables:
        loop_ohm += cable.loop_ohm
        lines.append(
            Line(place=cable.name, what=f"{cable.length_m:g} m out and back",
                 value=cable.loop_ohm, unit="ohm", provenance=cable.provenance,
                 by="conductors.loop_ohm", comes_to=loop_ohm,
                 worked=f"2 x {cable.length_m:g} x {cable.ohm_per_km:.4g} / 1000 = "
                        f"{cable.loop_ohm:.3f}")
        )  # fmt: skip
    most = load.most_va
    if not found.carried:
        least_v2, wanted_v2 = found.lowest_v**2, 4 * most.value * loop_ohm
        lines.append(
            Line(place="the rack", what="nothing: the cables cannot carry what it takes",
                 value=0.0, unit="V", provenance=found.provenance, by="mains.load_v",
                 inputs=(("power_w", Quantity(most.value, most.provenance)),),
                 worked=f"{found.lowest_v:.1f}^2 - 4 x {most.value:.0f} x {loop_ohm:.3f} = "
                        f"{least_v2 - wanted_v2:.0f}")
        )  # fmt: skip
        return Reason(figure="volts", value=0.0, low=0.0, high=found.likely_v[1], unit="V",
                      lines=tuple(lines))  # fmt: skip
    lines.append(
        Line(place="the rack", what="left with everything at its most", value=found.at_rack_v,
             unit="V", provenance=found.provenance, by="mains.load_v",
             inputs=(("power_w", Quantity(most.value, most.provenance)),),
             worked=f"({found.lowest_v:.1f} + sqrt({found.lowest_v:.1f}^2 - 4 x {most.value:.0f} x "
                    f"{loop_ohm:.3f})) / 2 = {found.at_rack_v:.2f}")
    )  # fmt: skip
    amps = most.value / found.at_rack_v
    lines += [
        Line(place=cable.name, what="takes of it", value=amps * cable.loop_ohm, unit="V",
             provenance=found.provenance,
             worked=f"{most.value:.0f} / {found.at_rack_v:.2f} x {cable.loop_ohm:.3f} = "
                    f"{amps * cable.loop_ohm:.2f}")
        for cable in found.cables
    ]  # fmt: skip
    one = next((b for b in found.boxes if b.box.gear.id == gear), None) if gear else found.weakest
    if one is None:
        return Reason(figure="volts", value=found.at_rack_v, low=None, high=None, unit="V",
                      lines=tuple(lines))  # fmt: skip
    name = rig.box_names[one.box.gear.id]
    lost = found.at_rack_v - one.volts_v
    if lost > 0:
        lines.append(
            Line(place=name, what="lost in the cords from strip to strip", value=-lost, unit="V",
                 provenance="assumed", by="conductors.loop_ohm", comes_to=one.volts_v,
                 worked=f"cords of {CORD_M:g} m and {CORD_MM2:g} mm\u00b2, {cord_ohm():.3f} ohm "
                        f"each, times what flows in each of them at {found.at_rack_v:.1f} V")
        )  # fmt: skip
    missing: tuple[str, ...] = (f"volts_min of {name}",)
    if one.needs_v is not None and one.margin_v is not None:
        missing = ()
        lines.append(
            Line(place=name, what="above the least it works with", value=one.margin_v, unit="V",
                 provenance=one.needs_v.provenance,
                 inputs=(("least_v", one.needs_v),),
                 worked=f"{one.volts_v:.1f} - {one.needs_v:g} = {one.margin_v:.1f}")
        )  # fmt: skip
    low_v, high_v = (end - lost for end in found.likely_v)
    return Reason(figure="volts", value=one.volts_v, low=low_v, high=high_v, unit="V",
                  lines=tuple(lines), missing=missing)  # fmt: skip


def why_power(rig: Rig, box: BoxLoad) -> Reason:
    """What one box takes at its most, in volt-amperes."""
    name = rig.box_names[box.gear.id]
    if box.most_w is None or box.most_va is None:
        return _waits("power", "VA", (f"the watts of {name}",))
    watts = Quantity(box.most_w.value, box.most_w.provenance)
    lines = [
        Line(place=name, what="watts at its most", value=watts, unit="W",
             provenance=watts.provenance),
        Line(place=name, what="volt-amperes", value=box.most_va.value, unit="VA",
             provenance=box.most_va.provenance, by="mains.apparent_va",
             inputs=(("power_w", watts), ("power_factor_ratio", box.power_factor)),
             worked=f"{watts:g} / {box.power_factor:g} = {box.most_va.value:.1f}"),
    ]  # fmt: skip
    return _ranged("power", box.most_va, "VA", lines)


def why_heat(rig: Rig, load: Load, found: Warmth | None) -> Reason:
    """How much warmer the closed case gets than the air around it."""
    if found is None:
        return _waits("heat", "K", ("a case with boxes in it",))
    lines: list[Line] = []
    running = 0.0
    for box in load.boxes:
        if box.gear.placed == "case" and box.usual_w is not None and box.usual_w.value:
            running += box.usual_w.value
            lines.append(
                Line(place=rig.box_names[box.gear.id], what="gives off", value=box.usual_w.value,
                     unit="W", provenance=box.usual_w.provenance, comes_to=running)
            )  # fmt: skip
    given, surface = found.heat_w, found.surface_m2
    if surface is not None and found.closed_rise_k is not None:
        shed = heat.shed_w_per_m2_k("painted-steel")
        lines.append(
            Line(place="the case", what="warmer than the air around it, at least",
                 value=found.closed_rise_k.value, unit="K",
                 provenance=found.closed_rise_k.provenance, by="heat.shed_w_per_m2_k",
                 worked=f"{given.value:.0f} / ({shed:g} x {surface:.2f} m\u00b2) = "
                        f"{found.closed_rise_k.value:.1f}")
        )  # fmt: skip
    lines.append(
        Line(place="the case", what=f"air that holds it to {WANTED_RISE_K:g} K",
             value=found.airflow_m3_per_h, unit="m3/h", provenance=given.provenance,
             by="heat.airflow_m3_per_h",
             worked=f"3600 x {given.value:.0f} / (1.2 x 1005 x {WANTED_RISE_K:g}) = "
                    f"{found.airflow_m3_per_h:.0f}")
    )  # fmt: skip
    missing = _names(rig, found.without_watts, "the watts of")
    if found.closed_rise_k is None:
        return Reason(figure="heat", value=None, low=None, high=None, unit="K", lines=tuple(lines),
                      missing=(*missing, "the outer size of the case"))  # fmt: skip
    return _ranged("heat", found.closed_rise_k, "K", lines, missing)


def why_minutes(rig: Rig, found: Bridge) -> Reason:
    """How long a UPS bridges."""
    name = rig.box_names[found.gear.id]
    load = found.load.load
    if found.battery_wh is None or found.minutes is None:
        return _waits("minutes", "min", (f"battery_wh of {name}, or what hangs on it",))
    lines: list[Line] = []
    running = 0.0
    for box in load.boxes:
        if box.usual_w is not None and box.usual_w.value:
            running += box.usual_w.value
            lines.append(
                Line(place=rig.box_names[box.gear.id], what="takes as a rule",
                     value=box.usual_w.value, unit="W", provenance=box.usual_w.provenance,
                     comes_to=running)
            )  # fmt: skip
    lines.append(
        Line(place=name, what="bridges", value=found.minutes.value, unit="min",
             provenance=found.minutes.provenance, by="supply.battery_h",
             inputs=(("capacity_wh", found.battery_wh), ("efficiency_ratio", EFFICIENCY)),
             worked=f"60 x {found.battery_wh:g} x {EFFICIENCY:g} / {load.usual_w.value:.0f} = "
                    f"{found.minutes.value:.1f}")
    )  # fmt: skip
    return _ranged("minutes", found.minutes, "min", lines)


def _names(rig: Rig, boxes: tuple[Gear, ...], of: str) -> tuple[str, ...]:
    return tuple(f"{of} {rig.box_names[box.id]}" for box in boxes)


def _ranged(
    figure: str, found: Likely, unit: str, lines: list[Line], missing: tuple[str, ...] = ()
) -> Reason:
    return Reason(figure=figure, value=found.value, low=found.low, high=found.high, unit=unit,
                  lines=tuple(lines), missing=missing)  # fmt: skip


def _waits(figure: str, unit: str, missing: tuple[str, ...]) -> Reason:
    return Reason(figure=figure, value=None, low=None, high=None, unit=unit, lines=(),
                  missing=missing)  # fmt: skip
