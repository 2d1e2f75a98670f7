"""The gear library as it ships: read from its files, held against standards and the trade."""

import math
import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import get_args

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.rig import GearFile, GearType, RigFile
from rigproof.rig.connectors import CONNECTORS, mate
from rigproof.rig.entry import PLACE_KEY, Entry
from rigproof.rig.geartype import GearClass, LeadEnd, Port
from rigproof.rig.quantity import Quantity
from rigproof.rig.where import Where
from rigproof.rigfile import yaml12
from rigproof.rigfile.form import build
from rigproof.rigfile.library import LIBRARY, library_type, type_faults, type_ids

FILES = sorted(LIBRARY.glob("*.yaml"))
TYPES = {type_id: library_type(type_id) for type_id in type_ids()}
GIVEN_TYPES = pytest.mark.parametrize("type_", TYPES.values(), ids=TYPES)


def _read_whole(path: Path) -> GearFile:
    data, faults = yaml12.read(path.read_bytes(), path.name)
    built, more = build(data, GearFile, Where(path.name))
    assert not faults + more
    assert built is not None
    return built


def _plain(entry: object) -> object:
    """An entry without its places in the file, down to the provenance of each figure."""
    if isinstance(entry, Entry):
        return {
            name: _plain(getattr(entry, name))
            for name in entry.__struct_fields__
            if name != "where"
        }
    if isinstance(entry, tuple):
        return [_plain(part) for part in entry]
    if isinstance(entry, Quantity):
        return (float(entry), entry.provenance, entry.date, entry.note)
    return entry


def _figures(entry: object, path: str) -> Iterator[tuple[str, Quantity]]:
    if isinstance(entry, Quantity):
        yield path, entry
    elif isinstance(entry, Entry):
        for name in entry.__struct_fields__:
            yield from _figures(getattr(entry, name), f"{path}.{name}")
    elif isinstance(entry, tuple):
        for part in entry:
            yield from _figures(part, path)


def _of(class_: str) -> list[GearType]:
    return [t for t in TYPES.values() if t.class_ == class_]


def _ports(type_id: str) -> dict[str, Port]:
    return {port.id: port for port in TYPES[type_id].ports}


# The files


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_the_cut_by_lines_agrees_with_a_full_parse(path: Path) -> None:
    whole = _read_whole(path).types
    assert whole
    for type_ in whole:
        cut = library_type(type_.id)
        assert _plain(cut) == _plain(type_)
        assert cut.where.line == type_.where.line
        assert [p.where.line for p in cut.ports] == [p.where.line for p in type_.ports]


def test_no_type_is_lost_by_the_cut_and_none_is_there_twice() -> None:
    ids = [type_.id for path in FILES for type_ in _read_whole(path).types]
    assert [name for name, count in Counter(ids).items() if count > 1] == []
    assert sorted(ids) == sorted(TYPES)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_each_file_says_whose_figures_these_are(path: Path) -> None:
    head = path.read_text(encoding="utf-8").split("format:")[0]
    said = " ".join(line.lstrip("# ") for line in head.splitlines())
    assert "Typical figures, from memory; not those of any product." in said


def test_the_library_covers_every_class_of_box() -> None:
    # Instruments are sources of the rig, not boxes of the library.
    missing = set(get_args(GearClass)) - {t.class_ for t in TYPES.values()} - {"instrument"}
    assert missing == set()
    assert len(TYPES) >= 110


# Each type


@GIVEN_TYPES
def test_a_type_is_sound_inside(type_: GearType) -> None:
    assert type_faults(type_) == []


@GIVEN_TYPES
def test_every_figure_says_it_is_typical(type_: GearType) -> None:
    assert type_.figures == "typical"
    wrong = [name for name, figure in _figures(type_, type_.id) if figure.provenance != "typical"]
    assert wrong == []


@GIVEN_TYPES
def test_a_type_has_a_weight_and_a_price(type_: GearType) -> None:
    assert type_.weight_kg is not None
    assert type_.price_eur is not None


# Abbreviations of the trade and of open standards; "Wi-Fi" is what people look for on a box.
CAPITALS = re.compile(
    r"A|AES3|B|BS|C\d*|CEE|D-sub|DI|dB|GHz|IEC|Mb/s|MIDI|NEMA|PoE|RCA|U|UPS|USB|V|Wi-Fi|XLR|Y-lead"
)


@GIVEN_TYPES
def test_a_name_holds_no_makers_name(type_: GearType) -> None:
    """Cheap guard: a capital inside a name is an abbreviation of the trade or a maker's word."""
    words = re.findall(r"[^\s,()]+", type_.name)[1:]
    strange = [w for w in words if w != w.lower() and not CAPITALS.fullmatch(w)]
    assert strange == []


@GIVEN_TYPES
def test_a_mains_box_tells_its_volts_and_its_inlet(type_: GearType) -> None:
    power = type_.power
    if power is None or power.by != "mains":
        assert power is None or power.inlet is None
        return
    assert power.inlet is not None
    assert power.volts_min is not None
    assert power.volts_max is not None
    assert power.volts_min < power.volts_max
    if type_.class_ != "power-strip":
        assert power.watts is not None
        assert power.watts_max is not None
        assert power.watts <= power.watts_max
    # A plug of one region on the box itself says which mains it is made for.
    if power.inlet == "nema-5-15-m":
        assert power.volts_min >= 90
        assert power.volts_max <= 132
    if power.inlet in {"cee-7-7", "cee-7-16", "bs-1363-m"}:
        assert power.volts_min >= 180
        assert power.volts_max <= 264


RATED_A = {"iec-c6": 2.5, "iec-c8": 2.5, "iec-c14": 10, "iec-c20": 16}


@pytest.mark.published(
    "IEC 60320-1, rated currents of couplers: C5/C6 2.5 A, C7/C8 2.5 A, C13/C14 10 A, C19/C20 16 A"
)
def test_no_box_draws_more_than_its_inlet_is_rated_for() -> None:
    checked: Counter[str] = Counter()
    for type_ in TYPES.values():
        power = type_.power
        if power is None or power.inlet not in RATED_A or power.watts_max is None:
            continue
        assert power.volts_min is not None
        most_a = power.watts_max / (power.power_factor or 1) / power.volts_min
        assert most_a <= RATED_A[power.inlet], type_.id
        checked[power.inlet] += 1
    assert {"iec-c6", "iec-c8", "iec-c14"} <= set(checked)


@pytest.mark.published("IEC 61938, P48: at most 10 mA (from memory)")
def test_what_lives_on_48_v_says_what_it_draws() -> None:
    draws = []
    for type_ in TYPES.values():
        power = type_.power
        on_phantom = power is not None and power.by == "phantom"
        assert on_phantom == ("must" in {port.phantom_need for port in type_.ports}), type_.id
        if power is not None and on_phantom:
            assert power.phantom_ma is not None, type_.id
            draws.append(power.phantom_ma)
    assert len(draws) >= 12
    assert min(draws) > 0
    assert max(draws) <= 10


@pytest.mark.published("common practice, no source: pins send, holes receive")
def test_balanced_microphone_sockets_have_the_usual_gender() -> None:
    usual = {"in": {"xlr-f", "combo-f"}, "out": {"xlr-m", "xlr5-m"}}
    many_way = {"multipin-f", "db25-f"}
    checked = Counter(
        (port.way, port.connector in usual[port.way])
        for type_ in TYPES.values()
        for port in type_.ports
        if port.carries == "mic" and port.balanced and port.connector not in many_way
    )
    assert set(checked) == {("in", True), ("out", True)}


@GIVEN_TYPES
def test_only_inputs_can_feed_48_v(type_: GearType) -> None:
    for port in type_.ports:
        assert port.phantom == "none" or port.way == "in"
        assert port.phantom_need is None or port.way == "out"


@GIVEN_TYPES
def test_a_box_that_is_off_cannot_deliver_what_it_amplifies(type_: GearType) -> None:
    """Silence of an active output must be stated: passing on is the default of plain wires."""
    stages = {stage.id for stage in type_.inside.stages}
    if type_.passive:
        return
    for wire in type_.inside.wires:
        bank = type_.banks[wire.to.bank]
        if wire.from_.bank in stages and isinstance(bank, Port) and bank.way == "out":
            assert wire.when_off == "silent" or bank.carries not in {"line", "phones"}, wire


# Levels that belong together


def test_the_largest_input_is_full_scale_less_the_smallest_gain() -> None:
    checked = 0
    for type_ in TYPES.values():
        pres = list(type_.stages("preamp"))
        adc = next((s for s in type_.stages("converter") if s.id == "adc"), None)
        port = next((p for p in type_.ports if p.phantom == "per-input"), None)
        if not pres or adc is None or port is None:
            continue
        assert pres[0].gain_min_db is not None
        assert adc.full_scale_dbu is not None
        assert port.max_level_dbu == adc.full_scale_dbu - pres[0].gain_min_db, type_.id
        checked += 1
    assert checked >= 14


def test_an_output_after_a_converter_ends_at_its_full_scale() -> None:
    checked = 0
    for type_ in TYPES.values():
        scale = {s.id: s.full_scale_dbu for s in type_.stages("converter")}
        for wire in type_.inside.wires:
            bank = type_.banks[wire.to.bank]
            if wire.from_.bank in scale and isinstance(bank, Port) and bank.carries == "line":
                assert bank.max_level_dbu == scale[wire.from_.bank], type_.id
                checked += 1
    assert checked >= 15


@pytest.mark.published("thermal noise of 150 ohm in 20 kHz at 290 K: -130.9 dBu (from memory)")
def test_no_preamp_is_quieter_than_the_resistor_it_is_measured_with() -> None:
    eins = [s.ein_dbu for t in TYPES.values() for s in t.stages("preamp")]
    assert eins
    for ein in eins:
        assert ein is not None
        assert -130.9 < ein < -115


def test_a_noise_figure_says_how_it_was_weighted() -> None:
    for type_ in TYPES.values():
        for bank in type_.banks.values():
            noise: list[Quantity | None] = [bank.noise_dbu]
            noise.append(bank.noise_uv if isinstance(bank, Port) else bank.ein_dbu)
            assert (bank.noise_weighting is not None) == any(n is not None for n in noise), bank


@pytest.mark.published("converter delays of about 0.3 to 1.0 ms: common practice, no source")
def test_converters_delay_as_converters_do() -> None:
    delays = [s.delay_ms for t in TYPES.values() for s in t.stages("converter")]
    assert len(delays) > 20
    assert all(delay is not None and 0.3 <= delay <= 1.0 for delay in delays)


# Microphones and earphones


def test_microphones_give_what_levels_are_computed_from() -> None:
    for type_ in _of("microphone"):
        mic = type_.microphone
        assert mic is not None
        (port,) = type_.ports
        if mic.kind == "contact":
            continue
        assert mic.sensitivity_mv_pa is not None
        assert mic.max_spl_db is not None
        assert port.impedance_ohm is not None
        if type_.power is not None:  # electronics make noise; a coil or ribbon only its resistance
            assert mic.self_noise_dba is not None
            assert 95 < mic.max_spl_db - mic.self_noise_dba < 135


def test_microphones_of_every_kind_are_there() -> None:
    kinds = {t.microphone.kind for t in _of("microphone") if t.microphone}
    assert kinds == {"dynamic", "condenser", "ribbon", "boundary", "contact"}


@pytest.mark.published(
    "Sensitivity: dB/V = dB/mW + 10 lg(1000/Z); worked figure 103.69 dB/mW at 32 ohm = 118.64 dB/V"
)
def test_sensitivity_by_power_and_by_voltage_agree() -> None:
    for type_ in _of("earphone"):
        ear = type_.earphone
        assert ear is not None
        assert ear.sensitivity_db_mw is not None
        assert ear.sensitivity_db_v is not None
        assert ear.impedance_ohm is not None
        by_volt = ear.sensitivity_db_mw + 10 * math.log10(1000 / ear.impedance_ohm)
        assert ear.sensitivity_db_v == pytest.approx(by_volt, abs=0.0501), type_.id
    one = TYPES["earphones-dynamic"].earphone
    assert one is not None
    assert one.sensitivity_db_mw == pytest.approx(103.69, abs=0.011)
    assert one.impedance_ohm == pytest.approx(32)
    assert one.sensitivity_db_v == pytest.approx(118.64, abs=0.06)


def test_earphones_span_the_sensitivities_people_own() -> None:
    by_volt = sorted(t.earphone.sensitivity_db_v or 0 for t in _of("earphone") if t.earphone)
    assert by_volt[0] <= 96
    assert by_volt[-1] >= 129
    steps = [high - low for low, high in pairwise(by_volt)]
    assert max(steps) < 8


def _hiss_db_spl(amp: str, ear: str) -> float:
    noise_uv = _ports(amp)["phones"].noise_uv
    phones = TYPES[ear].earphone
    assert noise_uv is not None
    assert phones is not None
    assert phones.sensitivity_db_v is not None
    return phones.sensitivity_db_v + 20 * math.log10(noise_uv / 1e6)


SENSITIVE = ["earphones-dual", "earphones-custom-3", "earphones-custom-6"]


@pytest.mark.published(
    "common practice, no source: the noisy box is sent back for hiss, the quiet one is kept"
)
@pytest.mark.parametrize("ear", SENSITIVE)
def test_the_noisy_amplifier_is_heard_in_a_quiet_room_and_the_quiet_one_is_not(ear: str) -> None:
    # A quiet room of about 30 dB(A), less the isolation, leaves little to hide a hiss;
    # a hiss below about 17 dB(A) goes unnoticed (from memory).
    for amp in ("headphone-amp-4-noisy", "headphone-amp-6-noisy"):
        assert _hiss_db_spl(amp, ear) > 30
    for amp in ("headphone-amp-4-quiet", "headphone-amp-6-quiet"):
        assert _hiss_db_spl(amp, ear) < 18.5


@pytest.mark.published("common practice, no source: the noisy active split is sent back for hiss")
def test_the_noisy_split_drowns_a_good_preamp_and_the_quiet_one_does_not() -> None:
    ein = next(TYPES["mixer-rack-16"].stages("preamp")).ein_dbu
    assert ein is not None
    for split, low, high in (("splitter-active-8-noisy", 20, 40), ("splitter-active-8", 0, 10)):
        for leg in ("out", "iso"):
            noise = _ports(split)[leg].noise_dbu
            assert noise is not None
            assert low < noise - ein < high


# Connectors: nothing that cannot be plugged


def _lead_ends() -> list[LeadEnd]:
    return [end for t in TYPES.values() if t.lead for end in (t.lead.a, t.lead.b)]


def test_every_socket_and_inlet_takes_some_lead_of_the_library() -> None:
    plugs = {end.connector for end in _lead_ends()}
    orphans = set()
    for type_ in TYPES.values():
        inlets = [type_.power.inlet] if type_.power and type_.power.inlet else []
        # A plug on a captive cord goes straight into another box's socket.
        sockets = plugs | {p.connector for t in TYPES.values() if t is not type_ for p in t.ports}
        for connector in [*(port.connector for port in type_.ports), *inlets]:
            if connector != "air" and not any(mate(connector, other).fits for other in sockets):
                orphans.add((type_.id, connector))
    assert orphans == set()


def test_every_end_of_a_lead_finds_a_socket_or_another_lead() -> None:
    sockets = {port.connector for t in TYPES.values() for port in t.ports}
    sockets |= {t.power.inlet for t in TYPES.values() if t.power and t.power.inlet}
    ends = {end.connector for end in _lead_ends()}
    lonely = {e for e in ends if not any(mate(e, s).fits for s in sockets | ends)}
    # Line-level players with such sockets are sources of the rig, not gear of the library.
    assert lonely == {"rca-m"}


def test_a_lead_keeps_the_number_of_its_signals() -> None:
    for type_ in TYPES.values():
        if type_.lead is None or type_.id == "y-xlr":  # the one lead that feeds two from one
            continue
        ways = [end.count * end.lanes for end in (type_.lead.a, type_.lead.b)]
        assert ways[0] == ways[1], type_.id


@pytest.mark.published("common practice, no source: an XLR lead goes from pins to holes")
def test_an_xlr_lead_takes_the_signal_from_pins() -> None:
    lead = TYPES["lead-xlr"].lead
    assert lead is not None
    assert mate(lead.a.connector, _ports("mic-vocal-dynamic")["out"].connector).fits
    assert mate(lead.b.connector, _ports("mixer-rack-16")["in"].connector).fits


@given(st.sampled_from(CONNECTORS), st.sampled_from(CONNECTORS))
def test_plugging_does_not_ask_which_end_comes_first(one: str, other: str) -> None:
    assert mate(one, other) == mate(other, one)


@pytest.mark.published(
    "IEC 60228 Table 3, class 5, plain copper at 20 C, ohm/km: 0.75 mm2 26, 1.5 mm2 13.3, "
    "1 mm2 19.5 (from memory)"
)
def test_mains_conductors_have_the_resistance_of_their_area() -> None:
    printed = {0.75: 26, 1.0: 19.5, 1.5: 13.3}
    found = set()
    for type_ in TYPES.values():
        lead = type_.lead
        if lead is None or lead.conductors != "mains":
            continue
        assert lead.area_mm2 is not None
        assert lead.resistance_ohm_per_m is not None
        area = float(lead.area_mm2)
        assert lead.resistance_ohm_per_m * 1000 == pytest.approx(printed[area], abs=1e-9)
        found.add(area)
    assert found == set(printed)


# Rack and cases


@pytest.mark.published("EIA-310-D / IEC 60297-3-100: 1 U = 44.45 mm, panel = 44.45 n - 0.8 mm")
def test_panels_leave_the_gap_of_the_standard() -> None:
    printed = {1: 43.65, 2: 88.1}
    panels = [t.size for t in _of("blank")]
    assert {size.units for size in panels if size} == set(printed)
    for size in panels:
        assert size is not None
        assert size.units is not None
        assert size.height_mm == pytest.approx(printed[size.units], abs=0.06)


@pytest.mark.published("EIA-310-D: opening of 12 U 533.4 mm, of 20 U 889 mm")
def test_a_case_is_taller_than_the_units_it_holds() -> None:
    cases = [t.case for t in _of("case") if t.case]
    assert {4, 6, 8, 10, 12, 14, 16, 20} <= {case.units for case in cases}
    for case in cases:
        assert case.height_mm is not None
        shell = case.height_mm - 44.45 * case.units
        assert 40 < shell < (100 if not case.castors else 250)
    heights = {t.case.units: t.case.height_mm or 0 for t in _of("case") if t.case}
    assert heights[12] > 533.4
    assert heights[20] > 889


@pytest.mark.published("EIA-310-D: 450 mm opening between the rails; half width fits twice")
def test_half_width_boxes_fit_side_by_side() -> None:
    halves = [t.size for t in TYPES.values() if t.size and t.size.rack_width == "half"]
    assert halves
    for size in halves:
        assert size.width_mm is not None
        assert 2 * size.width_mm <= 450


def test_every_rack_box_tells_its_depth() -> None:
    for type_ in TYPES.values():
        if type_.size and type_.size.units:
            assert type_.size.depth_mm is not None, type_.id


# Facts of the trade


@pytest.mark.published("common practice, no source: 16 local and 16 by one network cable")
def test_sixteen_and_sixteen_make_32_channels_over_one_cable() -> None:
    mixer, box = TYPES["mixer-rack-16"], _ports("stage-box-16x8")
    ports = _ports("mixer-rack-16")
    channels = sum(stage.count for stage in mixer.stages("channel"))
    assert ports["in"].count + box["link"].lanes_tx == channels == 32
    assert ports["link"].count == box["link"].count == 1
    assert ports["link"].lanes_rx == box["link"].lanes_tx == 16
    assert ports["link"].protocol == box["link"].protocol
    cable = TYPES["lead-network-locking"].lead
    assert cable is not None
    assert mate(cable.a.connector, box["link"].connector).fits
    assert mate(cable.b.connector, ports["link"].connector).fits


@pytest.mark.published("common practice, no source: a personal-mixer feed carries 16 channels")
def test_a_personal_mixer_feed_carries_16_channels() -> None:
    feed, hub = _ports("mixer-rack-16")["feed"], _ports("hub-16")
    mixer = TYPES["personal-mixer-16"]
    slots = sum(stage.count for stage in mixer.stages("slot"))
    assert feed.lanes == hub["feed"].lanes == hub["out"].lanes == slots == 16
    assert feed.protocol == hub["feed"].protocol == _ports("personal-mixer-16")["feed"].protocol


@pytest.mark.published("common practice, no source: six stereo channels, four wired, two left")
@pytest.mark.parametrize("amp", ["headphone-amp-6-quiet", "headphone-amp-6-noisy"])
def test_a_six_channel_headphone_amplifier_with_four_pairs_wired_leaves_two(amp: str) -> None:
    ports = _ports(amp)
    assert ports["in"].count == ports["phones"].count == 6
    assert {ports["in"].lanes, ports["phones"].lanes} == {2}
    assert ports["phones"].count - 4 == 2


@pytest.mark.published("common practice, no source: a split panel serves as front patch panel")
def test_an_eight_way_split_panel_can_be_the_front_patch_panel() -> None:
    panel = TYPES["splitter-panel-8"]
    ports = _ports("splitter-panel-8")
    assert panel.size is not None
    assert panel.size.units == 1
    assert panel.size.rack_width == "full"
    assert panel.passive
    assert (ports["in"].count, ports["in"].face) == (8, "front")
    legs = [port for port in panel.ports if port.way == "out"]
    assert len(legs) == 2
    assert all((leg.count, leg.face) == (8, "rear") for leg in legs)


@pytest.mark.published("common practice, no source: racks of about 12 U serve such a rig")
def test_cases_of_about_12_units_come_with_and_without_castors() -> None:
    twelve = [t.case for t in _of("case") if t.case and t.case.units == 12]
    assert sorted(bool(case.castors) for case in twelve) == [False, True]


def test_isolated_legs_block_48_v_and_direct_legs_pass_it() -> None:
    checked = 0
    for type_ in _of("splitter"):
        for wire in type_.inside.wires:
            bank = type_.banks[wire.to.bank]
            if not isinstance(bank, Port):
                continue
            checked += 1
            assert wire.isolated == bank.id.startswith("iso"), wire
            if wire.isolated or (not type_.passive and bank.id == "out"):
                assert wire.phantom == "blocks"
            else:
                assert wire.phantom == "passes"
    assert checked > 20


# The reader knows a figure by its key


def _keys_of_figures() -> dict[str, bool]:
    """Each key of the model: whether a figure stands under it."""
    found: dict[str, bool] = {}
    seen: set[type] = set()

    def walk(info: msgspec.inspect.Type, key: str) -> None:
        if isinstance(info, msgspec.inspect.Metadata):
            walk(info.type, key)
        elif isinstance(info, msgspec.inspect.UnionType):
            for part in info.types:
                if not isinstance(part, msgspec.inspect.NoneType):
                    walk(part, key)
        elif isinstance(info, msgspec.inspect.VarTupleType):
            walk(info.item_type, key)
        elif isinstance(info, msgspec.inspect.TupleType):
            for part in info.item_types:
                walk(part, key)
        elif isinstance(info, msgspec.inspect.StructType):
            if info.cls not in seen:
                seen.add(info.cls)
                for field in info.fields:
                    walk(field.type, field.encode_name)
        elif isinstance(info, msgspec.inspect.CustomType) and issubclass(info.cls, Quantity):
            found[key] = True
        else:
            found.setdefault(key, False)

    for model in (GearFile, RigFile):
        walk(msgspec.inspect.type_info(model), "")
    already_there = {"figures", "note", PLACE_KEY}
    return {key: figure for key, figure in found.items() if key not in already_there}


@pytest.mark.parametrize(("key", "figure"), sorted(_keys_of_figures().items()))
def test_a_figure_takes_the_provenance_of_its_entry_and_a_count_stays_a_count(
    key: str, figure: bool
) -> None:
    data, faults = yaml12.read(f"figures: typical\nnote: x\n{key}: 7\n".encode(), "gear.yaml")
    assert not faults
    assert isinstance(data[key], Quantity) == figure
    assert not figure or data[key].provenance == "typical"
