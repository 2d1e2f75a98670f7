"""Two figures of one thing: both are told, by the formula that joins them."""

import pytest

from rigproof.checks.catalogue import rule
from rigproof.checks.contradictions import of_type
from rigproof.rig import GearFile, GearType
from rigproof.rig.where import Where
from rigproof.rigfile import yaml12
from rigproof.rigfile.form import build
from rigproof.rigfile.library import library_type, type_faults, type_ids
from tests.bands import WHOLE, whole
from tests.checks.looking import says

HEAD = "format: 1\ntypes:\n  - {id: x, name: X, "


def made(text: str) -> GearType:
    data, faults = yaml12.read((HEAD + text + "}\n").encode(), "x.yaml")
    assert not faults
    built, more = build(data, GearFile, Where("x.yaml"))
    assert built is not None, more
    return built.types[0]


EARPHONE = "class: earphone, earphone: {sensitivity_db_mw: 107, impedance_ohm: 17, %s}"


@pytest.mark.published("definition of power: 107 dB at 1 mW into 17 ohm are 124.7 dB at 1 V")
@pytest.mark.parametrize(("db_v", "told"), [(124.7, 0), (125.6, 0), (126, 1), (123.5, 1)])
def test_two_sensitivities_and_ohms(db_v: float, told: int) -> None:
    found = list(of_type(made(EARPHONE % f"sensitivity_db_v: {db_v}")))
    assert len(found) == told
    for at, words in found:
        assert "107 dB at 1 mW and 17 ohm are 124.7 dB at 1 V" in words
        assert f"says {db_v:g} dB" in words
        assert str(at).startswith("x.yaml:3:")


POWER = "class: mixer, power: {inlet: iec-c14, volts_min: 100, volts_max: 240, %s}"
# Watts over volts are amperes where the power factor is 1; at 240 V, 120 W are 0.5 A.
PAIRS = {
    POWER % "watts_max: 120, amps_a: 0.5": (),
    POWER % "watts_max: 120, amps_a: 0.4": ("120 W", "0.5 A", "0.4 A"),
    POWER % "watts_max: 120, power_factor: 0.6, amps_a: 0.7": ("120 W", "0.83 A", "0.7 A"),
    POWER % "watts_max: 120, amps_a: 2": (),  # plates are printed for the worst
    POWER % "watts_max: 12, amps_a: 3": ("12 W", "3 A", "0.04"),
    POWER % "watts: 90, watts_max: 60": ("90 W", "60 W"),
    POWER % "amps_a: 2, inrush_a: 1": ("2 A", "1 A"),
    "class: hub, power: {poe_budget_watts: 30}, ports: [{id: p, way: both, connector: rj45-f, "
    "carries: network, poe_watts: 60}]": ("60 W", "30 W"),
    # 20 lg(10e-6 / 0.7746) = -97.8
    "class: mixer, ports: [{id: o, way: out, connector: xlr-m, carries: line, noise_uv: 10, "
    "noise_dbu: -90}]": ("10 \u00b5V", "-97.8 dBu", "-90 dBu"),
    "class: mixer, ports: [{id: o, way: out, connector: xlr-m, carries: line, noise_uv: 10, "
    "noise_dbu: -97.5}]": (),
    "class: mixer, ports: [{id: o, way: out, connector: xlr-m, carries: line, level_dbu: 24, "
    "max_level_dbu: 18}]": ("24 dBu", "18 dBu"),
    "class: mixer, inside: {stages: [{id: adc, kind: converter, full_scale_dbu: 18, "
    "max_level_dbu: 24}]}": ("18 dBu", "24 dBu"),
    "class: mixer, inside: {stages: [{id: pre, kind: preamp, gain_min_db: 0, gain_max_db: 50, "
    "gain_db: 60}]}": ("60 dB", "50 dB"),
    # 140 dB SPL are 200 Pa; 200 Pa x 12 mV are 2.4 V, +9.8 dBu
    "class: microphone, microphone: {sensitivity_mv_pa: 12, max_spl_db: 140}, ports: [{id: o, "
    "way: out, connector: xlr-m, carries: mic, max_level_dbu: 0}]": ("140 dB SPL", "9.8 dBu", "0 "),
    "class: microphone, microphone: {sensitivity_mv_pa: 12, max_spl_db: 140}, ports: [{id: o, "
    "way: out, connector: xlr-m, carries: mic, max_level_dbu: 10}]": (),
    # 17.24 ohm for 1 km of 1 mm2 of copper (IEC 60028)
    "class: lead, lead: {a: {connector: xlr-f}, b: {connector: xlr-m}, area_mm2: 0.22, "
    "resistance_ohm_per_m: 0.5}": ("0.22 mm", "0.078", "0.5"),
    "class: lead, lead: {a: {connector: xlr-f}, b: {connector: xlr-m}, area_mm2: 0.22, "
    "resistance_ohm_per_m: 0.08}": (),
    # IEC 60297-3-100: a unit is 44.45 mm
    "class: mixer, size: {units: 2, height_mm: 133}": ("133 mm", "88.9 mm"),
    "class: mixer, size: {units: 2, height_mm: 88}": (),
    "class: mixer, size: {units: 2, width_mm: 520}": ("520 mm", "482.6 mm"),
    "class: case, case: {units: 6, height_mm: 200}": ("200 mm", "266.7 mm"),
    "class: case, case: {units: 6, depth_mm: 400, rail_to_rail_mm: 450}": ("400 mm", "450 mm"),
}


@pytest.mark.parametrize("text", PAIRS)
def test_both_figures_are_told(text: str) -> None:
    found = list(of_type(made(text)))
    assert len(found) == bool(PAIRS[text])
    for _, words in found:
        assert all(part in words for part in PAIRS[text]), words


@pytest.mark.parametrize("type_id", type_ids())
def test_the_library_does_not_contradict_itself(type_id: str) -> None:
    assert list(of_type(library_type(type_id))) == []


@pytest.mark.parametrize("name", WHOLE)
def test_the_shipped_rigs_do_not_contradict_themselves(name: str) -> None:
    found = rule("figures.contradict")
    assert found is not None
    assert list(found.findings(whole(name))) == []


# What nothing could be built like is refused with its place; the fix names what could be.
REFUSED = {
    POWER.replace("100, volts_max: 240", "240, volts_max: 100") % "watts: 5": ("240 V", "100 V"),
    POWER % "watts: 0, amps_a: 3": ("3 A", "0 W", "720 W"),
    "class: mixer, inside: {stages: [{id: pre, kind: preamp, gain_min_db: 60, gain_max_db: 0}]}": (
        "60 dB",
        "0 dB",
    ),
}


@pytest.mark.parametrize("text", REFUSED)
def test_impossible_side_by_side(text: str) -> None:
    (fault,) = type_faults(made(text))
    assert all(part in str(fault) for part in REFUSED[text]), fault
    assert str(fault).startswith("x.yaml:3:")


IMPOSSIBLE = {
    "class: earphone, earphone: {impedance_ohm: 0}": "from 1 to 10,000",
    "class: earphone, earphone: {impedance_ohm: -17}": "from 1 to 10,000",
    "class: earphone, earphone: {impedance_ohm: .nan}": "from 1 to 10,000",
    "class: earphone, earphone: {impedance_ohm: 1e400}": "from 1 to 10,000",
    "class: earphone, earphone: {sensitivity_db_mw: 307}": "from 50 to 160",
    "class: earphone, earphone: {isolation_db: 110}": "from 0 to 60",
    "class: mixer, inside: {stages: [{id: p, kind: preamp, gain_max_db: 300}]}": "from -200 to 120",
    "class: mixer, ports: [{id: i, way: in, connector: xlr-f, carries: mic, impedance_ohm: -5}]": (
        "above 0 and up to 10,000,000"
    ),
    "class: mixer, power: {watts: -1}": "from 0 to 50,000",
    "class: mixer, power: {power_factor: 1.4}": "above 0 and up to 1",
    "class: mixer, power: {volts_min: 0}": "above 0 and up to 1,000",
    "class: power-strip, power: {rating_a: 0}": "above 0 and up to 1,000",
}


@pytest.mark.parametrize("text", IMPOSSIBLE)
def test_impossible_figures_are_refused_where_they_stand(text: str) -> None:
    data, faults = yaml12.read((HEAD + text + "}\n").encode(), "x.yaml")
    assert not faults
    built, (fault,) = build(data, GearFile, Where("x.yaml"))
    assert built is None
    assert str(fault).startswith("x.yaml:3:")
    assert IMPOSSIBLE[text] in fault.says


RIG = """
sources: [{id: v, name: Voice, family: voices, mic: mic-vocal-dynamic}]
gear: [{id: mixer, name: Mixer, type: mixer-rack-16}, {id: amp, name: Amp, type: headphone-amp-4}]
patch: [{source: v, plug: mixer.in.1, gain_db: %s}]
settings: [{at: amp.amp.1, gain_db: %s}]
venues: [{id: c, name: Club, desk: {takes: tails, lines: 24, lines_free: %s}}]
"""


def test_a_knob_ends_where_its_type_says() -> None:
    (knob,) = (
        float(stage.gain_max_db or 0)
        for stage in library_type("mixer-rack-16").inside.stages
        if stage.kind == "preamp"
    )
    assert says("figures.contradict", RIG % (knob, 14, 24)) == []
    assert says("figures.contradict", RIG % (knob + 1, 15, 25)) == [
        "Amp, amplifier 1 stands at 15 dB, and its knob ends at 14 dB.",
        f"The row of Voice sets {knob + 1:g} dB, and the knob of Mixer, preamp 1 ends at "
        f"{knob:g} dB.",
        "Club has 24 lines, and 25 of them are free.",
    ]


@pytest.mark.published("IEC 60038: 120 V at 60 Hz in North America, 230 V at 50 Hz in Europe")
@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ("country: DE, volts_v: 230, frequency_hz: 50", []),
        ("country: DE, volts_v: 240", []),
        ("country: DE, volts_v: 120", ["120 V", "230 V"]),
        ("country: US, frequency_hz: 50", ["50 Hz", "60 Hz"]),
        ("country: JP, frequency_hz: 60", []),
        ("country: XA, volts_v: 120", []),
    ],
)
def test_a_venue_against_its_country(stated: str, told: list[str]) -> None:
    text = f"venues: [{{id: c, name: Club, {stated}, desk: {{takes: nothing}}}}]\n"
    found = says("figures.contradict", text)
    assert len(found) == bool(told)
    assert all(part in found[0] for part in told)
