"""Rules about what network leads and switches carry: megabits, milliseconds, watts."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.network.feeding import budgets
from rigproof.network.power_cycle import clock_trees
from rigproof.network.traffic import MEDIA_SHARE, crossings, socket_loads
from rigproof.signal.words import box, place
from rigproof.wording import counted, listed, some
from rigproof.wording.sentences import sentence


def too_much(view: View) -> Iterator[Finding]:
    """More audio in packets leaves a socket than it should carry.

    Why: packets that do not fit are thrown away, first one, then a burst: clicks in every ear,
        and only in the song with all channels open.
    Fix: take a switch that filters multicast, a faster socket, or send fewer channels.
    Source: IEEE 802.3 (headers and gaps), RFC 3550, 3190 (packets), IEEE 802.1Qav (media take
        75 % of a link at most), RFC 4541 (without filtering, multicast goes everywhere).

    Fails:
        gear:
          - {id: card, type: card-network-audio-64}
          - {id: other, type: card-network-audio-64}
          - {id: slow, type: switch-5-slow}
        leads:
          - {id: one, type: lead-network-locking-plain, from: card.net, to: slow.port.1}
          - {id: two, type: lead-network-locking-plain, from: other.net, to: slow.port.2}
        streams: [{id: all, from: card.net.tx.1-64, to: other.net.rx.1-64, latency_ms: 1}]
    Passes:
        gear:
          - {id: card, type: card-network-audio-64}
          - {id: other, type: card-network-audio-64}
          - {id: switch, type: switch-8-managed}
        leads:
          - {id: one, type: lead-network-locking-plain, from: card.net, to: switch.port.1}
          - {id: two, type: lead-network-locking-plain, from: other.net, to: switch.port.2}
        streams: [{id: all, from: card.net.tx.1-64, to: other.net.rx.1-64, latency_ms: 1}]
    """
    for load in socket_loads(view.rig, view.flows, view.cables):
        if load.share_ratio <= MEDIA_SHARE:
            continue
        if not load.speed_stated:
            yield Finding(
                at=view.rig.gear[load.gear].where,
                severity="unknown",
                says=sentence(
                    "Whether {place} carries {carries_mbps:.0f} Mb/s cannot be judged: needs "
                    "speed_mbps of its type.",
                    place=place(view.rig, load.socket),
                    carries_mbps=load.carries_mbps,
                ),
                fix=sentence("State speed_mbps of the port, from the data sheet."),
            )
            continue
        flooded = (
            ""
            if load.filters
            else sentence(" (it does not filter, so every stream leaves it there)")
        )
        yield Finding(
            at=view.rig.gear[load.gear].where,
            says=sentence(
                "{place} sends {carries_mbps:.0f} Mb/s of audio{flooded}; "
                "{media_share:.0f} of its {speed_mbps:g} Mb/s are meant for it.",
                place=place(view.rig, load.socket),
                carries_mbps=load.carries_mbps,
                flooded=flooded,
                media_share=MEDIA_SHARE * load.speed_mbps,
                speed_mbps=load.speed_mbps,
            ),
            found=load.carries_mbps,
            limit=MEDIA_SHARE * load.speed_mbps,
            unit="Mb/s",
        )


def too_late(view: View) -> Iterator[Finding]:
    """A stream's packets may come later than its latency setting allows.

    Why: the receiver plays what it has; what comes late is a click, and it comes late only when
        something else is on the same wire.
    Fix: set a longer latency for this stream, take out a switch, or a faster link.
    Source: IEEE 802.3 line rate, store and forward; one full frame of somebody else may be on
        each wire. AES67 packet times.

    Fails:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: other, type: card-network-audio-32}
          - {id: a, type: switch-5-slow}
          - {id: b, type: switch-5-slow}
        leads:
          - {id: one, type: lead-network-locking-plain, from: card.net, to: a.port.1}
          - {id: two, type: lead-network-plain, from: a.port.2, to: b.port.2}
          - {id: three, type: lead-network-locking-plain, from: other.net, to: b.port.1}
        streams: [{id: s, from: card.net.tx.1-32, to: other.net.rx.1-32, latency_ms: 0.25}]
    Passes:
        gear:
          - {id: card, type: card-network-audio-32}
          - {id: other, type: card-network-audio-32}
          - {id: a, type: switch-8-managed}
        leads:
          - {id: one, type: lead-network-locking-plain, from: card.net, to: a.port.1}
          - {id: two, type: lead-network-locking-plain, from: other.net, to: a.port.2}
        streams: [{id: s, from: card.net.tx.1-32, to: other.net.rx.1-32, latency_ms: 1}]
    """
    for crossing in crossings(view.rig, view.flows):
        flow = crossing.flow
        if crossing.fits or not flow.latency_stated:
            continue
        needs_ms = crossing.needs_ms + crossing.sleeping_ms
        stream = flow.stream
        yield Finding(
            at=stream.where.of("latency_ms"),
            says=sentence(
                "The stream {stream} is set to {latency_ms:g} ms; its packets may need "
                "{needs_ms:.2f} ms over {switches} at {slowest_mbps:g} Mb/s.",
                stream=stream.name or stream.id,
                latency_ms=flow.latency_ms,
                needs_ms=needs_ms,
                switches=counted(crossing.switches, "switch", "switches"),
                slowest_mbps=crossing.slowest_mbps,
            ),
            found=float(flow.latency_ms),
            limit=needs_ms,
            unit="ms",
        )


def poe_over_budget(view: View) -> Iterator[Finding]:
    """A box gives less power over its network leads than what hangs on it takes.

    Why: the switch turns off the socket of the last one, or of all: a mix disappears at the
        moment when everything is at its loudest and brightest.
    Fix: move a box to another switch, or give it its own supply or injector.
    Source: IEEE 802.3af, at, bt; what the lead turns to heat (I2 R, 20 ohm for 100 m) included.

    Fails:
        gear:
          - {id: switch, type: switch-8-poe-plain}
          - {id: a, type: access-point-poe}
          - {id: b, type: access-point-poe}
          - {id: c, type: access-point-poe}
          - {id: d, type: access-point-poe}
          - {id: e, type: access-point-poe}
        leads:
          - {id: la, type: lead-network-plain, from: a.port, to: switch.port.1}
          - {id: lb, type: lead-network-plain, from: b.port, to: switch.port.2}
          - {id: lc, type: lead-network-plain, from: c.port, to: switch.port.3}
          - {id: ld, type: lead-network-plain, from: d.port, to: switch.port.4}
          - {id: le, type: lead-network-plain, from: e.port, to: switch.port.5}
    Passes:
        gear:
          - {id: switch, type: switch-8-poe-plain}
          - {id: a, type: access-point-poe}
        leads: [{id: la, type: lead-network-plain, from: a.port, to: switch.port.1, length_m: 5}]
    """
    for budget in budgets(view.rig, view.cables):
        name = box(view.rig, budget.gear.id)
        for fed in budget.fed:
            if fed.takes_w is not None and fed.takes_w.value > fed.gives_w:
                yield Finding(
                    at=fed.gear.where,
                    says=sentence(
                        "{place} gives {gives_w:g} W; {box} takes {takes_w:.1f} W there.",
                        place=place(view.rig, fed.socket),
                        gives_w=fed.gives_w,
                        box=box(view.rig, fed.gear.id),
                        takes_w=fed.takes_w.value,
                    ),
                    found=fed.takes_w.value,
                    limit=float(fed.gives_w),
                    unit="W",
                )
        if budget.budget_w is not None and budget.takes_w.value > budget.budget_w:
            yield Finding(
                at=budget.gear.where,
                says=sentence(
                    "{name} gives {budget_w:g} W over its network leads; {boxes} take "
                    "{takes_w:.0f} W.",
                    name=name,
                    budget_w=budget.budget_w,
                    boxes=counted(len(budget.fed), "box", "boxes"),
                    takes_w=budget.takes_w.value,
                ),
                found=budget.takes_w.value,
                limit=float(budget.budget_w),
                unit="W",
            )
        elif budget.unknown:
            yield Finding(
                at=budget.unknown[0].where,
                severity="unknown",
                says=sentence(
                    "Whether {name} feeds all that hangs on it cannot be judged: needs the "
                    "watts of {names}.",
                    name=name,
                    names=some(box(view.rig, gear.id) for gear in budget.unknown),
                ),
                fix=sentence("State watts_max under power of the gear type."),
            )


def election_open(view: View) -> Iterator[Finding]:
    """When the clock's leader restarts, chance decides which box leads.

    Why: the new leader may be one that was just plugged in, or the house's; when the old one
        comes back the clock moves again, and each move is a gap in every ear.
    Fix: give a second box the next preference in its own settings, and try it: switch the leader
        off and on with music playing.
    Source: IEEE 1588 (best-leader election by preference, then by clock identity).

    Fails:
        gear:
          - {id: a, type: card-network-audio-32}
          - {id: b, type: card-network-audio-32}
          - {id: c, type: card-network-audio-32}
          - {id: switch, type: switch-8-managed}
        leads:
          - {id: la, type: lead-network-locking-plain, from: a.net, to: switch.port.1}
          - {id: lb, type: lead-network-locking-plain, from: b.net, to: switch.port.2}
          - {id: lc, type: lead-network-locking-plain, from: c.net, to: switch.port.3}
        clocks:
          - {gear: a, rate_hz: 48000, pinned: true}
          - {gear: b, follows: a, rate_hz: 48000}
          - {gear: c, follows: a, rate_hz: 48000}
    Passes:
        gear:
          - {id: a, type: card-network-audio-32}
          - {id: b, type: card-network-audio-32}
          - {id: switch, type: switch-8-managed}
        leads:
          - {id: la, type: lead-network-locking-plain, from: a.net, to: switch.port.1}
          - {id: lb, type: lead-network-locking-plain, from: b.net, to: switch.port.2}
        clocks:
          - {gear: a, rate_hz: 48000, pinned: true}
          - {gear: b, follows: a, rate_hz: 48000}
    """
    at = {clock.gear: clock.where for clock in view.rig.file.clocks}
    for tree in clock_trees(view.rig, view.clock_domains):
        if tree.leader is None or not tree.by_network:
            continue
        cycle = next(cycle for cycle in tree.cycles if cycle.off == tree.leader)
        if len(cycle.may_lead) > 1:
            yield Finding(
                at=at.get(tree.leader, view.rig.gear[tree.leader].where),
                says=sentence(
                    "With {box} off, any of {names} may lead.",
                    box=box(view.rig, tree.leader),
                    names=listed((box(view.rig, name) for name in cycle.may_lead), "or"),
                ),
            )


RULES = (
    Rule(id="network.bandwidth", severity="stop", check=too_much, since="0.1"),
    Rule(id="network.latency", severity="risk", check=too_late, since="0.1"),
    Rule(id="network.poe-over-budget", severity="stop", check=poe_over_budget, since="0.1"),
    Rule(id="clock.next-leader-open", severity="advice", check=election_open, since="0.1"),
)
