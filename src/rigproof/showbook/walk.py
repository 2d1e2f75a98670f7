"""The patch as somebody plugs it: panel by panel, then read back the other way round."""

from collections.abc import Iterator, Mapping
from typing import Any

from rigproof.checks.rule import View
from rigproof.mains import starts
from rigproof.patch import PatchLists, WalkStep
from rigproof.rig import Lead, Rig
from rigproof.rig.lanes import sockets
from rigproof.showbook import naming
from rigproof.showbook.ear_way import root_strip
from rigproof.showbook.edition import Edition
from rigproof.signal import words

Row = dict[str, object]


def page(usual: View, shows: tuple[View, ...], edition: Edition) -> dict[str, Any]:
    """The walk of the usual rig, the leads that go with it, and the plugs that a show changes."""
    rig = usual.rig
    lists = PatchLists(rig)
    held = [
        edition.say(
            "patch.held_one",
            socket=words.place(rig, str(hold.sockets), edition.language),
            why=hold.why,
        )
        for hold in rig.file.holds
        if hold.sockets is not None
    ]
    return {
        "panels": [_panel(rig, *panel, edition) for panel in lists.panels()],
        "leads": list(_leads(rig, edition)),
        "held": {"text": edition.say("patch.held", places="; ".join(held)) if held else ""},
        "changes": [change for view in shows if (change := _change(lists, view, edition))],
        "mains": _mains(usual, edition),
        "words": edition.words(
            "patch.mains",
            "patch.on",
            "patch.step",
            "patch.switch_on",
            "patch.ready",
            "patch.nothing",
            "patch.in",
            "patch.socket",
            "patch.source",
            "patch.label",
            "patch.player",
            "patch.microphone",
            "patch.stand",
            "patch.channel",
            "patch.must_read",
            "patch.on_label",
            "patch.leads",
            "patch.how_many",
            "patch.what",
            "patch.from",
            "patch.to",
            "patch.long",
            "patch.note",
        ),
    }


def read_back(usual: View, edition: Edition) -> dict[str, Any]:
    """The plugs the other way round."""
    rows = [_short(usual.rig, step, edition) for step in PatchLists(usual.rig).read_back]
    says = edition.words(
        "patch.socket",
        "patch.must_read",
        "patch.right",
        "read-back.read_by",
        "read-back.at",
        "read-back.again_at",
    )
    return {"back": rows, "words": says}


def lead(rig: Rig, edition: Edition) -> str:
    """Whose patch it is."""
    owner = naming.person(rig, rig.about.patch_owner)
    whose = edition.say("patch.owner", name=owner) if owner else edition.say("patch.no_owner")
    return f"{edition.say('patch.lead')} {whose}"


def _panel(
    rig: Rig, gear: str, face: str, steps: tuple[WalkStep, ...], edition: Edition
) -> dict[str, object]:
    box = rig.gear[gear]
    units = (
        edition.say("patch.unit", unit=box.unit)
        if box.unit is not None
        else edition.say(f"paper.place_{box.place.replace(' ', '_')}")
        if box.place
        else ""
    )
    banks = {step.bank for step in steps}
    name = f"{words.box(rig, gear, edition.language)}, {edition.say(f'patch.face_{face}')}"
    return {
        "group": f"{name} · {units}" if units else name,
        "rows": [_step(rig, step, edition, with_bank=len(banks) > 1) for step in steps],
    }


def _step(rig: Rig, step: WalkStep, edition: Edition, *, with_bank: bool) -> Row:
    source, row = step.source, step.row
    return {
        "socket": f"{step.bank} {step.number}" if with_bank else str(step.number),
        "source": step.name,
        "label": _label(step),
        "player": naming.person(rig, source.player),
        "microphone": naming.microphone(rig, source, edition),
        "stand": source.stand,
        "channel": str(row.channel.first + step.lane) if row.channel is not None else "",
    }


def _label(step: WalkStep) -> str:
    if not step.source.label or not step.source.stereo:
        return step.source.label
    return f"{step.source.label} {step.name.rpartition(' ')[2]}"


def _short(rig: Rig, step: WalkStep, edition: Edition) -> Row:
    return {
        "socket": words.place(rig, step.socket, edition.language),
        "source": step.name,
        "label": _label(step),
    }


def _change(usual: PatchLists, view: View, edition: Edition) -> dict[str, object] | None:
    """What a show plugs that the usual night does not, and what stays out."""
    before = {(step.socket, step.name) for step in usual.walk}
    steps = PatchLists(view.rig).walk
    now = {(step.socket, step.name) for step in steps}
    new = [
        _short(view.rig, step, edition) for step in steps if (step.socket, step.name) not in before
    ]
    gone = [
        edition.say(
            "patch.held_one",
            socket=words.place(usual.rig, step.socket, edition.language),
            why=step.name,
        )
        for step in usual.walk
        if (step.socket, step.name) not in now
    ]
    if not new and not gone:
        return None
    return {
        "title": edition.say("input-list.only_on", show=naming.show(view, edition)),
        "new": new,
        "gone": edition.say("patch.stays_out", names="; ".join(gone)) if gone else "",
    }


def _leads(rig: Rig, edition: Edition) -> Iterator[Mapping[str, object]]:
    """The leads that are plugged at every show: to the stage and to the house."""
    for lead in rig.file.leads:
        if lead.plugged != "every show":
            continue
        at = [rig.venues[name].name for name in lead.at_venues if name in rig.venues]
        only = edition.say("patch.only_at", venues=", ".join(at)) if at else ""
        notes = (lead.colour, only, lead.note if edition.private else "")
        yield {
            "label": lead.label or lead.id,
            "count": str(count(rig, lead)),
            "kind": naming.type_name(rig, lead.type, edition),
            "from": words.place(rig, str(lead.from_), edition.language),
            "to": words.place(rig, str(lead.to), edition.language),
            "length": edition.length(lead.length_m) if lead.length_m is not None else "",
            "note": " · ".join(note for note in notes if note),
        }


def _mains(view: View, edition: Edition) -> dict[str, object]:
    """What gets its mains last, and in which order boxes are switched on; "" and none if unsaid."""
    rig = view.rig
    root = root_strip(rig, rig.mixer.id) if rig.mixer else ""
    steps = starts(rig, view.load)
    told = [
        edition.say("patch.mains_last", box=naming.box(rig, root, edition)) if root else "",
        edition.say("patch.in_order") if steps else "",
    ]
    return {
        "text": " ".join(filter(None, told)),
        "rows": [
            {
                "step": str(one.step),
                "names": edition.listed(naming.box(rig, name, edition) for name in one.gear),
                "ready": f"{edition.number(one.ready_s, 0)} s" if one.ready_s else "",
            }
            for one in steps
        ],
    }


def count(rig: Rig, lead: Lead) -> int:
    """How many cables an entry stands for: sixteen sockets by single leads are sixteen."""
    body = rig.types[lead.type].lead
    if body is None:
        return 1
    ends = (
        (lead.from_, body.a),
        (lead.to, body.b),
    )
    return max(len(sockets(rig.gear_types, ref, lead.where)) // end.count for ref, end in ends) or 1
