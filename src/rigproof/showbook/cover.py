"""Page one: whose rig, which version, the verdict, and the few figures that say how big it is."""

from rigproof.checks.rule import View
from rigproof.checks.verdict import Verdict
from rigproof.patch import PatchLists
from rigproof.rack.weight import weight_of
from rigproof.rig import Rig
from rigproof.rig.quantity import Quantity, weakest
from rigproof.showbook import judged, naming
from rigproof.showbook.engraving import case_front
from rigproof.showbook.walk import count as cables
from rigproof.wording import counted

_NAMED = 3  # findings on the cover
_NUMBERS = 36  # of the input list, where they stand in for a case


def page(verdict: Verdict) -> dict[str, object]:
    """Everything on page one but the list of what follows, which the pages know themselves."""
    view = verdict.view
    rig = view.rig
    about = rig.about
    art = case_front(rig)
    called = [finding for finding in verdict.findings if finding.severity != "unknown"]
    case = rig.file.case
    return {
        "band": about.band or about.name,
        "rig": about.name if about.band and about.name != about.band else "",
        "note": about.note,
        "facts": [{"label": label, "value": value} for label, value in _facts(rig) if value],
        "svg": art.svg if art else "",
        "art_width": art.width_mm if art else 0,
        "art_height": art.height_mm if art else 0,
        "art_units": rig.types[case.type].case.units if art and case else 0,  # type: ignore[union-attr]
        "art_words": _caption(rig, art.boxes if art else 0),
        "lines": _lines(rig) if art is None else [],
        "sentence": judged.sentence(verdict),
        "gravest": judged.gravest(verdict) or "pass",
        "counts": judged.counts(verdict),
        "called": [{"severity": f.severity, "says": f.says} for f in called[:_NAMED]],
        "more": max(0, len(verdict.findings) - _NAMED),
        "numbers": _numbers(view),
    }


def _facts(rig: Rig) -> list[tuple[str, str]]:
    about = rig.about
    contact = about.contact
    reach = [part for part in (contact.phone, contact.mail) if part] if contact else []
    return [
        ("Valid until", about.valid_until),
        ("Replaces", f"version {about.replaces}" if about.replaces else ""),
        ("Call", "\n".join([contact.name, *reach]) if contact else ""),
    ]


def _caption(rig: Rig, boxes: int) -> str:
    case = rig.file.case
    if case is None:
        return ""
    name = case.name or rig.types[case.type].name
    return f"{name}, front, with {counted(boxes, 'box', 'boxes')}"


def _lines(rig: Rig) -> list[dict[str, object]]:
    rows = PatchLists(rig).channels[:_NUMBERS]
    return [{"number": row.number, "name": row.name} for row in rows]


def _numbers(view: View) -> list[dict[str, object]]:
    rig = view.rig
    lines = sum(source.lanes for source in rig.file.sources)
    mixes = [mix for mix in rig.file.mixes if mix.purpose in {"ears", "wedge"}]
    stereo = sum(mix.stereo for mix in mixes)
    hands = view.hand_offs
    most = max((hand.needed for hand in hands), default=0)
    leads = sum(cables(rig, lead) for lead in rig.file.leads)
    found = [
        _figure(
            len(rig.people),
            "person" if len(rig.people) == 1 else "people",
            f"{sum(person.ears is not None for person in rig.file.people)} with ears",
        ),
        _figure(
            len(rig.sources),
            "source" if len(rig.sources) == 1 else "sources",
            f"on {counted(lines, 'line')}",
        ),
        _figure(
            len(mixes),
            "mix" if len(mixes) == 1 else "mixes",
            "all stereo" if mixes and stereo == len(mixes) else f"{stereo} of them stereo",
        ),
        _figure(most, "to the house", f"lines at most; {counted(len(hands), 'venue')}"),
        _figure(leads, "lead" if leads == 1 else "leads", "inside and outside"),
    ]
    weight = _weight(rig)
    return [*found, weight] if weight else found


def _figure(value: object, label: str, note: str, unit: str = "") -> dict[str, object]:
    return {"value": str(value), "label": label, "small": note, "unit": unit}


def _weight(rig: Rig) -> dict[str, object] | None:
    """What the packed case weighs as far as it is known; how much is not."""
    boxes = [gear for gear in rig.file.gear if gear.placed == "case" and gear.owner == "band"]
    parts: list[Quantity | None] = [weight_of(rig, gear) for gear in boxes]
    case = rig.file.case
    if case is not None:
        empty = case.weight_kg if case.weight_kg is not None else rig.types[case.type].weight_kg
        parts.append(empty)
    known = [part for part in parts if part is not None]
    if not known:
        return None
    missing = len(parts) - len(known)
    words = f"case and boxes, {weakest(*known)}"
    if missing:
        words += f"; {missing} not known"
    return _figure(naming.number(round(sum(known))), "known weight", words, "kg")
