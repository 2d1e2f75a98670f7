"""Figures that contradict one another: both are told, and which of them counts."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.physics import conductors, mains, rackgrid
from rigproof.physics.countries import mains_of
from rigproof.physics.headphones import sensitivity_spl_per_v
from rigproof.physics.levels import v_to_dbu
from rigproof.physics.microphones import microphone_dbu
from rigproof.rig.geartype import GearType, LeadBody, Microphone, Port, Power, Stage
from rigproof.rig.ref import PortRef
from rigproof.rig.where import Where
from rigproof.signal.words import place
from rigproof.wording import counted, rounded
from rigproof.wording.sentences import sentence

# Two figures of one thing in decibels. Data sheets round to whole ones.
APART_DB = 1.0
# What a microphone bears, figured from its sensitivity: makers measure it at some distortion.
BEARS_DB = 3.0
# No supply has less watts for its volt-amperes. Common practice, no source.
LEAST_POWER_FACTOR = 0.1
# Copper of one cross-section: by class and temper it differs by a tenth.
COPPER_RATIO = 1.25
MAINS_RATIO = 0.1  # IEC 60038
_TWO_HALVES_V = 100.0  # Japan, 50 Hz in the east and 60 in the west
ROUNDING_MM = 1.5
PANEL_MM = 482.6  # IEC 60297-3-100

_Both = tuple[Where, str]  # where the one stands, and both in words


def contradict(view: View) -> Iterator[Finding]:
    """Two figures of one thing cannot both be true.

    Why: one of the two is a slip, and what is reckoned from it is wrong by as much.
    Fix: look again where the two come from, and take out the one that is wrong.
    Source: Derived: each figure follows from the others by the formula that is named; a decibel, a
        tenth or a millimetre of rounding is let pass.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 120,
                   level_dbu: -50}]
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 120}]
    """
    for _, type_ in sorted(view.rig.types.items()):
        for found in of_type(type_):
            yield Finding(at=found[0], says=found[1])
    for at, says in (*_sources(view), *_knobs(view), *_houses(view)):
        yield Finding(at=at, says=says)


def of_type(type_: GearType) -> Iterator[_Both]:
    """The contradictions within one gear type."""
    if type_.earphone is not None:
        yield from _earphone(type_)
    if type_.microphone is not None:
        yield from _microphone(type_, type_.microphone)
    if type_.power is not None:
        yield from _power(type_, type_.power)
    for port in type_.ports:
        yield from _port(type_, port)
    for stage in type_.inside.stages:
        yield from _stage(type_, stage)
    if type_.lead is not None:
        yield from _lead(type_, type_.lead)
    yield from _room(type_)


def _earphone(type_: GearType) -> Iterator[_Both]:
    """Decibels at a milliwatt, decibels at a volt and ohms: any two give the third."""
    earphone = type_.earphone
    assert earphone is not None
    by_mw, by_v, ohm = (
        earphone.sensitivity_db_mw,
        earphone.sensitivity_db_v,
        earphone.impedance_ohm,
    )
    if by_mw is None or by_v is None or ohm is None:
        return
    follows = float(
        sensitivity_spl_per_v(sensitivity_spl_per_mw=float(by_mw), impedance_ohm=float(ohm))
    )
    if abs(follows - by_v) > APART_DB:
        yield (
            earphone.where.of("sensitivity_db_v"),
            sentence(
                "{type}: {by_mw:g} dB at 1 mW and {ohm:g} ohm are {follows} dB at 1 V, "
                "and sensitivity_db_v says {by_v:g} dB, which is what counts.",
                type=type_.name,
                by_mw=by_mw,
                ohm=ohm,
                follows=rounded(follows),
                by_v=by_v,
            ),
        )


def _microphone(type_: GearType, microphone: Microphone) -> Iterator[_Both]:
    """What the capsule gives at the most it bears, against what its output bears."""
    sensitivity = microphone.sensitivity_mv_pa
    if sensitivity is None:
        return
    for port in type_.ports:
        if port.way != "out" or port.carries != "mic":
            continue
        for spl, stated, key in (
            (microphone.max_spl_db, port.max_level_dbu, "max_level_dbu"),
            (microphone.self_noise_dba, port.noise_dbu, "noise_dbu"),
        ):
            if spl is None or stated is None:
                continue
            follows = float(
                microphone_dbu(level_spl=float(spl), sensitivity_mv_per_pa=float(sensitivity))
            )
            if abs(follows - stated) > BEARS_DB:
                yield (
                    port.where.of(key),
                    sentence(
                        "{type}: {spl:g} dB SPL at {sensitivity:g} mV/Pa are {follows} dBu, and "
                        "{key} of {port} says {stated:g} dBu.",
                        type=type_.name,
                        spl=spl,
                        sensitivity=sensitivity,
                        follows=rounded(follows),
                        key=key,
                        port=port.id,
                        stated=stated,
                    ),
                )


def _power(type_: GearType, power: Power) -> Iterator[_Both]:
    """Watts, volt-amperes, amperes and the rush."""
    if power.watts is not None and power.watts_max is not None and power.watts > power.watts_max:
        yield (
            power.where.of("watts_max"),
            sentence(
                "{type} takes {watts:g} W as a rule (watts) and {watts_max:g} W at most "
                "(watts_max).",
                type=type_.name,
                watts=power.watts,
                watts_max=power.watts_max,
            ),
        )
    amps, most = power.amps_a, power.watts_max if power.watts_max is not None else power.watts
    if amps is not None and most is not None and most > 0:
        factor = float(power.power_factor) if power.power_factor is not None else 1.0
        top_v, low_v = power.volts_max or 253.0, power.volts_min or 100.0
        reach = float(mains.power_w(voltage_v=top_v, current_a=amps, power_factor_ratio=factor))
        wants = float(mains.current_a(power_w=most, voltage_v=top_v, power_factor_ratio=factor))
        if most > 1.1 * reach:
            yield (
                power.where.of("amps_a"),
                sentence(
                    "{type} takes {most:g} W, which even at {top_v:g} V are {wants:.2g} A, "
                    "and amps_a says {amps:g} A. The watts count.",
                    type=type_.name,
                    most=most,
                    top_v=top_v,
                    wants=wants,
                    amps=amps,
                ),
            )
        elif most < LEAST_POWER_FACTOR * amps * low_v:
            yield (
                power.where.of("amps_a"),
                sentence(
                    "{type} takes {most:g} W and {amps:g} A (amps_a): at {low_v:g} V that is "
                    "a power factor of {most2:.2f}, which no supply has. The watts count.",
                    type=type_.name,
                    most=most,
                    amps=amps,
                    low_v=low_v,
                    most2=most / (amps * low_v),
                ),
            )
    if amps is not None and power.inrush_a is not None and power.inrush_a < amps:
        yield (
            power.where.of("inrush_a"),
            sentence(
                "{type} draws {amps:g} A (amps_a) and rushes with {inrush_a:g} A "
                "(inrush_a), which is less.",
                type=type_.name,
                amps=amps,
                inrush_a=power.inrush_a,
            ),
        )
    budget = power.poe_budget_watts
    for port in type_.ports:
        if budget is not None and port.poe_watts is not None and port.poe_watts > budget:
            yield (
                port.where.of("poe_watts"),
                sentence(
                    "One socket ({port}) of {type} gives {poe_watts:g} W, and all of them "
                    "together {budget:g} W (poe_budget_watts).",
                    port=port.id,
                    type=type_.name,
                    poe_watts=port.poe_watts,
                    budget=budget,
                ),
            )


def _port(type_: GearType, port: Port) -> Iterator[_Both]:
    """One noise in microvolts and in decibels; a usual level above the most."""
    if port.noise_uv is not None and port.noise_dbu is not None and port.noise_uv > 0:
        follows = float(v_to_dbu(port.noise_uv * 1e-6))
        if abs(follows - port.noise_dbu) > APART_DB:
            yield (
                port.where.of("noise_dbu"),
                sentence(
                    "{type}, {port}: {noise_uv:g} µV are {follows} dBu, and noise_dbu says "
                    "{noise_dbu:g} dBu.",
                    type=type_.name,
                    port=port.id,
                    noise_uv=port.noise_uv,
                    follows=rounded(follows),
                    noise_dbu=port.noise_dbu,
                ),
            )
    usual, most = port.level_dbu, port.max_level_dbu
    if usual is not None and most is not None and usual > most:
        yield (
            port.where.of("level_dbu"),
            sentence(
                "{type}, {port}: its usual level is {usual:g} dBu, and it bears {most:g} "
                "dBu (max_level_dbu).",
                type=type_.name,
                port=port.id,
                usual=usual,
                most=most,
            ),
        )


def _stage(type_: GearType, stage: Stage) -> Iterator[_Both]:
    """Full scale against the most; a gain outside its own knob's range."""
    full, most = stage.full_scale_dbu, stage.max_level_dbu
    if full is not None and most is not None and abs(full - most) > APART_DB:
        yield (
            stage.where.of("max_level_dbu"),
            sentence(
                "{type}, {stage}: 0 dBFS are {full:g} dBu (full_scale_dbu), and it bears "
                "{most:g} dBu (max_level_dbu).",
                type=type_.name,
                stage=stage.id,
                full=full,
                most=most,
            ),
        )
    if stage.gain_db is not None:
        beyond = _beyond(stage, float(stage.gain_db))
        if beyond is not None:
            yield (
                stage.where.of("gain_db"),
                sentence(
                    "{type}, {stage}: its gain is {gain_db:g} dB, and its knob ends at "
                    "{beyond:g} dB.",
                    type=type_.name,
                    stage=stage.id,
                    gain_db=stage.gain_db,
                    beyond=beyond,
                ),
            )


def _beyond(stage: Stage, gain_db: float) -> float | None:
    """The end of the knob that a gain lies beyond, if it does."""
    low, high = stage.gain_min_db, stage.gain_max_db
    if high is not None and gain_db > high:
        return float(high)
    return float(low) if low is not None and gain_db < low else None


def _lead(type_: GearType, body: LeadBody) -> Iterator[_Both]:
    """Ohms per metre against the copper of the cross-section."""
    ohm, area = body.resistance_ohm_per_m, body.area_mm2
    if ohm is None or area is None or ohm <= 0:
        return
    follows = float(conductors.solid_ohm_per_km(float(area))) / 1000
    if not 1 / COPPER_RATIO < ohm / follows < COPPER_RATIO:
        yield (
            body.where.of("resistance_ohm_per_m"),
            sentence(
                "{type}: {area:g} mm² of copper have {follows:.2g} ohm for each metre, "
                "and resistance_ohm_per_m says {ohm:g}, which is what counts.",
                type=type_.name,
                area=area,
                follows=follows,
                ohm=ohm,
            ),
        )


def _room(type_: GearType) -> Iterator[_Both]:
    """Millimetres against rack units, and a case smaller outside than inside."""
    size, case = type_.size, type_.case
    if size is not None and size.units is not None and type_.class_ != "case":
        opening_mm = rackgrid.opening_mm(size.units)
        if size.height_mm is not None and size.height_mm > opening_mm + ROUNDING_MM:
            yield (
                size.where.of("height_mm"),
                sentence(
                    "{type} is {height_mm:g} mm high, and its {rack_units} leave "
                    "{opening_mm} mm. The units count.",
                    type=type_.name,
                    height_mm=size.height_mm,
                    rack_units=counted(size.units, "rack unit"),
                    opening_mm=rounded(opening_mm),
                ),
            )
        if size.width_mm is not None and size.width_mm > PANEL_MM + ROUNDING_MM:
            yield (
                size.where.of("width_mm"),
                sentence(
                    "{type} is {width_mm:g} mm wide and takes rack units, which are "
                    "{panel_mm:g} mm wide.",
                    type=type_.name,
                    width_mm=size.width_mm,
                    panel_mm=PANEL_MM,
                ),
            )
    if case is None:
        return
    inner_mm = rackgrid.opening_mm(case.units)
    if case.height_mm is not None and case.height_mm < inner_mm:
        yield (
            case.where.of("height_mm"),
            sentence(
                "{type} is {height_mm:g} mm high outside, and its {units} rack units are "
                "{inner_mm} mm.",
                type=type_.name,
                height_mm=case.height_mm,
                units=case.units,
                inner_mm=rounded(inner_mm),
            ),
        )
    parts = (case.rail_to_rail_mm, case.front_lid_mm, case.rear_lid_mm)
    deep_mm = float(sum(part for part in parts if part is not None))
    if case.depth_mm is not None and case.depth_mm < deep_mm:
        yield (
            case.where.of("depth_mm"),
            sentence(
                "{type} is {depth_mm:g} mm deep outside, and its rails and lids are "
                "{deep_mm:g} mm.",
                type=type_.name,
                depth_mm=case.depth_mm,
                deep_mm=deep_mm,
            ),
        )


def _sources(view: View) -> Iterator[_Both]:
    """A level stated beside a sound level and a microphone that give another."""
    for source in view.rig.file.sources:
        type_ = view.rig.types[source.mic] if source.mic else None
        sensitivity = type_.microphone.sensitivity_mv_pa if type_ and type_.microphone else None
        if source.level_dbu is None or source.spl_db is None or sensitivity is None:
            continue
        follows = float(
            microphone_dbu(level_spl=float(source.spl_db), sensitivity_mv_per_pa=float(sensitivity))
        )
        if abs(follows - source.level_dbu) > BEARS_DB:
            yield (
                source.where.of("level_dbu"),
                sentence(
                    "{source}: {spl_db:g} dB SPL at {sensitivity:g} mV/Pa are {follows} dBu, "
                    "and level_dbu says {level_dbu:g} dBu, which is what counts.",
                    source=source.name,
                    spl_db=source.spl_db,
                    sensitivity=sensitivity,
                    follows=rounded(follows),
                    level_dbu=source.level_dbu,
                ),
            )


def _knobs(view: View) -> Iterator[_Both]:
    """A knob written down beyond its end."""
    rig = view.rig
    for setting in rig.file.settings:
        bank = _stage_at(view, setting.at)
        end = _beyond(bank, float(setting.gain_db)) if bank is not None else None
        if end is not None:
            yield (
                setting.where.of("gain_db"),
                sentence(
                    "{place} stands at {gain_db:g} dB, and its knob ends at {end:g} dB.",
                    place=place(rig, str(setting.at)),
                    gain_db=setting.gain_db,
                    end=end,
                ),
            )
    for key, gain in view.graph.preamp_gains.items():
        bank = _stage_at(view, PortRef(key))
        end = _beyond(bank, float(gain)) if bank is not None else None
        if end is not None:
            row = next(row for row in rig.file.patch if row.gain_db is gain)
            yield (
                row.where.of("gain_db"),
                sentence(
                    "The row of {source} sets {gain:g} dB, and the knob of {place} ends at "
                    "{end:g} dB.",
                    source=rig.sources[row.source].name,
                    gain=gain,
                    place=place(rig, key),
                    end=end,
                ),
            )


def _stage_at(view: View, ref: PortRef) -> Stage | None:
    if ref.gear not in view.rig.gear:
        return None
    bank = view.rig.type_of(ref.gear).banks.get(ref.bank)
    return bank if isinstance(bank, Stage) else None


def _houses(view: View) -> Iterator[_Both]:
    """More lines free than there are; another mains than the country has."""
    for venue in view.venues:
        lines, free = venue.desk.lines, venue.desk.lines_free
        if lines is not None and free is not None and free > lines:
            yield (
                venue.desk.where.of("lines_free"),
                sentence(
                    "{venue} has {lines} lines, and {free} of them are free.",
                    venue=venue.name,
                    lines=lines,
                    free=free,
                ),
            )
        usual = mains_of(venue.country)
        if usual is None:
            continue
        volts, hertz = venue.volts_v, venue.frequency_hz
        if volts is not None and abs(volts - usual.voltage_v) > MAINS_RATIO * usual.voltage_v:
            yield (
                venue.where.of("volts_v"),
                sentence(
                    "{venue} has {volts:g} V (volts_v), and {country} as a rule "
                    "{voltage_v:g} V. What is stated counts.",
                    venue=venue.name,
                    volts=volts,
                    country=venue.country,
                    voltage_v=usual.voltage_v,
                ),
            )
        if hertz is not None and hertz != usual.frequency_hz and usual.voltage_v != _TWO_HALVES_V:
            yield (
                venue.where.of("frequency_hz"),
                sentence(
                    "{venue} has {hertz:g} Hz (frequency_hz), and {country} as a rule "
                    "{frequency_hz:g} Hz.",
                    venue=venue.name,
                    hertz=hertz,
                    country=venue.country,
                    frequency_hz=usual.frequency_hz,
                ),
            )


RULES = (Rule(id="figures.contradict", severity="risk", check=contradict, since="0.1"),)
