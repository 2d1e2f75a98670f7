"""Rules about the case: units, depth, lids, light, and what hangs on how many screws."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rack import Seat, balance, clashes, homeless, seats
from rigproof.rack.elevation import Hit
from rigproof.signal.words import box
from rigproof.wording import counted, noun, ranges, some
from rigproof.wording.sentences import joined, sentence

# Common practice, no source: a 1 or 2 unit box on its front screws alone, when it is this deep
# or this heavy, bends its ears on the road.
DEEP_MM = 350.0
HEAVY_KG_PER_UNIT = 6.0
# Common practice, no source: of the height of the rails. Half would be level; weights are known
# to about a tenth.
HIGH_RATIO = 0.55
# Common practice, no source: a finger's breadth between an antenna and the lid.
ANTENNA_CLEAR_MM = 15.0


def _name(view: View, seat: Seat) -> str:
    return box(view.rig, seat.gear.id)


def units_overlap(view: View) -> Iterator[Finding]:
    """Two boxes want the same units of the same rails.

    Why: one of them stays on the floor.
    Fix: move one; the elevation of the show book lists the free units.
    Source: EIA-310-D (unit grid).

    Fails:
        case: {type: case-12}
        gear:
          - {id: split, name: Split, type: splitter-transformer-16, unit: 5}
          - {id: amp, name: Amp, type: headphone-amp-4, unit: 6}
    Passes:
        case: {type: case-12}
        gear:
          - {id: split, name: Split, type: splitter-transformer-16, unit: 5}
          - {id: amp, name: Amp, type: headphone-amp-4, unit: 8}
    """
    for clash in clashes(seats(view.rig)):
        shared = ranges(clash.units)
        unit = noun(len(clash.units), "unit")
        yield Finding(
            at=clash.other.gear.where.of("unit"),
            says=sentence(
                "{name} ({where}) and {name2} ({where2}) both want {unit} {shared} at the {face}.",
                name=_name(view, clash.one),
                where=clash.one.where,
                name2=_name(view, clash.other),
                where2=clash.other.where,
                unit=unit,
                shared=shared,
                face=sentence(clash.one.face),
            ),
        )


def beyond_top(view: View) -> Iterator[Finding]:
    """A box sits above the top of the case.

    Why: it is not in the case.
    Fix: give it a lower unit, or take a higher case.
    Source: EIA-310-D (unit grid); the case's own height.

    Fails:
        case: {type: case-6}
        gear: [{id: mixer, type: mixer-rack-24, unit: 4}]
    Passes:
        case: {type: case-6}
        gear: [{id: mixer, type: mixer-rack-24, unit: 3}]
    """
    found = view.elevation
    if found is None:
        return
    for drawn in found.boxes:
        seat = drawn.seat
        if seat.high > found.case.units:
            yield Finding(
                at=seat.gear.where.of("unit"),
                says=sentence(
                    "{name} fills {where}; the case has {units}.",
                    name=_name(view, seat),
                    where=seat.where,
                    units=counted(found.case.units, "unit"),
                ),
                found=seat.high,
                limit=found.case.units,
                unit="units",
            )


def box_without_place(view: View) -> Iterator[Finding]:
    """Nothing says where a box made for a rack sits, or in which units of the case.

    Why: whether it fits, and what feeds it, cannot be judged.
    Fix: give each the lowest unit it fills, say inside what it lies, or write place: stage.
    Source: common practice, no source.

    Fails:
        case: {type: case-12}
        gear: [{id: mixer, type: mixer-rack-24}]
    Passes:
        case: {type: case-12}
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
    """
    if view.rig.file.case is None:
        return
    found = homeless(view.rig)
    if found:
        yield Finding(
            at=found[0].where,
            says=sentence(
                "No unit of the case is stated for {boxes}.",
                boxes=some(box(view.rig, gear.id) for gear in found),
            ),
        )


def _hits(view: View) -> tuple[Hit, ...]:
    return view.elevation.hits if view.elevation is not None else ()


def too_deep(view: View) -> Iterator[Finding]:
    """A box is too deep for the case, or runs into a bar.

    Why: it is noticed with the box bought, the case on the floor and the drill in the hand.
    Fix: move it past the bar, hang it outside the case, or take a deeper case.
    Source: Derived from the stated depths; provenance as stated.

    Fails:
        case: {type: case-shallow-4}
        gear: [{id: ups, type: ups-rack-650, unit: 1}]
    Passes:
        case: {type: case-12}
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
    """
    found = view.elevation
    for hit in _hits(view):
        if hit.meets == "box" and hit.against in {"case behind", "bar"}:
            bar = (
                sentence(" the {note} behind it", note=hit.bar.note or sentence("bar"))
                if hit.bar
                else sentence(" the closed case")
            )
            yield Finding(
                at=hit.box.seat.gear.where,
                says=sentence(
                    "{name} is {needs_mm:g} mm deep;{bar} leaves {has_mm:g} mm.",
                    name=_name(view, hit.box.seat),
                    needs_mm=hit.needs_mm,
                    bar=bar,
                    has_mm=hit.has_mm,
                ),
                found=hit.needs_mm,
                limit=hit.has_mm,
                unit="mm",
            )
    if found is not None and found.unknown_depth and found.case.rail_to_rail_mm is not None:
        names = some(_name(view, b.seat) for b in found.unknown_depth)
        yield Finding(
            at=found.unknown_depth[0].seat.gear.where,
            severity="unknown",
            says=sentence(
                "The depth of {names} is not stated, so whether the case takes them is open.",
                names=names,
            ),
            fix=sentence("State depth_mm under size of the gear type."),
        )


def lid_hits_plugs(view: View) -> Iterator[Finding]:
    """A closed lid, or a bar, presses on plugs.

    Why: the lid does not close, or it does and a plug is bent or pulled for good.
    Fix: use right-angle plugs and state the new figure, set the box back, or pull the plugs to
        close.
    Source: Derived from the stated depths; provenance as stated.

    Fails:
        case: {type: case-12}
        gear: [{id: router, type: router-wifi-rack, unit: 12}]
    Passes:
        case: {type: case-12}
        gear: [{id: mixer, type: mixer-rack-24, unit: 1}]
    """
    for hit in _hits(view):
        if hit.meets == "plugs" and hit.against != "box":
            seat = hit.box.seat
            what = {
                "lid before": sentence(
                    "plugs, knobs or antennas stand out {needs_mm:g} mm, and the closed lid "
                    "leaves {has_mm:g} mm",
                    needs_mm=hit.needs_mm,
                    has_mm=hit.has_mm,
                ),
                "case behind": sentence(
                    "with its plugs it needs {needs_mm:g} mm, and the closed case behind its "
                    "rails leaves {has_mm:g} mm",
                    needs_mm=hit.needs_mm,
                    has_mm=hit.has_mm,
                ),
                "bar": sentence(
                    "with its plugs it needs {needs_mm:g} mm, and a bar leaves {has_mm:g} mm",
                    needs_mm=hit.needs_mm,
                    has_mm=hit.has_mm,
                ),
            }[hit.against]
            yield Finding(
                at=seat.gear.where,
                says=sentence(
                    "{name} ({where}): {what}.", name=_name(view, seat), where=seat.where, what=what
                ),
                found=hit.needs_mm,
                limit=hit.has_mm,
                unit="mm",
            )


def rear_clash(view: View) -> Iterator[Finding]:
    """A front and a rear box in the same units meet in the middle.

    Why: neither goes in, or both do and their plugs are crushed.
    Fix: move one of them to other units.
    Source: Derived from the stated depths and the distance of the rails.

    Fails:
        case: {type: case-12}
        gear:
          - {id: mixer, type: mixer-rack-24, unit: 1}
          - {id: strip, type: conditioner-c13, unit: 2, face: rear}
    Passes:
        case: {type: case-12}
        gear:
          - {id: mixer, type: mixer-rack-24, unit: 1}
          - {id: strip, type: strip-c13-8, unit: 5, face: rear}
    """
    for hit in _hits(view):
        if hit.against != "box" or hit.other is None:
            continue
        what = sentence("their plugs") if hit.meets == "plugs" else sentence("they")
        yield Finding(
            at=hit.other.seat.gear.where,
            says=sentence(
                "{name} ({where}) and {name2} behind it: {what} need {needs_mm:g} mm, "
                "and the rails are {has_mm:g} mm apart.",
                name=_name(view, hit.box.seat),
                where=hit.box.seat.where,
                name2=_name(view, hit.other.seat),
                what=what,
                needs_mm=hit.needs_mm,
                has_mm=hit.has_mm,
            ),
            found=hit.needs_mm,
            limit=hit.has_mm,
            unit="mm",
        )


def heavy_on_top(view: View) -> Iterator[Finding]:
    """The weight hangs in the upper half of the case.

    Why: it tips on a ramp or at a kerb, and 60 kg on a foot ends the tour.
    Fix: mount the heavy boxes low.
    Source: Derived: centre of gravity, sum of weight times height over the sum of weights. Judged
        only where every box states its weight.

    Fails:
        case: {type: case-12-castors}
        gear:
          - {id: amp, type: headphone-amp-4, unit: 1}
          - {id: ups, type: ups-rack-1500, unit: 11, rear_support: true}
    Passes:
        case: {type: case-12-castors}
        gear:
          - {id: ups, type: ups-rack-1500, unit: 1, rear_support: true}
          - {id: amp, type: headphone-amp-4, unit: 12}
    """
    found = balance(view.rig)
    case = view.rig.file.case
    if found is None or case is None or found.height_mm <= 2 * HIGH_RATIO * found.middle_mm:
        return
    yield Finding(
        at=case.where,
        says=sentence(
            "The {boxes_kg:.0f} kg on the rails hang {height_mm:.0f} cm up, above "
            "their middle at {middle_mm:.0f} cm.",
            boxes_kg=found.boxes_kg,
            height_mm=found.height_mm / 10,
            middle_mm=found.middle_mm / 10,
        ),
        found=found.height_mm,
        limit=2 * HIGH_RATIO * found.middle_mm,
        unit="mm",
    )


def no_rear_support(view: View) -> Iterator[Finding]:
    """A deep or heavy low box hangs on its front screws alone.

    Why: on the road the ears bend or tear, and the box falls on the one below.
    Fix: give it rear rails, angles or a shelf, and state rear_support: true.
    Source: common practice, no source (deeper than 350 mm, or more than 6 kg for each unit).

    Fails:
        case: {type: case-12}
        gear: [{id: ups, type: ups-rack-650, unit: 1}]
    Passes:
        case: {type: case-12}
        gear: [{id: ups, type: ups-rack-650, unit: 1, rear_support: true}]
    """
    for seat in seats(view.rig):
        if seat.gear.rear_support or seat.units > 2 or seat.type.class_ in {"drawer", "shelf"}:
            continue
        weight = seat.gear.weight_kg or seat.type.weight_kg
        deep = seat.depth_mm is not None and seat.depth_mm > DEEP_MM
        heavy = weight is not None and weight / seat.units > HEAVY_KG_PER_UNIT
        if deep or heavy:
            facts = (
                [sentence("{depth_mm:g} mm deep", depth_mm=seat.depth_mm)]
                if seat.depth_mm is not None
                else []
            )
            facts += [sentence("{weight:g} kg", weight=weight)] if weight is not None else []
            yield Finding(
                at=seat.gear.where,
                says=sentence(
                    "{name} ({facts}) hangs on its front screws alone.",
                    name=_name(view, seat),
                    facts=joined(", ", facts),
                ),
            )


def antenna_under_lid(view: View) -> Iterator[Finding]:
    """An antenna touches the closed lid.

    Why: it is bent or broken on the way, and the control is gone before the first song.
    Fix: leave a finger's breadth, about 15 mm, or take the antenna off to close.
    Source: common practice, no source.

    Fails:
        case: {type: case-12}
        gear: [{id: combiner, type: antenna-combiner-4, unit: 12}]
    Passes:
        case: {type: case-12}
        gear: [{id: receiver, type: receiver-mic-dual, unit: 12}]
    """
    found = view.elevation
    if found is None:
        return
    for drawn in found.boxes:
        seat = drawn.seat
        lid = found.case.front_lid_mm if seat.face == "front" else found.case.rear_lid_mm
        antennas = any(
            port.carries == "rf" and port.connector != "air" and port.face == "front"
            for port in seat.type.ports
        )
        if not antennas or lid is None or seat.plugs_front_mm is None:
            continue
        clear_mm = lid - seat.plugs_front_mm
        if 0 <= clear_mm < ANTENNA_CLEAR_MM:
            yield Finding(
                at=seat.gear.where,
                says=sentence(
                    "The antennas of {name} have {clear_mm:g} mm to the closed lid; "
                    "{antenna_clear_mm:g} mm are wanted.",
                    name=_name(view, seat),
                    clear_mm=clear_mm,
                    antenna_clear_mm=ANTENNA_CLEAR_MM,
                ),
                found=float(clear_mm),
                limit=ANTENNA_CLEAR_MM,
                unit="mm",
            )


def panel_in_the_dark(view: View) -> Iterator[Finding]:
    """Nothing lights the panel that is plugged every night.

    Why: patching by phone torch is how the click lands in the kick's line.
    Fix: put a light above the panel, and a spare on the pack list.
    Source: common practice, no source.

    Fails:
        case: {type: case-12, light: false}
        gear: [{id: split, type: splitter-transformer-8, unit: 5}]
    Passes:
        case: {type: case-12, light: true}
        gear: [{id: split, type: splitter-transformer-8, unit: 5}]
    """
    case = view.rig.file.case
    lit = any(view.rig.types[gear.type].class_ == "light" for gear in view.rig.file.gear)
    if case is not None and case.light is False and not lit:
        yield Finding(
            at=case.where.of("light"),
            says=sentence(
                "Nothing lights the {patch_face} panel of {case}.",
                patch_face=sentence(case.patch_face),
                case=case.name or sentence("the case"),
            ),
        )


RULES = (
    Rule(id="case.units-overlap", severity="stop", check=units_overlap, since="0.1"),
    Rule(id="case.beyond-top", severity="stop", check=beyond_top, since="0.1"),
    Rule(id="case.box-without-place", severity="unknown", check=box_without_place, since="0.1"),
    Rule(id="case.too-deep", severity="stop", check=too_deep, since="0.1"),
    Rule(id="case.lid-hits-plugs", severity="risk", check=lid_hits_plugs, since="0.1"),
    Rule(id="case.rear-clash", severity="stop", check=rear_clash, since="0.1"),
    Rule(id="case.heavy-on-top", severity="advice", check=heavy_on_top, since="0.1"),
    Rule(
        id="case.deep-box-without-rear-support",
        severity="risk",
        check=no_rear_support,
        since="0.1",
    ),
    Rule(id="case.antenna-under-lid", severity="risk", check=antenna_under_lid, since="0.1"),
    Rule(id="case.panel-in-the-dark", severity="advice", check=panel_in_the_dark, since="0.1"),
)
