"""Page one: whose rig, which version, the verdict, and the few figures that say how big it is."""

from rigproof.checks.rule import View
from rigproof.checks.verdict import Verdict
from rigproof.patch import PatchLists
from rigproof.rack.weight import weight_of
from rigproof.rig import Rig
from rigproof.rig.quantity import Quantity, weakest
from rigproof.showbook import judged, naming
from rigproof.showbook.edition import Edition
from rigproof.showbook.engraving import case_front
from rigproof.showbook.walk import count as cables

_NAMED = 3  # findings on the cover
_NUMBERS = 36  # of the input list, where they stand in for a case


def page(verdict: Verdict, edition: Edition) -> dict[str, object]:
    """Everything on page one but the list of what follows, which the pages know themselves."""
    view = verdict.view
    rig = view.rig
    about = rig.about
    art = case_front(rig)
    called = [finding for finding in verdict.findings if finding.severity != "unknown"]
    more = len(verdict.findings) - _NAMED
    case = rig.file.case
    return {
        "band": about.band or about.name,
        "rig": about.name if about.band and about.name != about.band else "",
        "note": about.note,
        "facts": [
            {"label": label, "value": value} for label, value in _facts(rig, edition) if value
        ],
        "svg": art.svg if art else "",
        "art_width": art.width_mm if art else 0,
        "art_height": art.height_mm if art else 0,
        "art_units": rig.types[case.type].case.units if art and case else 0,  # type: ignore[union-attr]
        "art_words": _caption(rig, art.boxes if art else 0, edition),
        "lines": _lines(rig) if art is None else [],
        "sentence": judged.sentence(verdict, edition),
        "gravest": judged.gravest(verdict) or "pass",
        "called": [{"severity": f.severity, "says": edition.tell(f.says)} for f in called[:_NAMED]],
        "more": edition.say("cover.more_findings", n=more) if more > 0 else "",
        "numbers": _numbers(view, edition),
        "words": {
            **edition.words(
                "cover.show_book", "cover.in_this_book", "cover.and_more", "cover.the_numbers"
            ),
            **judged.severities(edition),
        },
    }


def _facts(rig: Rig, edition: Edition) -> list[tuple[str, str]]:
    about = rig.about
    contact = about.contact
    reach = [part for part in (contact.phone, contact.mail) if part] if contact else []
    return [
        (edition.say("cover.valid_until"), about.valid_until),
        (
            edition.say("cover.replaces"),
            edition.say("paper.version", version=about.replaces) if about.replaces else "",
        ),
        (edition.say("cover.call"), "\n".join([contact.name, *reach]) if contact else ""),
    ]


def _caption(rig: Rig, boxes: int, edition: Edition) -> str:
    case = rig.file.case
    if case is None:
        return ""
    name = case.name or naming.type_name(rig, case.type, edition)
    return edition.say("cover.case", name=name, n=boxes)


def _lines(rig: Rig) -> list[dict[str, object]]:
    rows = PatchLists(rig).channels[:_NUMBERS]
    return [{"number": row.number, "name": row.name} for row in rows]


def _numbers(view: View, edition: Edition) -> list[dict[str, object]]:
    rig, say = view.rig, edition.say
    lines = sum(source.lanes for source in rig.file.sources)
    mixes = [mix for mix in rig.file.mixes if mix.purpose in {"ears", "wedge"}]
    stereo = sum(mix.stereo for mix in mixes)
    hands = view.hand_offs
    most = max((hand.needed for hand in hands), default=0)
    leads = sum(cables(rig, lead) for lead in rig.file.leads)
    ears = sum(person.ears is not None for person in rig.file.people)
    every = bool(mixes) and stereo == len(mixes)
    found = [
        _figure(
            len(rig.people),
            say("cover.people", n=len(rig.people)),
            say("cover.with_ears", count=ears),
        ),
        _figure(
            len(rig.sources),
            say("cover.sources", n=len(rig.sources)),
            say("cover.on_lines", n=lines),
        ),
        _figure(
            len(mixes),
            say("cover.mixes", n=len(mixes)),
            say("cover.all_stereo") if every else say("cover.some_stereo", count=stereo),
        ),
        _figure(most, say("cover.to_house"), say("cover.at_most", n=len(hands))),
        _figure(leads, say("cover.leads", n=leads), say("cover.inside_outside")),
    ]
    weight = _weight(rig, edition)
    return [*found, weight] if weight else found


def _figure(value: object, label: str, note: str, unit: str = "") -> dict[str, object]:
    return {"value": str(value), "label": label, "small": note, "unit": unit}


def _weight(rig: Rig, edition: Edition) -> dict[str, object] | None:
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
    said = edition.say("cover.case_and_boxes", worth=edition.say(f"paper.{weakest(*known)}"))
    if missing:
        said = edition.say("cover.not_known", said=said, count=missing)
    value, unit = edition.mass(sum(known), 0).split(" ")
    return _figure(value, edition.say("cover.known_weight"), said, unit)
