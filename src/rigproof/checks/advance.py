"""Rules about what is agreed with a house before the day: sent, asked, answered."""

from collections.abc import Iterator

from rigproof.checks.dates import day, later, nights_ahead
from rigproof.checks.rule import Finding, Rule, View
from rigproof.mains import needs_mains
from rigproof.rig import Rig, Show, Venue
from rigproof.rig.outside import Answers, Desk
from rigproof.rig.ref import HOUSE
from rigproof.wording import counted, listed, noun, some
from rigproof.wording.sentences import Figure, joined, sentence

# The usual rhythm in a guide for touring shows: first papers three weeks ahead, again at two, a
# call one week before. What arrives later than that is read on the day.
LATEST_DAYS = 7
# Plugging and hearing one line out: 15 to 20 s, from memory.
LINE_S = 15.0
_DESKS = frozenset({"tails", "link", "network"})


def _name(show: Show) -> str:
    return sentence("{show} on {date}", show=show.name or show.id, date=show.date)


def not_sent(view: View) -> Iterator[Finding]:
    """Nobody wrote that the papers went to the house.

    Why: the house sets up what it got last, or what it guesses: another band, or this one of two
        years ago.
    Fix: send list, plot and needs three weeks ahead and once more at two, and write each under sent
        of the show; bring prints as well.
    Source: common practice, no source; the rhythm is that of a guide for touring shows.

    Fails:
        rig: {name: Example, version: "3", date: 2027-04-01}
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: club}]
    Passes:
        rig: {name: Example, version: "3", date: 2027-04-01}
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club,
             sent: [{date: 2027-04-12, version: "3"}]}
    """
    silent = [
        show
        for show in nights_ahead(view.rig)
        if not show.sent and view.rig.venues[show.venue].desk.takes in _DESKS
    ]
    if silent and view.show is None:
        yield Finding(
            at=silent[0].where,
            says=sentence(
                "Nobody wrote that papers went to the house for {names}.",
                names=some(map(_name, silent)),
            ),
        )


def old_version(view: View) -> Iterator[Finding]:
    """A house holds an older version of the papers than the one that counts.

    Why: it patches what it holds: no microphone for the bass player who now sings, and crews stop
        patching ahead at all because lists are so often wrong.
    Fix: send the new version with a sheet of what changed, and write it under sent.
    Source: common practice, no source (several published accounts).

    Fails:
        rig: {name: Example, version: "4", date: 2027-04-20}
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club,
             sent: [{date: 2027-04-12, version: "3"}]}
    Passes:
        rig: {name: Example, version: "4", date: 2027-04-20}
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club,
             sent: [{date: 2027-04-12, version: "3"}, {date: 2027-04-20, version: "4"}]}
    """
    about = view.rig.about
    if view.show is not None:
        return
    for show in nights_ahead(view.rig):
        if not show.sent:
            continue
        last = max(show.sent, key=lambda sent: sent.date)
        other = last.version and about.version and last.version != about.version
        if other or (not last.version and later(about.date, last.date)):
            holds = (
                sentence("version {version}", version=last.version)
                if last.version
                else sentence("papers of {date}", date=last.date)
            )
            yield Finding(
                at=last.where,
                says=sentence(
                    "The house of {name} holds {holds}; the rig is now version {version}.",
                    name=_name(show),
                    holds=holds,
                    version=about.version or about.date,
                ),
            )


def sent_late(view: View) -> Iterator[Finding]:
    """The papers first went out in the last week.

    Why: hire lists, crew calls and the other act's patch are settled by then.
    Fix: send what you have three weeks ahead, marked as such, and the rest when you know it.
    Source: common practice, no source; the rhythm is that of a guide for touring shows.

    Fails:
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club, sent: [{date: 2027-05-06}]}
    Passes:
        venues: [{id: club, name: The Cellar, desk: {takes: tails}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club, sent: [{date: 2027-04-12}]}
    """
    for show in view.rig.file.shows if view.show is None else ():
        when = day(show.date)
        sent = [found for one in show.sent if (found := day(one.date)) is not None]
        if when is None or not sent:
            continue
        ahead = (when - min(sent)).days
        if ahead < LATEST_DAYS:
            yield Finding(
                at=show.where.of("sent"),
                says=sentence(
                    "The papers for {name} first went out {days} before it.",
                    name=_name(show),
                    days=counted(ahead, "day"),
                )
                if ahead > 0
                else sentence(
                    "The papers for {name} first went out when it was there.", name=_name(show)
                ),
                found=ahead,
                limit=LATEST_DAYS,
                unit=noun(ahead, "day"),
            )


def answer_differs(view: View) -> Iterator[Finding]:
    """What a house answered for a date contradicts what is written of its venue.

    Why: one of the two is out of date; the date is judged by its answer, and every other date at
        that venue by the entry.
    Fix: ask once more; where the answer holds for good, change the venue and delete the answer.
    Source: common practice, no source.

    Fails:
        venues: [{id: club, name: The Cellar, desk: {takes: tails, lines_free: 20}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club, answers: {lines_free: 16}}
    Passes:
        venues: [{id: club, name: The Cellar, desk: {takes: tails, lines_free: 20}}]
        shows:
          - {id: may, name: May dance, date: 2027-05-08, venue: club, answers: {lines_free: 20}}
    """
    for show in view.rig.file.shows if view.show is None else ():
        if show.answers is None:
            continue
        venue = view.stated.venues[show.venue]
        told = [
            sentence(
                "{words}: {now}, and the entry of {venue} says {usual}",
                words=words,
                now=_told(now),
                venue=venue.name,
                usual=_told(usual),
            )
            for words, usual, now in _asked(venue, show.answers)
        ]
        if told:
            yield Finding(
                at=show.answers.where,
                says=sentence("For {name}, {told}.", name=_name(show), told=joined("; ", told)),
            )


_ASKED = {
    "lines_free": sentence("free lines"),
    "lines_tested": sentence("whether the lines were tried"),
    "phantom": "48 V",
    "talkback": "talkback",
    "mixes_offered": sentence("mixes offered"),
    "side": sentence("the side of the house box"),
    "distance_m": sentence("metres to the house box"),
    "changeover_min": sentence("minutes of changeover"),
}


def _asked(venue: Venue, answers: Answers) -> Iterator[tuple[str, object, object]]:
    """What is known twice and differs: in words, as the venue's entry has it, as answered."""
    for field, words in _ASKED.items():
        entry: Venue | Desk = venue if field == "changeover_min" else venue.desk
        usual, now = getattr(entry, field), getattr(answers, field)
        if now is not None and usual not in (None, "unknown") and usual != now:
            yield words, usual, now


def _told(value: object) -> str:
    if isinstance(value, bool):
        return sentence("yes") if value else sentence("no")
    return Figure(f"{value:g}") if isinstance(value, float) else sentence(str(value))


def open_questions(view: View) -> Iterator[Finding]:
    """Questions that every house should be asked are open.

    Why: at load-in each of them is a surprise: half the snake is broken, there is no way to talk to
        the stage, the box is on the other side, the changeover is ten minutes.
    Fix: send the page of questions, and write the answers under the venue, or under answers of the
        show where they hold for that date only.
    Source: common practice, no source.

    Fails:
        venues: [{id: club, name: The Cellar, desk: {takes: tails, lines_free: 20}}]
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: club}]
    Passes:
        venues:
          - id: club
            name: The Cellar
            desk: {takes: tails, lines_free: 20, lines_tested: true, phantom: "off",
                   talkback: true, side: stage left, distance_m: 6}
            circuits: [{id: stage, amps_a: 16}]
            changeover_min: 20
        shows: [{id: may, name: May dance, date: 2027-05-08, venue: club}]
    """
    rig = view.rig
    if view.show is None:
        venues = [v for v in rig.file.venues if any(s.venue == v.id for s in rig.file.shows)]
        # A venue whose every date has answers of its own is asked about at those dates.
        venues = [v for v in venues if not _all_answered(rig, v)]
    else:
        venues = [rig.venues[view.show.venue]] if view.show.answers is not None else []
    for venue in venues:
        if venue.desk.takes not in _DESKS:
            continue
        asked = [words for words, is_open in _open(rig, venue) if is_open]
        if asked:
            yield Finding(
                at=venue.desk.where,
                says=sentence(
                    "Still to ask at {venue}: {names}.", venue=venue.name, names=listed(asked)
                ),
                severity="unknown",
            )


def _all_answered(rig: Rig, venue: Venue) -> bool:
    nights = [show for show in rig.file.shows if show.venue == venue.id]
    return all(show.answers is not None for show in nights)


def _open(rig: Rig, venue: Venue) -> Iterator[tuple[str, bool]]:
    desk = venue.desk
    mains = any(needs_mains(rig.types[gear.type]) for gear in rig.file.gear)
    yield sentence("how many lines are free"), desk.lines_free is None
    yield sentence("whether somebody tried each line"), desk.lines_tested is None
    if desk.takes == "tails":
        yield sentence("whether 48 V is on"), desk.phantom == "unknown"
    yield sentence("whether the desk can talk to the stage"), desk.talkback is None
    yield sentence("on which side the house box stands"), desk.side is None
    yield sentence("how far it is from the rack"), desk.distance_m is None
    yield sentence("which mains circuits there are"), mains and not venue.circuits
    yield sentence("how many minutes there are to change over"), venue.changeover_min is None


def too_few_mixes(view: View) -> Iterator[Finding]:
    """More ears hang on the house than the house offers mixes.

    Why: one desk does the hall and the stage, and five stereo ear mixes from it do not exist.
    Fix: make the mixes on a mixer of your own, share, go mono, or ask for a monitor desk.
    Source: common practice, no source; taken from an account of a venue with one desk.

    Fails:
        people:
          - {id: ana, name: Ana, ears: {plug: house.41}}
          - {id: ben, name: Ben, ears: {plug: house.42}}
        venues: [{id: club, name: The Cellar, desk: {takes: tails, mixes_offered: 1}}]
    Passes:
        people:
          - {id: ana, name: Ana, ears: {plug: house.41}}
          - {id: ben, name: Ben, ears: {plug: house.42}}
        venues: [{id: club, name: The Cellar, desk: {takes: tails, mixes_offered: 2}}]
    """
    ends = {
        str(plug)
        for who in view.rig.file.people
        for plug in (who.ears.plug if who.ears else None, who.wedge)
        if plug is not None and plug.gear == HOUSE
    }
    for venue in view.venues:
        offered = venue.desk.mixes_offered
        if offered is not None and len(ends) > offered:
            yield Finding(
                at=venue.desk.where.of("mixes_offered"),
                says=sentence(
                    "{venue} offers {mixes} for the stage, and {listeners_are} to get one from it.",
                    venue=venue.name,
                    mixes=counted(offered, "mix", "mixes"),
                    listeners_are=counted(len(ends), "listener is", "listeners are"),
                ),
                found=len(ends),
                limit=offered,
                unit=noun(len(ends), "mix", "mixes"),
            )


def no_talkback(view: View) -> Iterator[Finding]:
    """The rig waits for the house's talkback, and the house has none.

    Why: the lead is laid and the channel is there, and nobody ever speaks on it; once ears are in
        the house engineer has to walk to the stage.
    Fix: lay one of your own microphones to the desk for the house engineer, with its switch.
    Source: common practice, no source.

    Fails:
        sources:
          - {id: desk, name: House talk, family: talk, owner: house, from: house.33}
        venues: [{id: club, name: The Cellar, desk: {takes: tails, talkback: false}}]
    Passes:
        sources:
          - {id: desk, name: House talk, family: talk, owner: house, from: house.33}
        venues: [{id: club, name: The Cellar, desk: {takes: tails, talkback: true}}]
    """
    waiting = [s for s in view.rig.file.sources if s.family == "talk" and s.owner == "house"]
    for venue in view.venues:
        if venue.desk.talkback is False and venue.desk.takes in _DESKS and waiting:
            yield Finding(
                at=venue.desk.where.of("talkback"),
                says=sentence(
                    "{venue} has no talkback, and {names} waits for it.",
                    venue=venue.name,
                    names=some(s.name for s in waiting),
                ),
            )


def changeover_too_short(view: View) -> Iterator[Finding]:
    """Starting the rack and hearing out every line takes longer than the changeover.

    Why: the set begins with untried lines, and the first song is the line check.
    Fix: start and try the rack off stage, pre-plug looms, send fewer lines, or agree on more time.
    Source: 15 s for each line, from memory (15 to 20 s are usual); the slowest start is the gear
        types' boot_s. Setting up and tidying come on top and are not counted.

    Fails:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: keys, plug: split.in.1-2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues:
          - {id: fair, name: The fair, desk: {takes: tails, lines_free: 8}, changeover_min: 0.4}
    Passes:
        sources: [{id: keys, name: Keys, family: keys, stereo: true}]
        gear: [{id: split, type: splitter-transformer-8}]
        patch: [{source: keys, plug: split.in.1-2}]
        leads: [{id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}]
        venues:
          - {id: fair, name: The fair, desk: {takes: tails, lines_free: 8}, changeover_min: 15}
    """
    powers = (view.rig.types[gear.type].power for gear in view.rig.file.gear)
    boot_s = max((float(p.boot_s) for p in powers if p is not None and p.boot_s), default=0.0)
    for hand in view.hand_offs:
        given = hand.venue.changeover_min
        lines = hand.needed - len(hand.dropped)
        if given is None or not lines:
            continue
        wanted_min = (boot_s + lines * LINE_S) / 60
        if wanted_min > given:
            yield Finding(
                at=hand.venue.where.of("changeover_min"),
                says=sentence(
                    "{venue} gives {given:g} min, and {lines} to be heard out take "
                    "{wanted_min:.0f} min with the start of the rack.",
                    venue=hand.venue.name,
                    given=given,
                    lines=counted(lines, "line"),
                    wanted_min=wanted_min,
                )
                if wanted_min >= 1
                else sentence(
                    "{venue} gives {given:g} min for {lines}.",
                    venue=hand.venue.name,
                    given=given,
                    lines=counted(lines, "line"),
                ),
                found=wanted_min,
                limit=float(given),
                unit="min",
            )


RULES = (
    Rule(id="advance.not-sent", severity="advice", check=not_sent, since="0.1"),
    Rule(id="advance.old-version-sent", severity="risk", check=old_version, since="0.1"),
    Rule(id="advance.sent-late", severity="advice", check=sent_late, since="0.1"),
    Rule(id="advance.answer-differs", severity="advice", check=answer_differs, since="0.1"),
    Rule(id="advance.open-questions", severity="unknown", check=open_questions, since="0.1"),
    Rule(id="handoff.too-few-mixes", severity="stop", check=too_few_mixes, since="0.1"),
    Rule(id="handoff.no-talkback", severity="risk", check=no_talkback, since="0.1"),
    Rule(id="time.changeover-too-short", severity="risk", check=changeover_too_short, since="0.1"),
)
