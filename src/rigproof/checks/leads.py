"""Rules about leads as a whole: which way, from where to where, and how many lanes."""

from collections.abc import Iterator

from rigproof.checks.joints import Run, same_socket, sets
from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.words import place
from rigproof.wording import counted, noun
from rigproof.wording.sentences import sentence


def both_ends_in_one_socket(view: View) -> Iterator[Finding]:
    """A lead starts and ends in the same socket.

    Why: a slip of the pen; the lead that was meant is missing from the list and from the bag.
    Fix: write where it really goes.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}]
        leads: [{id: link, type: lead-network-locking, from: mixer.link, to: mixer.link}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}, {id: box, type: stage-box-16x8}]
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
    """
    for lead in view.rig.file.leads:
        if same_socket(lead.from_, lead.to):
            yield Finding(
                at=lead.where,
                says=sentence(
                    "The lead {label} starts and ends in {place}.",
                    label=lead.label or lead.id,
                    place=place(view.rig, lead.to),
                ),
            )


def against_the_flow(view: View) -> Iterator[Finding]:
    """A lead is written against the way the signal runs.

    Why: from an input to an output nothing flows; the sheets would print both ends wrong.
    Fix: swap from and to, or name the socket that was meant.
    Source: common practice, no source: the signal enters a lead at its first end.

    Fails:
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: to-mixer, type: lead-xlr, from: mixer.in.1, to: split.direct.1}]
    Passes:
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: to-mixer, type: lead-xlr, from: split.direct.1, to: mixer.in.1}]
    """
    for run in view.runs:
        out, into = run.starts[0].port, run.ends[0].port
        wrong_start = out is not None and out.way == "in"
        wrong_end = into is not None and into.way == "out"
        if wrong_start or wrong_end:
            one, other = place(view.rig, run.starts[0].key), place(view.rig, run.ends[0].key)
            which = (
                sentence("{one} is an input", one=one)
                if wrong_start
                else sentence("{other} is an output", other=other)
            )
            yield Finding(
                at=run.lead.where,
                says=sentence(
                    "The lead {run} runs from {one} to {other}, and {which}.",
                    run=run.name,
                    one=one,
                    other=other,
                    which=which,
                ),
            )


def lanes_do_not_match(view: View) -> Iterator[Finding]:
    """The two ends of a lead carry different numbers of signals.

    Why: what has no partner at the other end is lost without a word: lines 15 and 16 of a
        sixteen-way, or the right side of a pair.
    Fix: name as many sockets at one end as at the other.
    Source: common practice, no source: signals are counted at both ends.

    Fails:
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-6}]
    Passes:
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        leads: [{id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}]
    """
    for run in view.runs:
        out = _analogue_lanes(run, "tx")
        into = _analogue_lanes(run, "rx")
        if out > 1 and into > 1 and out != into:
            yield Finding(
                at=run.lead.where,
                says=sentence(
                    "The lead {run} takes {signals} at {place} and brings {into} to {place2}.",
                    run=run.name,
                    signals=counted(out, "signal"),
                    place=place(view.rig, run.lead.from_),
                    into=into,
                    place2=place(view.rig, run.lead.to),
                ),
                found=into,
                limit=out,
                unit=noun(into, "signal"),
            )


def _analogue_lanes(run: Run, way: str) -> int:
    """Signals at one end; links that carry both ways may well be of unequal size."""
    ref, found = (run.lead.from_, run.starts) if way == "tx" else (run.lead.to, run.ends)
    if any(s.port is not None and s.port.way == "both" for s in (*run.starts, *run.ends)):
        return 0
    if ref.lanes is not None:
        return (ref.lanes[1] - ref.lanes[0] + 1) * len(found)
    return sum(len(socket.lanes(way)) for socket in found)


def ends_do_not_match(view: View) -> Iterator[Finding]:
    """The sockets at the two ends ask for different numbers of leads.

    Why: a fan of eight cannot serve six sockets here and twelve there; somebody counts leads on
        stage and one is short.
    Fix: name the sockets that one lead really joins, and write a second lead for the rest.
    Source: common practice, no source; the count of plugs is the lead type's.

    Fails:
        gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1-2}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-4, to: amp.in.1-2}]
    """
    for run in view.runs:
        one, other = sets(run.body.a, run.starts), sets(run.body.b, run.ends)
        single = run.body.a.count == run.body.b.count == 1
        if one != other and not single:
            yield Finding(
                at=run.lead.where,
                says=sentence(
                    "The lead {run}: {place} takes {leads} of this kind and {place2} takes "
                    "{other}.",
                    run=run.name,
                    place=place(view.rig, run.lead.from_),
                    leads=counted(one, "lead"),
                    place2=place(view.rig, run.lead.to),
                    other=other,
                ),
                found=other,
                limit=one,
                unit=noun(other, "lead"),
            )


def link_unshielded(view: View) -> Iterator[Finding]:
    """The link of a stage box runs over a network lead without a shield.

    Why: in dry winter air every hand that touches the desk sends a spark down the line, and the
        link crackles or drops; it works in every rehearsal.
    Fix: take a shielded lead with metal shells at both plugs, as makers of such links ask for.
    Source: common practice, no source; taken from an account of a desk in winter. That the shield
        was what was missing there is a guess, from memory.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8}]
        leads: [{id: link, type: lead-network-unshielded, from: box.link, to: mixer.link}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}, {id: box, type: stage-box-16x8}]
        leads: [{id: link, type: lead-network-locking, from: box.link, to: mixer.link}]
    """
    told: set[str] = set()
    for link in view.cables.links:
        body = view.rig.types[link.lead.type].lead
        bare = body is not None and body.conductors == "pair" and body.shielded is False
        if bare and "link" in link.carries and link.lead.id not in told:
            told.add(link.lead.id)
            yield Finding(
                at=link.lead.where,
                says=sentence(
                    "The lead {label} joins {place} and {place2} and has no shield.",
                    label=link.lead.label or link.lead.id,
                    place=place(view.rig, link.start.key),
                    place2=place(view.rig, link.end.key),
                ),
            )


RULES = (
    Rule(
        id="lead.both-ends-in-one-socket",
        severity="stop",
        check=both_ends_in_one_socket,
        since="0.1",
    ),
    Rule(id="lead.against-the-flow", severity="stop", check=against_the_flow, since="0.1"),
    Rule(id="lead.lanes-do-not-match", severity="risk", check=lanes_do_not_match, since="0.1"),
    Rule(id="lead.link-unshielded", severity="risk", check=link_unshielded, since="0.1"),
    Rule(id="lead.ends-do-not-match", severity="risk", check=ends_do_not_match, since="0.1"),
)
