import pytest

from tests.checks.looking import findings, says

RACK = """
case: {type: case-12}
gear:
  - {id: strip, type: strip-c13-8, unit: 1}
  - {id: mixer, name: Mixer, type: mixer-rack-24, unit: 2}
  - {id: amp, name: Amp, type: headphone-amp-4, unit: 7}
"""


def test_nothing_said_about_mains_is_one_unknown_not_a_dozen_faults() -> None:
    (finding,) = findings("power.box-without-outlet", RACK)
    assert finding.severity == "unknown"
    assert finding.says == "Nothing says where Mixer and Amp get their mains."


def test_each_forgotten_box_is_named() -> None:
    text = RACK + "power: {feeds: [{gear: mixer, outlet: strip.outlet.1}]}\n"
    assert says("power.box-without-outlet", text) == ["Amp needs mains and has no outlet."]


def test_a_box_on_two_outlets() -> None:
    text = (
        RACK
        + """power:
  feeds: [{gear: mixer, outlet: strip.outlet.1}, {gear: mixer, outlet: strip.outlet.2}]
"""
    )
    assert says("power.outlet-used-twice", text) == [
        "Mixer hangs on Power strip, outlet 1 and on Power strip, outlet 2."
    ]


@pytest.mark.published("EN 50160 / IEC 60038: 230 V and 10 % are 253 V")
@pytest.mark.parametrize(("volts", "judged"), [(253, 0), (254, 1), (207, 0), (206, 1)])
def test_supply_range_at_its_ends(volts: int, judged: int) -> None:
    """conditioner-c13 takes 207 to 253 V."""
    text = f"""
gear: [{{id: filter, type: conditioner-c13, unit: 1}}]
venues: [{{id: v, name: Club, desk: {{takes: nothing}}, volts_v: {volts}}}]
"""
    assert len(findings("power.supply-range", text)) == judged


def test_a_house_s_box_is_the_house_s() -> None:
    text = """
gear: [{id: strip, type: strip-nema-8, unit: 1, owner: house}]
venues: [{id: v, name: Club, desk: {takes: nothing}, volts_v: 230}]
"""
    assert says("power.supply-range", text) == []


def test_one_fitting_socket_is_enough() -> None:
    text = """
gear: [{id: strip, type: strip-cee-8, unit: 1}]
venues:
  - id: v
    name: Club
    desk: {takes: nothing}
    circuits: [{id: a, socket: bs-1363-f}, {id: b, socket: cee-7-3}]
"""
    assert says("power.venue-socket", text) == []
    # A socket nobody asked about may be the one.
    assert says("power.venue-socket", text.replace(", socket: cee-7-3", "")) == []


def test_outlets_are_counted_with_the_strips_that_hang_on_strips() -> None:
    """A four-way UPS with an eight-way strip: the strip takes one of the twelve."""
    gear = [f"{{id: a{n}, type: headphone-amp-4, unit: {n + 4}}}" for n in range(11)]
    head = "{id: ups, type: ups-rack-650, unit: 1}, {id: strip, type: strip-c13-8, unit: 2}"
    text = f"case: {{type: case-20-castors}}\ngear: [{head}, {', '.join(gear)}]\n"
    assert says("power.outlet-missing", text) == []
    more = text.replace("a10, type: headphone-amp-4, unit: 14", "a10, type: hub-16, unit: 15")
    more = more.replace("]\n", ", {id: last, type: hub-16, unit: 16}]\n")
    assert says("power.outlet-missing", more) == [
        "13 plugs in the case, and outlets for 12: 12 inside the case."
    ]


def test_a_signal_socket_gives_no_mains() -> None:
    text = RACK + "power: {feeds: [{gear: amp, outlet: mixer.out.1}]}\n"
    assert says("power.wrong-plug", text) == ["Amp hangs on Mixer, out 1, which gives no mains."]


@pytest.mark.published("IEC 60038: 120 V at 60 Hz in North America, 230 V at 50 Hz in Europe")
@pytest.mark.parametrize(("country", "judged"), [("DE", 1), ("gb", 1), ("US", 0), ("XA", 0)])
def test_the_volts_of_a_country_count_until_somebody_asks(country: str, judged: int) -> None:
    """strip-nema-8 is for 120 V."""
    text = f"""
gear: [{{id: strip, type: strip-nema-8, unit: 1}}]
venues: [{{id: v, name: Club, country: {country}, desk: {{takes: nothing}}}}]
"""
    found = findings("power.supply-range", text)
    assert len(found) == judged
    assert bool(findings("missing.figure", text)) == (country == "XA")
