"""Rules about what travels a second time, and about what is used up."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Lead, Rig
from rigproof.signal.words import box, kind_of
from rigproof.wording import counted, noun, some
from rigproof.wording.sentences import sentence


def _moved(rig: Rig) -> dict[str, list[Lead]]:
    """Lead type -> the leads of it that are laid and rolled up at every show; fan-outs apart."""
    found: dict[str, list[Lead]] = {}
    for lead in rig.file.leads:
        body = rig.types[lead.type].lead
        if lead.plugged == "every show" and body is not None and body.a.count == body.b.count == 1:
            found.setdefault(lead.type, []).append(lead)
    return found


def no_lead(view: View) -> Iterator[Finding]:
    """A kind of lead is plugged every night and none travels as a spare.

    Why: moved leads fail first, and the one network or USB lead of its kind cannot be borrowed from
        anybody.
    Fix: put one of each kind on the list of spares, as long as the longest of them.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8, place: stage}]
        leads:
          - {id: link, type: lead-network-locking, from: box.link, to: mixer.link,
             plugged: every show, length_m: 20}
        spares: [{type: lead-xlr, count: 4, length_m: 10}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8, place: stage}]
        leads:
          - {id: link, type: lead-network-locking, from: box.link, to: mixer.link,
             plugged: every show, length_m: 20}
        spares: [{type: lead-network-locking, length_m: 20}]
    """
    carried = {spare.type for spare in view.rig.file.spares}
    without = {name: leads for name, leads in _moved(view.rig).items() if name not in carried}
    if without and (view.rig.file.spares or view.rig.file.shows):
        first = next(iter(without.values()))[0]
        yield Finding(
            at=first.where,
            says=sentence(
                "No spare travels of {names}.",
                names=some(
                    sentence("{type} ({leads})", type=kind_of(view.rig, name), leads=_told(leads))
                    for name, leads in without.items()
                ),
            ),
        )


def _told(leads: list[Lead]) -> str:
    return some(lead.label or lead.id for lead in leads)


def lead_too_short(view: View) -> Iterator[Finding]:
    """A spare lead is shorter than the longest one it would have to replace.

    Why: it is found out on the stage, with the lead in the hand and two metres missing.
    Fix: carry the spare in the length of the longest.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8, place: stage}]
        leads:
          - {id: link, type: lead-network-locking, from: box.link, to: mixer.link,
             plugged: every show, length_m: 20}
        spares: [{type: lead-network-locking, length_m: 10}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8, place: stage}]
        leads:
          - {id: link, type: lead-network-locking, from: box.link, to: mixer.link,
             plugged: every show, length_m: 20}
        spares: [{type: lead-network-locking, length_m: 20}]
    """
    moved = _moved(view.rig)
    for name in dict.fromkeys(spare.type for spare in view.rig.file.spares):
        spares = [s for s in view.rig.file.spares if s.type == name]
        lengths = [s.length_m for s in spares]
        longest = max((x for x in moved.get(name, ()) if x.length_m), key=_length_m, default=None)
        if longest is None or longest.length_m is None:
            continue
        known = [float(length) for length in lengths if length is not None]
        if len(known) == len(lengths) and max(known) < longest.length_m:
            yield Finding(
                at=spares[0].where,
                says=sentence(
                    "The spare {type} is {known:g} m long; {label} is {length_m:g} m.",
                    type=kind_of(view.rig, name),
                    known=max(known),
                    label=longest.label or longest.id,
                    length_m=longest.length_m,
                ),
                found=max(known),
                limit=float(longest.length_m),
                unit="m",
            )


def _length_m(lead: Lead) -> float:
    return float(lead.length_m or 0)


def no_earphones(view: View) -> Iterator[Finding]:
    """Everybody plays with earphones and no spare pair travels.

    Why: a cable broke ten minutes before the set, was taped, and held by hand; another was ripped
        out at the bow.
    Fix: carry one plain pair that fits every pack, and a spare cable for moulded ones.
    Source: common practice, no source; taken from players' accounts.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        spares: [{type: lead-xlr, count: 4}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        gear: [{id: mixer, type: mixer-rack-24}]
        spares: [{type: lead-xlr, count: 4}, {type: earphones-single}]
    """
    rig = view.rig
    wearers = [p for p in rig.file.people if p.ears is not None and p.ears.earphones is not None]
    if not wearers or not (rig.file.spares or rig.file.shows):
        return
    if not any(rig.types[spare.type].class_ == "earphone" for spare in rig.file.spares):
        yield Finding(
            at=rig.file.spares[0].where if rig.file.spares else wearers[0].where,
            says=sentence(
                "{people_wear} earphones, and no spare pair travels.",
                people_wear=counted(len(wearers), "person wears", "people wear"),
            ),
        )


def no_voice(view: View) -> Iterator[Finding]:
    """The voice that may not fail has nothing to fall back on.

    Why: the lead voice is the one channel that ends the song when it is gone.
    Fix: carry a spare vocal microphone, keep a line for it, or write under alternative what is
        taken instead.
    Source: common practice, no source: a spare vocal line.

    Fails:
        people: [{id: ada, name: Ada}]
        sources: [{id: lv, name: Voice, family: voices, player: ada, mic: mic-vocal-dynamic}]
        spares: [{type: lead-xlr, count: 4}]
    Passes:
        people: [{id: ada, name: Ada}]
        sources: [{id: lv, name: Voice, family: voices, player: ada, mic: mic-vocal-dynamic}]
        spares: [{type: lead-xlr, count: 4}, {type: mic-vocal-dynamic}]
    """
    rig = view.rig
    voices = [s for s in rig.file.sources if s.family == "voices" and s.owner != "house"]
    if not voices or not (rig.file.spares or rig.file.shows):
        return
    spare = any(rig.types[one.type].class_ == "microphone" for one in rig.file.spares)
    if spare or any(s.alternative or s.player is None for s in voices):
        return
    # Whoever is dropped last when lines are short is the one that may not fail.
    first = max(voices, key=lambda s: s.drop or 1_000_000)
    yield Finding(
        at=first.where,
        says=sentence(
            "Nothing travels that could stand in for the microphone of {first}.", first=first.name
        ),
    )


def no_batteries(view: View) -> Iterator[Finding]:
    """Boxes run on batteries, and none are on the list of what is used up.

    Why: the pack that was left on after the rehearsal is empty in the second song.
    Fix: write them under consumables, with the boxes they feed and how many go in a show.
    Source: common practice, no source.

    Fails:
        gear: [{id: pack, name: Ana's pack, type: pack-wireless}]
        consumables: [{what: gaffer tape, count: 2}]
    Passes:
        gear: [{id: pack, name: Ana's pack, type: pack-wireless}]
        consumables: [{what: AA cells, feeds: [pack], count: 8, per_show: 2}]
    """
    rig = view.rig
    if not (rig.file.consumables or rig.file.shows):
        return
    fed = {name for one in rig.file.consumables for name in one.feeds}
    empty = [
        gear
        for gear in rig.file.gear
        if gear.owner == "band" and gear.id not in fed and _on_cells(rig, gear.type)
    ]
    if empty:
        yield Finding(
            at=empty[0].where,
            says=sentence(
                "No batteries are listed for {names}.",
                names=some(box(rig, gear.id) for gear in empty),
            ),
        )


def _on_cells(rig: Rig, name: str) -> bool:
    type_ = rig.types[name]
    return type_.power is not None and type_.power.by == "battery" and type_.class_ != "computer"


def runs_out(view: View) -> Iterator[Finding]:
    """Less of something travels than one show uses up.

    Why: it is bought at a petrol station, at night, if at all.
    Fix: carry two shows' worth.
    Source: common practice, no source.

    Fails:
        consumables: [{what: AA cells, count: 6, per_show: 8}]
    Passes:
        consumables: [{what: AA cells, count: 16, per_show: 8}]
    """
    for one in view.rig.file.consumables:
        if one.per_show is not None and one.count < one.per_show:
            yield Finding(
                at=one.where.of("count"),
                says=sentence(
                    "{count} of {what} travel and a show uses {per_show}.",
                    count=one.count,
                    what=one.what,
                    per_show=one.per_show,
                ),
                found=one.count,
                limit=one.per_show,
                unit=noun(one.count, "piece"),
            )


RULES = (
    Rule(id="spare.no-lead", severity="advice", check=no_lead, since="0.1"),
    Rule(id="spare.lead-too-short", severity="advice", check=lead_too_short, since="0.1"),
    Rule(id="spare.no-earphones", severity="advice", check=no_earphones, since="0.1"),
    Rule(id="spare.no-voice", severity="advice", check=no_voice, since="0.1"),
    Rule(id="consumable.no-batteries", severity="advice", check=no_batteries, since="0.1"),
    Rule(id="consumable.runs-out", severity="risk", check=runs_out, since="0.1"),
)
