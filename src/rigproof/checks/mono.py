"""Rules about stereo sources that somewhere become one."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Source
from rigproof.rig.where import Where
from rigproof.wording import some
from rigproof.wording.sentences import sentence

# Two microphones stand apart and are summed every day; two outputs of a box are another matter.
# Common practice, no source.
_ELECTRIC = frozenset({"keys", "electronics", "playback", "guitar"})


def _summed(view: View) -> Iterator[tuple[str, Where, list[Source]]]:
    """Where both sides of a stereo source become one: in words, its place, and the sources."""
    rig = view.rig
    stereo = {s.id: s for s in rig.file.sources if s.stereo}
    if not stereo:
        return
    for venue in view.venues:
        if venue.desk.mono:
            told = [s for s in stereo.values() if not s.private and s.owner != "house"]
            yield sentence("at {venue}", venue=venue.name), venue.desk.where.of("mono"), told
    for mix in rig.file.mixes:
        if not mix.stereo and mix.purpose in {"ears", "wedge", "house"} and mix.where.line:
            sent = [name for send in mix.sends if send.from_ for name in rig.members(send.from_)]
            told = [stereo[name] for name in dict.fromkeys(sent) if name in stereo]
            yield sentence("in the mix {mix}", mix=mix.name or mix.id), mix.where, told
    for feed in rig.file.feeds:
        for slot in feed.slots:
            if len(slot.slot) == 1 and slot.bus is not None:
                taken = [name for given in slot.takes for name in rig.members(given)]
                told = [stereo[name] for name in dict.fromkeys(taken) if name in stereo]
                yield sentence("in slot {slot}", slot=slot.slot), slot.where, told


def collapses(view: View) -> Iterator[Finding]:
    """A stereo source that does not bear it is added to one.

    Why: chorus and piano patches made wide by turning one side over lose half their sound, and in
        the hall nobody knows where the keys went.
    Fix: take a mono sound, or one side only, for that place.
    Source: common practice, no source; from memory.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true, bears_mono: false}]
        venues: [{id: hall, name: Village hall, desk: {takes: tails, mono: true}}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true, bears_mono: true}]
        venues: [{id: hall, name: Village hall, desk: {takes: tails, mono: true}}]
    """
    for where, at, sources in _summed(view):
        bad = [s.name for s in sources if s.bears_mono is False]
        if bad:
            yield Finding(
                at=at,
                says=sentence(
                    "{names} {word} not bear being added to one, and {word2} {where}.",
                    names=some(bad),
                    word=sentence("does") if len(bad) == 1 else sentence("do"),
                    word2=sentence("is") if len(bad) == 1 else sentence("are"),
                    where=where,
                ),
            )


def not_known(view: View) -> Iterator[Finding]:
    """Nobody tried whether a stereo instrument survives a hall in mono.

    Why: whether the keys will be there cannot be told.
    Fix: press the mono switch at a rehearsal, listen, and write bears_mono: true or false.
    Source: common practice, no source; from memory.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        venues: [{id: hall, name: Village hall, desk: {takes: tails, mono: true}}]
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true, bears_mono: true}]
        venues: [{id: hall, name: Village hall, desk: {takes: tails, mono: true}}]
    """
    for venue in view.venues:
        if not venue.desk.mono:
            continue
        untried = [
            s.name
            for s in view.rig.file.sources
            if s.stereo and not s.private and s.bears_mono is None and s.family in _ELECTRIC
        ]
        if untried:
            yield Finding(
                at=venue.desk.where.of("mono"),
                says=sentence(
                    "{venue} adds both sides to one, and nobody wrote whether {names} {word} it.",
                    venue=venue.name,
                    names=some(untried),
                    word=sentence("bears") if len(untried) == 1 else sentence("bear"),
                ),
                severity="unknown",
            )


RULES = (
    Rule(id="mono.collapses", severity="risk", check=collapses, since="0.1"),
    Rule(id="mono.not-known", severity="unknown", check=not_known, since="0.1"),
)
