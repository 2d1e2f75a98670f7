"""Rules about plugs: does it go in, does it do harm, does it carry what the socket expects."""

from collections.abc import Iterator

from rigproof.checks.joints import (
    Joint,
    earphone_joints,
    lead_joints,
    plain_lead_bridges,
    turned,
    way_out,
)
from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.connectors import mate
from rigproof.rig.geartype import Carries, Port
from rigproof.rig.lanes import sockets
from rigproof.rig.ref import HOUSE
from rigproof.signal.phantom import UNBALANCED
from rigproof.signal.words import place
from rigproof.wording import some
from rigproof.wording.connectors import a_connector
from rigproof.wording.sentences import sentence


def _joints(view: View) -> tuple[Joint, ...]:
    return tuple(lead_joints(view.runs))


def wrong_connector(view: View) -> Iterator[Finding]:
    """A plug is meant for a socket it does not fit.

    Why: the lead is bought, cut and labelled, and at load-in it does not go in.
    Fix: use a lead with the right ends, or plan an adapter as a lead of its own.
    Source: connectors by their standards: a plug fits its own family.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: lead-xlr, from: mixer.out.1, to: amp.in.1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
    """
    for joint in view.once(_joints):
        socket = joint.port.connector
        if not mate(joint.plug, socket).fits and not mate(turned(joint.plug), socket).fits:
            yield Finding(
                at=joint.at,
                says=sentence(
                    "{what} ends in {plug}; {place} is {plug2}.",
                    what=joint.what,
                    plug=a_connector(joint.plug),
                    place=place(view.rig, joint.socket.key),
                    plug2=a_connector(socket),
                ),
            )


def wrong_gender(view: View) -> Iterator[Finding]:
    """A plug has the wrong gender for its socket.

    Why: pins meet pins; it takes one turn-round for every line, and nobody has twenty of them.
    Fix: turn the lead, order the other gender, or plan the turn-rounds.
    Source: common practice, no source: an XLR output has pins, an input holes.

    Fails:
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: back, type: adapter-xlr-pins, from: split.direct.1, to: mixer.in.1}]
    Passes:
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: ahead, type: lead-xlr, from: split.direct.1, to: mixer.in.1}]
    """
    for joint in view.once(_joints):
        socket = joint.port.connector
        if not mate(joint.plug, socket).fits and mate(turned(joint.plug), socket).fits:
            yield Finding(
                at=joint.at,
                says=sentence(
                    "{what} ends in {plug}, and so does {place}: a turn-round would do.",
                    what=joint.what,
                    plug=a_connector(joint.plug),
                    place=place(view.rig, joint.socket.key),
                ),
            )


def source_does_not_fit(view: View) -> Iterator[Finding]:
    """A source's plain lead does not fit the socket it is plugged in.

    Why: the keyboard has jacks and the splitter has XLR sockets; without a DI box or the right
        lead nothing goes in, and the adapter found in a drawer is the one that does harm.
    Fix: plan a DI box, or name the special lead in the patch row (lead: ...).
    Source: connectors by their standards; common practice for the plain lead.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, connector: jack-trs-f, balanced: true}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: keys, plug: split.in.1}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, connector: jack-ts-f, di: di-passive}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: keys, plug: split.in.1}]
    """
    types = {gear.id: view.rig.types[gear.type] for gear in view.rig.file.gear}
    for row in view.rig.file.patch:
        source = view.rig.sources[row.source]
        if row.plug is None or row.lead or row.plug.gear == HOUSE or row.plug == source.start:
            continue
        out, _ = way_out(view.rig, source)
        socket = sockets(types, row.plug, row.where)[0]
        if out is None or socket.port is None or plain_lead_bridges(out, socket.port.connector):
            continue
        yield Finding(
            at=row.where.of("plug"),
            says=sentence(
                "{source} comes out on {plug}; {place} is {plug2}, and no plain lead "
                "joins the two.",
                source=source.name,
                plug=a_connector(out),
                place=place(view.rig, socket.key),
                plug2=a_connector(socket.port.connector),
            ),
        )


def unbalanced_without_di(view: View) -> Iterator[Finding]:
    """An unbalanced source goes straight into a microphone line.

    Why: over more than a few metres it collects hum and buzz, it ties the stage's earth to the
        house's, and 48 V on that line goes into its output.
    Fix: put a DI box at the instrument.
    Source: common practice, no source: unbalanced lines stay shorter than about 6 m.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, balanced: false}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: keys, plug: split.in.1}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, balanced: false, di: di-passive}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: keys, plug: split.in.1}]
    """
    types = {gear.id: view.rig.types[gear.type] for gear in view.rig.file.gear}
    for row in view.rig.file.patch:
        source = view.rig.sources[row.source]
        boxed = source.mic is not None or source.di is not None
        if row.plug is None or row.plug.gear == HOUSE or boxed or not _unbalanced(view, row.source):
            continue
        port = sockets(types, row.plug, row.where)[0].port
        if port is not None and port.carries == "mic":
            yield Finding(
                at=row.where,
                says=sentence(
                    "{source} is unbalanced and goes into {place} without a DI box.",
                    source=source.name,
                    place=place(view.rig, row.plug),
                ),
            )


def _unbalanced(view: View, name: str) -> bool:
    source = view.rig.sources[name]
    connector, port = way_out(view.rig, source)
    if source.balanced is not None:
        return not source.balanced
    if port is not None and port.balanced is not None:
        return not port.balanced
    return connector in UNBALANCED


def mono_in_stereo(view: View) -> Iterator[Finding]:
    """A plug goes into a socket and joins two of its contacts.

    Why: a two-pole plug in a stereo headphone socket shorts one side: one ear is dead, and some
        amplifiers do not live long so.
    Fix: use a plug with as many poles as the socket.
    Source: two- and three-pole jacks by their contacts: tip, ring, sleeve.

    Fails:
        gear: [{id: amp, type: headphone-amp-4}, {id: line, type: reamp-box}]
        leads: [{id: odd, type: lead-jack-ts-xlr, from: amp.phones.1, to: line.in}]
    Passes:
        gear: [{id: amp, type: headphone-amp-4}, {id: pack, type: pack-wired}]
        leads: [{id: right, type: lead-jack-stereo, from: amp.phones.1, to: pack.in}]
    """
    joints = [*view.once(_joints), *(joint for _, _, joint in earphone_joints(view.rig))]
    for joint in joints:
        found = mate(joint.plug, joint.port.connector)
        # A mono plug in a balanced mono input only makes it unbalanced: no harm done.
        if found.harm and (joint.port.lanes > 1 or joint.port.carries == "phones"):
            yield Finding(
                at=joint.at,
                says=sentence(
                    "{what} in {place}: {harm}.",
                    what=joint.what,
                    place=place(view.rig, joint.socket.key),
                    harm=sentence(found.harm),
                ),
            )


def balanced_drive(view: View) -> Iterator[Finding]:
    """Earphones with a shared return hang on an output that drives each side by itself.

    Why: the adapter ties both minus legs together, and the amplifier works into a short.
    Fix: use a socket for ordinary earphones, or a cable made for that output.
    Source: common practice, no source: a balanced drive has no common return.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.out.1, earphones: earphones-dual}}]
        gear: [{id: mixer, type: mixer-rack-16}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones, earphones: earphones-dual}}]
        gear: [{id: mixer, type: mixer-rack-16}]
    """
    for name, plug, joint in earphone_joints(view.rig):
        if joint.port.balanced and plug.balanced is False:
            yield Finding(
                at=joint.at,
                says=sentence(
                    "{name}'s earphones have one return for both sides, and {place} is balanced.",
                    name=name,
                    place=place(view.rig, joint.socket.key),
                ),
            )


def earphones_do_not_fit(view: View) -> Iterator[Finding]:
    """Earphones need an adapter for the socket they hang on.

    Why: the small adapter is what is missing at the first show and what breaks at the tenth.
    Fix: put adapters on the pack list (spares), one for each and one more.
    Source: connectors by their standards.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
        gear: [{id: amp, type: headphone-amp-4}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
        gear: [{id: amp, type: headphone-amp-4}]
        spares: [{type: adapter-jack-mini, count: 2}]
    """
    lacking = [
        (name, plug, joint)
        for name, plug, joint in earphone_joints(view.rig)
        if not mate(joint.plug, joint.port.connector).fits
        and not _carried(view, plug.connector, joint.port.connector)
    ]
    if lacking:
        _, plug, joint = lacking[0]
        what = sentence(
            "{plug} into {plug2}",
            plug=a_connector(plug.connector),
            plug2=a_connector(joint.port.connector),
        )
        yield Finding(
            at=joint.at,
            says=sentence(
                "The earphones of {names} need an adapter, {what}: none travels.",
                names=some(name for name, _, _ in lacking),
                what=what,
            ),
            found=0,
            limit=len(lacking),
            unit="adapters",
        )


def _carried(view: View, plug: str, socket: str) -> bool:
    """Whether the spares hold something that joins the two."""
    for spare in view.rig.file.spares:
        body = view.rig.types[spare.type].lead
        if body and mate(body.a.connector, socket).fits and mate(body.b.connector, plug).fits:
            return True
    return False


_ANALOGUE: frozenset[Carries] = frozenset({"mic", "line", "instrument", "insert", "phones"})
# What else may meet: boxes and switches call the same network by different names.
_ALSO: frozenset[tuple[Carries, Carries]] = frozenset(
    {("network", "control"), ("control", "network"), ("network", "link"), ("link", "network")}
)


def level_class(view: View) -> Iterator[Finding]:
    """A lead joins sockets that carry different things.

    Why: a loudspeaker output in a microphone line ends in smoke; a headphone output in a
        microphone input distorts; a control socket in an audio link is silent.
    Fix: join like with like; between them stands a box that converts.
    Source: common practice, no source: level classes are not mixed.

    Fails:
        gear: [{id: amp, type: headphone-amp-4}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: odd, type: lead-jack-stereo, from: amp.phones.1, to: mixer.in.1}]
    Passes:
        gear: [{id: amp, type: headphone-amp-4}, {id: pack, type: pack-wired}]
        leads: [{id: right, type: lead-jack-stereo, from: amp.phones.1, to: pack.in}]
    """
    for run in view.runs:
        out, into = run.starts[0].port, run.ends[0].port
        if out is None or into is None or _may_meet(out, into):
            continue
        yield Finding(
            at=run.lead.where,
            says=sentence(
                "The lead {run} joins {place}, which carries {kind}, to {place2}, which "
                "takes {kind2}.",
                run=run.name,
                place=place(view.rig, run.starts[0].key),
                kind=_CLASS.get(out.carries, out.carries),
                place2=place(view.rig, run.ends[0].key),
                kind2=_CLASS.get(into.carries, into.carries),
            ),
        )


_CLASS: dict[Carries, str] = {
    "mic": sentence("microphone level"),
    "line": sentence("line level"),
    "instrument": sentence("an instrument"),
    "phones": sentence("headphone level"),
    "speaker": sentence("loudspeaker level"),
    "link": sentence("a stage link"),
    "network": sentence("a network"),
}


def _may_meet(out: Port, into: Port) -> bool:
    if out.carries == "phones" and into.carries in {"mic", "instrument"}:
        return False
    if out.carries in _ANALOGUE and into.carries in _ANALOGUE:
        return True
    return out.carries == into.carries or (out.carries, into.carries) in _ALSO


def instrument_without_di(view: View) -> Iterator[Finding]:
    """An instrument's high-impedance output feeds an input that loads it.

    Why: a pickup into a microphone or line input sounds dull and thin, and no equaliser helps.
    Fix: put a DI box between.
    Source: common practice, no source: pickups want about 1 megohm or more.

    Fails:
        gear: [{id: di, type: di-passive}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: odd, type: lead-jack-ts, from: di.thru, to: mixer.in.1}]
    Passes:
        gear: [{id: di, type: di-passive}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: right, type: lead-xlr, from: di.out, to: mixer.in.1}]
    """
    for run in view.runs:
        out, into = run.starts[0].port, run.ends[0].port
        if out is None or into is None or out.carries != "instrument":
            continue
        if into.carries in {"mic", "line"}:
            start, end = (place(view.rig, s[0].key) for s in (run.starts, run.ends))
            yield Finding(
                at=run.lead.where,
                says=sentence(
                    "The lead {run} brings an instrument from {start} straight to {end}.",
                    run=run.name,
                    start=start,
                    end=end,
                ),
            )


RULES = (
    Rule(id="plug.wrong-connector", severity="stop", check=wrong_connector, since="0.1"),
    Rule(id="plug.wrong-gender", severity="stop", check=wrong_gender, since="0.1"),
    Rule(id="plug.source-does-not-fit", severity="stop", check=source_does_not_fit, since="0.1"),
    Rule(
        id="plug.unbalanced-without-di", severity="risk", check=unbalanced_without_di, since="0.1"
    ),
    Rule(id="plug.mono-in-stereo", severity="stop", check=mono_in_stereo, since="0.1"),
    Rule(id="plug.balanced-drive", severity="stop", check=balanced_drive, since="0.1"),
    Rule(
        id="plug.earphones-do-not-fit", severity="advice", check=earphones_do_not_fit, since="0.1"
    ),
    Rule(id="plug.level-class", severity="stop", check=level_class, since="0.1"),
    Rule(
        id="plug.instrument-without-di", severity="risk", check=instrument_without_di, since="0.1"
    ),
)
