"""The patch as somebody plugs it: panel by panel, then read back the other way round."""

from collections.abc import Iterator, Mapping

from rigproof.checks.rule import View
from rigproof.patch import PatchLists, WalkStep
from rigproof.rig import Lead, Rig
from rigproof.rig.lanes import sockets
from rigproof.showbook import naming
from rigproof.showbook.input_list import show_name
from rigproof.signal import words

Row = dict[str, object]


def page(usual: View, shows: tuple[View, ...]) -> dict[str, object]:
    """The walk of the usual rig, the leads that go with it, and the plugs that a show changes."""
    rig = usual.rig
    lists = PatchLists(rig)
    owner = rig.about.patch_owner
    return {
        "owner": naming.person(rig, owner),
        "panels": [_panel(rig, *panel) for panel in lists.panels()],
        "back": [_short(rig, step) for step in lists.read_back],
        "leads": list(_leads(rig)),
        "held": [
            {"socket": words.place(rig, str(hold.sockets)), "note": hold.why}
            for hold in rig.file.holds
            if hold.sockets is not None
        ],
        "changes": [change for view in shows if (change := _change(lists, view))],
    }


def _panel(rig: Rig, gear: str, face: str, steps: tuple[WalkStep, ...]) -> dict[str, object]:
    box = rig.gear[gear]
    units = f"unit {box.unit}" if box.unit is not None else (box.place or "")
    banks = {step.bank for step in steps}
    return {
        "box": words.box(rig, gear),
        "face": face,
        "units": units,
        "rows": [_step(rig, step, with_bank=len(banks) > 1) for step in steps],
    }


def _step(rig: Rig, step: WalkStep, *, with_bank: bool) -> Row:
    source, row = step.source, step.row
    channel = str(row.channel.first + step.lane) if row.channel is not None else ""
    return {
        "socket": f"{step.bank} {step.number}" if with_bank else str(step.number),
        "source": step.name,
        "label": _label(step),
        "player": naming.person(rig, source.player),
        "microphone": naming.microphone(rig, source),
        "stand": source.stand,
        "channel": channel,
        "lead": row.lead,
    }


def _label(step: WalkStep) -> str:
    if not step.source.label or not step.source.stereo:
        return step.source.label
    return f"{step.source.label} {step.name.rpartition(' ')[2]}"


def _short(rig: Rig, step: WalkStep) -> Row:
    return {
        "socket": words.place(rig, step.socket),
        "source": step.name,
        "label": _label(step),
    }


def _change(usual: PatchLists, view: View) -> dict[str, object] | None:
    """What a show plugs that the usual night does not, and what stays out."""
    before = {(step.socket, step.name) for step in usual.walk}
    steps = PatchLists(view.rig).walk
    now = {(step.socket, step.name) for step in steps}
    new = [_short(view.rig, step) for step in steps if (step.socket, step.name) not in before]
    gone = [_short(usual.rig, step) for step in usual.walk if (step.socket, step.name) not in now]
    if not new and not gone:
        return None
    return {"show": show_name(view), "new": new, "gone": gone}


def _leads(rig: Rig) -> Iterator[Mapping[str, object]]:
    """The leads that are plugged at every show: to the stage and to the house."""
    for lead in rig.file.leads:
        if lead.plugged != "every show":
            continue
        at = [rig.venues[name].name for name in lead.at_venues if name in rig.venues]
        yield {
            "label": lead.label or lead.id,
            "count": str(count(rig, lead)),
            "kind": rig.types[lead.type].name,
            "from": words.place(rig, str(lead.from_)),
            "to": words.place(rig, str(lead.to)),
            "length": naming.metres(lead.length_m) if lead.length_m is not None else "",
            "note": " · ".join(
                n for n in (lead.colour, f"only at {', '.join(at)}" if at else "", lead.note) if n
            ),
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
