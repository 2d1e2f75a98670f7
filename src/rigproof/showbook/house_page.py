"""The hand-off page: what one house engineer needs on one sheet, and nothing else.

Nothing private of the band stands on it: no phone but the contact's, no password, no price; and
its notes on venue and show only where the band prints it for itself.
"""

from collections.abc import Iterator, Mapping, Sequence

from rigproof.checks.rule import View
from rigproof.handoff import HandOff, HouseLine
from rigproof.rig import Rig, Show
from rigproof.showbook import house_split, naming
from rigproof.showbook.edition import Edition
from rigproof.showbook.house_means import handed, mixed
from rigproof.showbook.house_power import mains, waking_s
from rigproof.signal.phantom import PhantomLine
from rigproof.wording import ranges

# Common practice, from memory: somebody plays, somebody answers, next.
SECONDS_A_LINE = (15, 20)
_DROPS_SHOWN = 8

Section = dict[str, object]


def page(view: View, hand: HandOff, nights: Sequence[Show], edition: Edition) -> dict[str, object]:
    """What stands on one page; `nights` are the dates on which a usual page counts."""
    venue, rig = hand.venue, view.rig
    show = hand.show
    dates = edition.listed(f"{night.date} {night.name}".strip() for night in nights)
    under = (
        venue.name if show and show.name else "",
        show.date if show else "",
        venue.kind,
        edition.say("hand-off.nights", nights=dates) if dates and not show else "",
    )
    return {
        "under": [{"text": part} for part in under if part],
        "rows": [_row(rig, view.lines, hand, line, edition) for line in hand.lines],
        "sections": [section for section in _sections(view, hand, edition) if section["lines"]],
        "words": {
            **edition.words(
                "hand-off.name",
                "hand-off.microphone",
                "hand-off.phantom",
                "hand-off.level",
                "hand-off.theirs",
                "hand-off.do_not_plug",
                "hand-off.kept_free",
                "hand-off.free",
                "hand-off.out",
                "hand-off.mains_can_kill",
            ),
            "ours": ours(hand, edition),
        },
    }


def nights_of(views: Sequence[View], hand: HandOff) -> list[Show]:
    """The dates on which a hand-off counts: its own show, or all usual ones at its venue."""
    if hand.show is not None:
        return [hand.show]
    differing = {view.show.id for view in views if view.show is not None}
    return [
        show
        for show in views[0].rig.file.shows
        if show.venue == hand.venue.id and show.id not in differing
    ]


def _row(
    rig: Rig,
    phantom: Mapping[str, PhantomLine],
    hand: HandOff,
    line: HouseLine,
    edition: Edition,
) -> dict[str, object]:
    source = line.source
    fed = fed_by(phantom.get(source.id) if source else None, hand, line)
    level = line.level if line.source or line.means == "mix" else ""
    return {
        "number": own_number(line),
        "name": name_of(rig, hand, line, edition),
        "status": line.status,
        "note": line.why if line.status == "held" else "",
        "microphone": naming.microphone(rig, source, edition) if source else "",
        "stand": source.stand if source else "",
        "phantom": edition.say(f"hand-off.{fed}") if fed else "",
        "level": edition.say(f"hand-off.level_{level}") if level else "",
        "theirs": str(line.house_number or ""),
    }


def own_number(line: HouseLine) -> int:
    """A tail by its number; a digital channel by the number it has at our end."""
    if line.means == "mix" and line.house_number is not None:
        return line.house_number
    last = line.sent_from.rpartition(".")[2]
    return int(last) if line.means == "stream" and last.isdigit() else line.number


def name_of(rig: Rig, hand: HandOff, line: HouseLine, edition: Edition) -> str:
    """What is on a line: a source with its side, or a mix of ours with its."""
    if line in hand.tails_beside:
        return edition.say("hand-off.by_tail", name=line.name or edition.say("hand-off.mix"))
    if line.means != "mix":
        return line.name
    mix = rig.mixes.get(line.mix)
    if mix is None:
        return edition.say("hand-off.mix")
    same = [one for one in hand.lines if one.mix == line.mix]
    name = mix.name or mix.id
    if mix.stereo and len(same) == 2:
        return f"{name} {'LR'[same.index(line)]}"
    return name


def fed_by(known: PhantomLine | None, hand: HandOff, line: HouseLine) -> str:
    """Who feeds 48 V to a line that wants it, or that it must stay off: the end of a phrase."""
    word = _phantom(known, line)
    if known is None or not house_split.theirs(hand) or line not in house_split.through(hand):
        return word
    # Their split decides whose 48 V gets to the stage; ours comes behind it.
    return {"must": "us_or_you", "never": "never"}.get(known.need or "", word)


def _phantom(known: PhantomLine | None, line: HouseLine) -> str:
    if known is None or line.means == "mix":
        return ""
    if known.need == "never":
        return "never" if known.house and line.means == "tail" else ""
    if known.need != "must":
        return ""
    ours_, yours = bool(known.feeds), bool(known.house) and line.means == "tail"
    if ours_ and yours:
        return "us_or_you"
    if ours_:
        return "from_us"
    return "from_you" if yours else "nobody"


def ours(hand: HandOff, edition: Edition) -> str:
    """What our column of numbers is called at this kind of desk."""
    means = hand.lines[0].means if hand.lines else "tail"
    if means == "stream" or house_split.theirs(hand):
        return edition.say("hand-off.ours")
    return edition.say("hand-off.line" if means == "mix" else "hand-off.tail")


def _sections(view: View, hand: HandOff, edition: Edition) -> Iterator[Section]:
    say, rig = edition.say, view.rig
    yield _section(say("hand-off.section_handed"), handed(rig, hand, edition))
    if hand.dropped:
        title = say("hand-off.section_short", free=hand.free or 0, n=hand.needed)
        yield _section(title, _short_of_lines(hand, edition), loud=True)
    yield _section(say("hand-off.section_mixed"), mixed(rig, hand, edition))
    yield _section(say("hand-off.section_phantom"), _phantom_words(view, hand, edition))
    yield _section(say("hand-off.section_never"), withheld(rig, hand, edition))
    yield _section(say("hand-off.section_back"), wanted(view, hand, edition))
    yield _section(say("hand-off.section_mains"), mains(rig, hand.venue, edition), caution=True)
    yield _section(say("hand-off.section_dead"), _rack_dead(view, hand, edition), loud=True)
    yield _section(say("hand-off.section_check"), _line_check(rig, hand, edition))
    if hand.drop_order and not hand.dropped:
        yield _section(say("hand-off.section_drop"), drop_order(hand, edition))
    if edition.private:
        notes = (hand.venue.note, hand.show.note if hand.show else "")
        yield _section(say("hand-off.section_note"), [note for note in notes if note])


def _section(
    title: str, lines: Sequence[str], *, loud: bool = False, caution: bool = False
) -> Section:
    return {
        "title": title,
        "lines": [{"said": line} for line in lines if line],
        "loud": loud,
        "caution": caution,
    }


def _short_of_lines(hand: HandOff, edition: Edition) -> list[str]:
    names = [_counted_off(one, edition) for one in _by_source(hand.dropped)]
    said = [edition.say("hand-off.leave_out_these", names=edition.listed(names))]
    if all(line.source is None or line.source.drop is None for line in hand.drop_order):
        said.append(edition.say("hand-off.not_agreed"))  # the names alone decided
    return said


def _counted_off(one: tuple[str, list[HouseLine]], edition: Edition) -> str:
    name, lines = one
    return edition.say("hand-off.stray_name", number=name, name=_tail_ranges(lines))


def drop_order(hand: HandOff, edition: Edition) -> list[str]:
    """What to leave out first where lines are short."""
    if all(line.source is None or line.source.drop is None for line in hand.drop_order):
        return [edition.say("hand-off.no_order")]
    ranked = _by_source(hand.drop_order)[:_DROPS_SHOWN]
    names = ", ".join(_counted_off(one, edition) for one in ranked)
    return [edition.say("hand-off.leave_out", names=names)]


def _by_source(lines: Sequence[HouseLine]) -> list[tuple[str, list[HouseLine]]]:
    """Lines in the order they go, a pair as one."""
    found: dict[str, list[HouseLine]] = {}
    for line in sorted(lines, key=_drop_key):
        if line.source is not None:
            found.setdefault(line.source.name, []).append(line)
    return list(found.items())


def _drop_key(line: HouseLine) -> tuple[int, int]:
    drop = line.source.drop if line.source else None
    return (drop if drop is not None else 10_000, line.number)


def _tail_ranges(lines: Sequence[HouseLine]) -> str:
    return ranges(own_number(line) for line in lines)


def _phantom_words(view: View, hand: HandOff, edition: Edition) -> list[str]:
    if hand.venue.desk.takes in {"mixed", "nothing"}:
        return []
    lines = view.lines
    used = [(line, lines.get(line.source.id)) for line in hand.used if line.source]
    wanting = [(line, known) for line, known in used if known and known.need == "must"]
    if house_split.theirs(hand):
        never = [line for line, known in used if known and known.need == "never"]
        return house_split.phantom_words([line for line, _ in wanting], never, edition)
    by = {
        word: [line for line, known in wanting if _phantom(known, line) == word]
        for word in ("from_us", "us_or_you", "from_you", "nobody")
    }
    said = [
        edition.say(key, numbers=_tail_ranges(by[word]))
        for word, key in (
            ("from_us", "hand-off.we_feed"),
            ("us_or_you", "hand-off.both_feed"),
            ("from_you", "hand-off.you_feed"),
            ("nobody", "hand-off.nobody_feeds"),
        )
        if by[word]
    ]
    bad = [line for line, known in used if known and known.need == "never" and known.house]
    if bad:
        said.append(edition.say("hand-off.never_on", numbers=_tail_ranges(bad)))
    tails = [line for line in hand.used if line.means == "tail"]
    if tails and not any(line.phantom_passes for line in tails):
        said.append(edition.say("hand-off.blocked"))
    return said


def withheld(rig: Rig, hand: HandOff, edition: Edition) -> list[str]:
    """What the house must not plug, and what it does not get."""
    private = [s for s in rig.file.sources if s.private and s.owner != "house"]
    said = []
    stray = [line for line in hand.lines if line.status == "ignore"]
    if stray:
        names = edition.listed(
            edition.say("hand-off.stray_name", number=own_number(line), name=line.name)
            for line in stray
        )
        said.append(edition.say("hand-off.stray", names=names))
    kept = [s.name for s in private if s.id not in {li.source.id for li in stray if li.source}]
    if kept:
        names = edition.listed(dict.fromkeys(kept))
        said.append(edition.say("hand-off.kept_back", names=names))
    return said


def wanted(view: View, hand: HandOff, edition: Edition) -> list[str]:
    """What the house sends back: its talk, and what the stage hears by it."""
    rig, desk = view.rig, hand.venue.desk
    said = []
    for source in rig.file.sources:
        if source.start is None or source.start.gear != "house":
            continue
        if desk.talkback is False:
            said.append(edition.say("hand-off.no_talkback", name=source.name))
        elif source.start.numbers:
            number = source.start.numbers[0]
            said.append(edition.say("hand-off.talkback_on", name=source.name, number=number))
        else:
            said.append(edition.say("hand-off.talkback", name=source.name))
    ears = [person for person in rig.file.people if person.ears is not None]
    wedges = [person.name for person in rig.file.people if person.wedge is not None]
    if ears and not wedges:
        said.append(edition.say("hand-off.no_mixes"))
    elif wedges:
        said.append(edition.say("hand-off.wedges", names=edition.listed(wedges)))
    lead = last_voice(hand)
    if lead is not None and (hand.venue.desk.takes == "tails" or lead in hand.tails_beside):
        number = own_number(lead)
        said.append(edition.say("hand-off.emergency", name=lead.name, number=number))
    return said


def last_voice(hand: HandOff) -> HouseLine | None:
    """The voice that the band would give up last, of those that outlive the rack."""
    alive = {line.number for line in _fates(hand)[0]}
    voices = [
        line
        for line in hand.drop_order
        if line.source and line.source.family == "voices" and line.number in alive
    ]
    return voices[-1] if voices else None


def _rack_dead(view: View, hand: HandOff, edition: Edition) -> list[str]:
    takes, say = hand.venue.desk.takes, edition.say
    if takes == "nothing" or not hand.used:
        return []
    again = waking_s(view.rig, edition)
    back = f" {say('hand-off.comes_back', time=again)}" if again else ""
    if takes == "mixed":
        return [say("hand-off.dead_mixed", back=back)]
    if takes in {"network", "link"}:
        said = [say("hand-off.dead_digital", back=back)]
        alive = [line for line in _fates(hand)[0] if line in hand.tails_beside]
        if alive:
            said.append(say("hand-off.still_there", numbers=_tail_ranges(alive)))
        return said
    if house_split.theirs(hand):
        return [*house_split.rack_dead(hand, edition), say("hand-off.keep_open", back=back)]
    alive, hungry, dead = _fates(hand)
    said = []
    if alive:
        said.append(say("hand-off.still_there", numbers=_tail_ranges(alive)))
    if hungry:
        said.append(say("hand-off.hungry", numbers=_tail_ranges(hungry)))
    if dead:
        names = edition.listed(dict.fromkeys(line.source.name for line in dead if line.source))
        numbers = say("hand-off.numbers_named", numbers=_tail_ranges(dead), names=names)
        said.append(say("hand-off.silent_with", numbers=numbers))
    said.append(say("hand-off.keep_open", back=back))
    return said


def _fates(hand: HandOff) -> tuple[list[HouseLine], list[HouseLine], list[HouseLine]]:
    """Lines that outlive the rack, those that lose 48 V, those that lose their sound."""
    heard = {line.number for line in hand.dead}
    alive = [line for line in hand.used if line.number in heard]
    rest = [line for line in hand.used if line.number not in heard]
    hungry = [line for line in rest if line.works_off and line.means == "tail"]
    dead = [line for line in rest if line not in hungry]
    return alive, hungry, dead


def _line_check(rig: Rig, hand: HandOff, edition: Edition) -> list[str]:
    count = len(hand.used)
    if not count or hand.venue.desk.takes == "mixed":
        return []
    low, high = (f"{count * seconds / 60:.0f}" for seconds in SECONDS_A_LINE)
    owner = naming.person(rig, rig.about.patch_owner)
    took = edition.say("hand-off.check_takes", n=count, low=low, high=high)
    caller = (
        edition.say("hand-off.caller", name=owner) if owner else edition.say("hand-off.no_caller")
    )
    said = [f"{took} {caller}"]
    if hand.venue.changeover_min is not None:
        minutes = edition.number(hand.venue.changeover_min)
        said.append(edition.say("hand-off.changeover", minutes=minutes))
    return said
