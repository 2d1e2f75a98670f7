"""Rules about what arrives at each pair of ears."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig.band import Family, Person
from rigproof.rig.geartype import Stage
from rigproof.signal.words import place
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence

# Who needs what, by part; common practice, no source: time, pitch and the lead voice as cue.
TIME: frozenset[Family] = frozenset({"drums", "percussion", "click"})
PITCH: frozenset[Family] = frozenset({"bass", "guitar", "keys", "strings", "brass", "winds"})
CUE: frozenset[Family] = frozenset({"voices"})
_NEEDS: tuple[tuple[str, frozenset[Family]], ...] = (
    (sentence("time (drums or click)"), TIME),
    (sentence("pitch (bass, guitar, keys or tracks)"), PITCH | {"playback"}),
    (sentence("the voices as cue"), CUE),
)
_NOT_PLAYED: frozenset[Family] = frozenset({"talk", "ambience", "click", "cue"})


def _wearers(view: View) -> Iterator[Person]:
    """The people whose earphones hang on a socket of the rig."""
    return (p for p in view.rig.file.people if p.ears is not None and p.ears.plug is not None)


def _hears(view: View, who: Person) -> tuple[str, ...]:
    return view.heard[who.id]


def hear_nothing(view: View) -> Iterator[Finding]:
    """Somebody's ears hear nothing at all.

    Why: the earphones are in, the show starts, and there is silence.
    Fix: give the person a mix, and follow it from the bus to the socket of the earphones.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1}}]
        gear: [{id: amp, type: headphone-amp-4}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    """
    for who in _wearers(view):
        if _hears(view, who):
            continue
        assert who.ears is not None
        assert who.ears.plug is not None
        yield Finding(
            at=who.ears.where,
            says=sentence(
                "Nothing arrives at {who}'s ears at {place}.",
                who=who.name,
                place=place(view.rig, who.ears.plug),
            ),
            fix=_where_it_breaks(view, who),
        )


def _where_it_breaks(view: View, who: Person) -> str:
    """The first place on the way to somebody's ears that nothing is brought to."""
    graph = view.graph
    begins = [
        node
        for node in graph.feeding(graph.of_listener(who.id))
        if not any(not graph.hops[hop].open for hop in graph.entering[node])
        and not graph.nodes[node].key.startswith("ear:")
    ]
    if not begins:
        return ""
    first = min(begins, key=lambda node: graph.nodes[node].key)
    return sentence(
        "Nothing leads into {place}: bring a mix there.",
        place=place(view.rig, graph.nodes[first].key),
    )


def one_ear_silent(view: View) -> Iterator[Finding]:
    """One side of somebody's earphones stays silent.

    Why: with one ear dead everyone turns the other up, and that ear pays for it.
    Fix: feed both sides: a stereo lead and plug, or the mono mix to both.
    Source: common practice, no source; one ear alone is turned up by several decibels.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: lead-xlr, from: mixer.out.1, to: amp.in.1.1}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        mixes: [{id: ana, listeners: [ana], bus: 1, out: mixer.out.1, sends: [{from: kick}]}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-16}, {id: amp, type: headphone-amp-4}]
        leads: [{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}]
        patch: [{source: kick, plug: mixer.in.1, channel: 1}]
        mixes: [{id: ana, listeners: [ana], bus: 1, out: mixer.out.1-2, sends: [{from: kick}]}]
    """
    for who in _wearers(view):
        ears = view.graph.of_listener(who.id)
        if len(ears) != 2 or (who.ears is not None and who.ears.one_ear):
            continue
        silent = [side for side, node in enumerate(ears) if not view.arriving.bits[node]]
        if len(silent) == 1:
            assert who.ears is not None
            yield Finding(
                at=who.ears.where,
                says=sentence(
                    "{who}'s {side} ear stays silent.",
                    who=who.name,
                    side=(sentence("left"), sentence("right"))[silent[0]],
                ),
            )


def no_plug(view: View) -> Iterator[Finding]:
    """Somebody has a mix or earphones and nowhere to plug them in.

    Why: the mix is made, and it ends in the rack.
    Fix: write ears: {plug: ...} for the person, with the socket the earphones hang on.
    Source: common practice, no source.

    Fails:
        people: [{id: ana, name: Ana}]
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, listeners: [ana], bus: 1}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        gear: [{id: mixer, type: mixer-rack-16}]
        mixes: [{id: ana, listeners: [ana], bus: 1}]
    """
    listening = {
        name for mix in view.rig.file.mixes if mix.purpose == "ears" for name in mix.listeners
    }
    for who in view.rig.file.people:
        plugged = who.ears is not None and who.ears.plug is not None
        if not plugged and who.wedge is None and (who.ears is not None or who.id in listening):
            yield Finding(
                at=who.ears.where if who.ears is not None else who.where,
                says=sentence("{who} has no socket to hear from.", who=who.name),
            )


def no_earphones(view: View) -> Iterator[Finding]:
    """Whose earphones are not stated cannot be judged.

    Why: hiss, loudness and the plug all depend on the earphones: the same knob gives one pair
        ten decibels more than another.
    Fix: write ears: {earphones: ...} with a type of the library or your own.
    Source: common practice, no source: sensitivities differ by 10 to 15 dB.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1}}]
        gear: [{id: amp, type: headphone-amp-4}]
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: earphones-dual}}]
        gear: [{id: amp, type: headphone-amp-4}]
    """
    without = [p for p in _wearers(view) if p.ears is not None and p.ears.earphones is None]
    if without:
        first = without[0].ears
        assert first is not None
        yield Finding(
            at=first.where,
            says=sentence(
                "The earphones of {names} are not stated: plug, hiss and loudness there "
                "cannot be judged.",
                names=some(p.name for p in without),
            ),
        )


def no_own_sound(view: View) -> Iterator[Finding]:
    """Somebody does not hear the own voice or instrument.

    Why: without the own sound people sing flat, hit harder and pull one earphone out.
    Fix: send it to that person's mix, or into a slot of the personal mixer.
    Source: common practice, no source: self, time, pitch and cue are the least of a mix.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources:
          - {id: kick, name: Kick, family: drums}
          - {id: voice, name: Ana's voice, family: voices, player: ana}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources:
          - {id: kick, name: Kick, family: drums}
          - {id: voice, name: Ana's voice, family: voices, player: ana}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}, {from: voice}]}
    """
    own: dict[str, dict[Family, list[str]]] = {}
    for source in view.rig.file.sources:
        if source.player is not None and source.family not in _NOT_PLAYED:
            families = own.setdefault(source.player, {})
            families.setdefault(source.family, []).append(source.id)
    for who in _wearers(view):
        heard = set(_hears(view, who))
        if not heard:
            continue  # hears nothing at all: another rule
        # A drummer may do without the hi-hat microphone, but not without all drums.
        lost = [
            name
            for names in own.get(who.id, {}).values()
            if not heard & set(names)
            for name in names
        ]
        if lost:
            assert who.ears is not None
            names = some(view.rig.sources[name].name for name in lost)
            yield Finding(
                at=who.ears.where,
                says=sentence("{who} does not hear {names}.", who=who.name, names=names),
            )


def need_missing(view: View) -> Iterator[Finding]:
    """A player's mix lacks time, pitch or cue.

    Why: the guitarist who "hates in-ears" had guitar, click and a little voice: no drums, no bass.
        Half of those who are unhappy with their mix never say so.
    Fix: add what is named, even if low.
    Source: common practice, no source: self, time, pitch and cue are the least of a mix.

    Fails:
        people: [{id: ana, name: Ana, part: guitar, ears: {plug: mixer.phones}}]
        sources:
          - {id: kick, name: Kick, family: drums}
          - {id: guitar, name: Guitar, family: guitar, player: ana}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: guitar}]}
    Passes:
        people: [{id: ana, name: Ana, part: guitar, ears: {plug: mixer.phones}}]
        sources:
          - {id: kick, name: Kick, family: drums}
          - {id: guitar, name: Guitar, family: guitar, player: ana}
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: guitar}, {from: kick}]}
    """
    sources = view.rig.sources
    makers: dict[Family, set[str | None]] = {}
    for source in sources.values():
        makers.setdefault(source.family, set()).add(source.player)
    for who in _wearers(view):
        if who.part in {"engineer", "operator", "dancer"}:
            continue
        heard = {sources[name].family for name in _hears(view, who)}
        if not heard:
            continue
        # What only the person itself makes is no help to lean on, so it is not asked for.
        others = {family for family, players in makers.items() if players != {who.id}}
        lacking = [
            need
            for need, families in _NEEDS
            if families & others and not families & heard and who.part not in families
        ]
        if lacking:
            assert who.ears is not None
            yield Finding(
                at=who.ears.where,
                says=sentence("{who}'s mix lacks {names}.", who=who.name, names=listed(lacking)),
            )


def foreign_mix(view: View) -> Iterator[Finding]:
    """A musician's own mix is plugged where another's mix comes out.

    Why: two people on each other's mix turn up everything before anybody looks at the plugs.
    Fix: swap the two plugs, or the two ways out.
    Source: common practice, no source.

    Fails:
        people:
          - {id: ana, name: Ana, ears: {plug: mixer.phones}}
          - {id: bea, name: Bea}
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: bea, name: Bea, listeners: [bea], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
          - {id: ana, name: Ana, listeners: [ana], stereo: true, bus: 3-4, out: mixer.out.1-2,
             sends: [{from: kick}]}
    Passes:
        people:
          - {id: ana, name: Ana, ears: {plug: mixer.phones}}
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, name: Ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    """
    buses = _mix_of_bus(view)
    made = set(buses.values())
    listening: dict[str, set[str]] = {}
    for mix in view.rig.file.mixes:
        for name in mix.listeners:
            listening.setdefault(name, set()).add(mix.id)
    for who in _wearers(view):
        own = made & listening.get(who.id, set())
        arriving = _mixes_at(view, who, buses) if own else set()
        if arriving and not own & arriving:
            foreign = view.rig.mixes[sorted(arriving)[0]]
            assert who.ears is not None
            yield Finding(
                at=who.ears.where,
                says=sentence(
                    "{who} hears the mix {foreign}, not the own one.",
                    who=who.name,
                    foreign=foreign.name or foreign.id,
                ),
            )


def _mix_of_bus(view: View) -> dict[int, str]:
    """Bus node -> the mix that is made on it, where exactly one is."""
    found: dict[int, str] = {}
    for mix in view.rig.file.mixes:
        gear = mix.on or (view.rig.mixer.id if view.rig.mixer else None)
        if gear is None or mix.bus is None:
            continue
        stage = next(
            (s for s in view.rig.type_of(gear).stages("bus") if not mix.bank or s.id == mix.bank),
            None,
        )
        for number in mix.bus if stage is not None else ():
            node = view.graph.index.get(f"{gear}.{stage.id}.{number}") if stage else None
            if node is not None:
                found[node] = mix.id
    return found


def _mixes_at(view: View, who: Person, buses: dict[int, str]) -> set[str]:
    """The mixes whose buses are the last before these ears."""
    queue = list(view.graph.of_listener(who.id))
    seen, found = set(queue), set()
    for node in queue:  # grows as it goes, back from the ear
        if node in buses:
            found.add(buses[node])
            continue
        for number in view.graph.entering[node]:
            hop = view.graph.hops[number]
            if not hop.open and hop.start not in seen:
                seen.add(hop.start)
                queue.append(hop.start)
    return found


_MIXING = frozenset({"bus", "sum", "channel", "preamp"})


def without_limiter(view: View) -> Iterator[Finding]:
    """Nothing limits what can reach somebody's ears.

    Why: a microphone unplugged with 48 V on, a dropped one, a burst on the radio: with nothing in
        between, the ear gets all that the amplifier can give, and hearing does not grow back.
    Fix: set a limiter in the last box before the ears and write limiter_dbu in the mix; a limiter
        on the bus does not hold what comes in behind it. Try it with the earphones on the table.
    Source: common practice, no source; this says nothing about how loud it is.

    Fails:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             sends: [{from: kick}]}
    Passes:
        people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
        sources: [{id: kick, name: Kick, family: drums}]
        gear: [{id: mixer, type: mixer-rack-24}]
        mixes:
          - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: mixer.phones.1-2,
             limiter_dbu: 4, sends: [{from: kick}]}
    """
    limited = {
        name for mix in view.rig.file.mixes if mix.limiter_dbu is not None for name in mix.listeners
    }
    bare = [
        who
        for who in _wearers(view)
        if who.id not in limited and _hears(view, who) and _unlimited(view, who)
    ]
    if bare:
        first = bare[0].ears
        assert first is not None
        yield Finding(
            at=first.where,
            says=sentence(
                "Nothing limits what can reach the ears of {names}.",
                names=some(p.name for p in bare),
            ),
        )


def _unlimited(view: View, who: Person) -> bool:
    """Whether a way leads from a mix to these ears with no limiter on it."""
    queue = list(view.graph.of_listener(who.id))
    seen = set(queue)
    for node in queue:  # grows as it goes, back from the ear
        bank = view.graph.nodes[node].bank
        if isinstance(bank, Stage) and bank.kind in _MIXING:
            return True
        if isinstance(bank, Stage) and bank.kind == "limiter":
            continue
        for number in view.graph.entering[node]:
            hop = view.graph.hops[number]
            if not hop.open and hop.start not in seen:
                seen.add(hop.start)
                queue.append(hop.start)
    return False


RULES = (
    Rule(id="ears.hear-nothing", severity="stop", check=hear_nothing, since="0.1"),
    Rule(id="ears.one-ear-silent", severity="stop", check=one_ear_silent, since="0.1"),
    Rule(id="ears.no-plug", severity="stop", check=no_plug, since="0.1"),
    Rule(id="ears.no-earphones", severity="unknown", check=no_earphones, since="0.1"),
    Rule(id="ears.no-own-sound", severity="risk", check=no_own_sound, since="0.1"),
    Rule(id="ears.need-missing", severity="advice", check=need_missing, since="0.1"),
    Rule(id="ears.foreign-mix", severity="stop", check=foreign_mix, since="0.1"),
    Rule(id="ears.without-limiter", severity="risk", check=without_limiter, since="0.1"),
)
