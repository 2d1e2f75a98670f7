"""The hand-off page: what one house engineer needs on one sheet, and nothing else.

Nothing private of the band stands on it: no phone but the contact's, no password, no price.
"""

from collections.abc import Iterator, Mapping, Sequence

from rigproof.checks.rule import View
from rigproof.handoff import HandOff, HouseLine
from rigproof.rig import Rig, Show
from rigproof.showbook import house_split, naming
from rigproof.showbook.house_means import handed, mixed
from rigproof.showbook.house_power import mains, waking_s
from rigproof.signal.phantom import PhantomLine
from rigproof.wording import counted, listed, ranges

# Common practice, from memory: somebody plays, somebody answers, next.
_SECONDS_A_LINE = (15, 20)
_DROPS_SHOWN = 8

Section = dict[str, object]


def pages(views: Sequence[View]) -> list[dict[str, object]]:
    """A page for each venue, then one for each show that differs from the usual rig."""
    usual = views[0]
    differing = {view.show.id for view in views if view.show is not None}
    found = []
    for hand in usual.hand_offs:
        nights = [
            show
            for show in usual.rig.file.shows
            if show.venue == hand.venue.id and show.id not in differing
        ]
        found.append(_page(usual, hand, nights))
    for view in views[1:]:
        found += [_page(view, hand, [view.show] if view.show else []) for hand in view.hand_offs]
    return found


def _page(view: View, hand: HandOff, nights: Sequence[Show]) -> dict[str, object]:
    venue, rig = hand.venue, view.rig
    show = hand.show
    return {
        "title": f"Hand-off: {(show.name if show else '') or venue.name}",
        "venue": venue.name if show and show.name else "",
        "kind": venue.kind,
        "date": show.date if show else "",
        "nights": "" if show else listed(f"{s.date} {s.name}".strip() for s in nights),
        "contact": ", ".join(part for part in (venue.contact, venue.phone) if part),
        "takes": venue.desk.takes,
        "rows": [_row(rig, view.lines, hand, line) for line in hand.lines],
        "numbers": _numbers_words(hand),
        "sections": [section for section in _sections(view, hand) if section["lines"]],
    }


def _row(
    rig: Rig, phantom: Mapping[str, PhantomLine], hand: HandOff, line: HouseLine
) -> dict[str, object]:
    source = line.source
    name = line.name
    if line.means == "mix":
        name = _mix_name(rig, hand, line)
    return {
        "number": _own_number(line),
        "name": name,
        "status": line.status,
        "note": line.why if line.status == "held" else "",
        "microphone": naming.microphone(rig, source) if source else "",
        "stand": source.stand if source else "",
        "phantom": _fed_by(phantom.get(source.id) if source else None, hand, line),
        "level": line.level if line.source or line.means == "mix" else "",
        "theirs": str(line.house_number or ""),
    }


def _own_number(line: HouseLine) -> int:
    """A tail by its number; a digital channel by the number it has at our end."""
    if line.means == "mix" and line.house_number is not None:
        return line.house_number
    last = line.sent_from.rpartition(".")[2]
    return int(last) if line.means == "stream" and last.isdigit() else line.number


def _mix_name(rig: Rig, hand: HandOff, line: HouseLine) -> str:
    mix = rig.mixes.get(line.mix)
    if mix is None:
        return "mix"
    same = [one for one in hand.lines if one.mix == line.mix]
    name = mix.name or mix.id
    if mix.stereo and len(same) == 2:
        return f"{name} {'LR'[same.index(line)]}"
    return name


def _fed_by(known: PhantomLine | None, hand: HandOff, line: HouseLine) -> str:
    word = _phantom(known, line)
    if known is None or not house_split.theirs(hand) or line not in house_split.through(hand):
        return word
    # Their split decides whose 48 V gets to the stage; ours comes behind it.
    return {"must": "us or you", "never": "never"}.get(known.need or "", word)


def _phantom(known: PhantomLine | None, line: HouseLine) -> str:
    """Who feeds 48 V to a line that wants it, or that it must stay off."""
    if known is None or line.means == "mix":
        return ""
    if known.need == "never":
        return "never" if known.house and line.means == "tail" else ""
    if known.need != "must":
        return ""
    ours, yours = bool(known.feeds), bool(known.house) and line.means == "tail"
    if ours and yours:
        return "us or you"
    if ours:
        return "from us"
    return "from you" if yours else "nobody"


def _numbers_words(hand: HandOff) -> dict[str, str]:
    """What the two columns of numbers are called at this kind of desk."""
    ours = {"tail": "Tail", "stream": "Ours", "mix": "Line"}
    means = hand.lines[0].means if hand.lines else "tail"
    return {"ours": "Ours" if house_split.theirs(hand) else ours[means], "theirs": "Yours"}


def _sections(view: View, hand: HandOff) -> Iterator[Section]:
    yield _section("We hand over", handed(view.rig, hand))
    if hand.dropped:
        title = f"You have {counted(hand.free or 0, 'line')}, we bring {hand.needed}"
        yield _section(title, _short_of_lines(hand), loud=True)
    yield _section("In the mix", mixed(view.rig, hand))
    yield _section("48 V", _phantom_words(view, hand))
    yield _section("Never on your lines", _withheld(view.rig, hand))
    yield _section("We want back", _wanted(view, hand))
    yield _section("Mains", mains(view.rig, hand.venue), caution=True)
    yield _section("If our rack dies", _rack_dead(view, hand), loud=True)
    yield _section("Line check", _line_check(view.rig, hand))
    if hand.drop_order and not hand.dropped:
        yield _section("Short of lines?", _drop_order(hand))
    if hand.venue.note or (hand.show and hand.show.note):
        notes = (hand.venue.note, hand.show.note if hand.show else "")
        yield _section("Note", [note for note in notes if note])


def _section(
    title: str, lines: Sequence[str], *, loud: bool = False, caution: bool = False
) -> Section:
    return {
        "title": title,
        "lines": [{"said": line} for line in lines if line],
        "loud": loud,
        "caution": caution,
    }


def _short_of_lines(hand: HandOff) -> list[str]:
    names = [f"{n} ({_tail_ranges(lines)})" for n, lines in _by_source(hand.dropped)]
    return [f"Leave out, in this order: {listed(names)}."]


def _drop_order(hand: HandOff) -> list[str]:
    ranked = _by_source(hand.drop_order)
    if all(line.source is None or line.source.drop is None for line in hand.drop_order):
        return ["Ask us what to leave out: the band has not agreed on an order."]
    names = [f"{n} ({_tail_ranges(lines)})" for n, lines in ranked[:_DROPS_SHOWN]]
    return [f"Leave out in this order: {', '.join(names)}."]


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
    return ranges(_own_number(line) for line in lines)


def _phantom_words(view: View, hand: HandOff) -> list[str]:
    if hand.venue.desk.takes in {"mixed", "nothing"}:
        return []
    lines = view.lines
    used = [(line, lines.get(line.source.id)) for line in hand.used if line.source]
    wanting = [(line, known) for line, known in used if known and known.need == "must"]
    if house_split.theirs(hand):
        never = [line for line, known in used if known and known.need == "never"]
        return house_split.phantom_words([line for line, _ in wanting], never)
    by = {
        word: [line for line, known in wanting if _phantom(known, line) == word]
        for word in ("from us", "us or you", "from you", "nobody")
    }
    said = []
    if by["from us"]:
        said.append(f"Our desk feeds {_tail_ranges(by['from us'])}. You need not switch it on.")
    if by["us or you"]:
        said.append(f"We feed {_tail_ranges(by['us or you'])}; yours gets there too: agree on one.")
    if by["from you"]:
        said.append(f"Please switch on {_tail_ranges(by['from you'])}.")
    if by["nobody"]:
        said.append(f"{_tail_ranges(by['nobody'])} want it and nobody feeds it: ask us.")
    if any(known and known.need == "never" and known.house for _, known in used):
        bad = [ln for ln, known in used if known and known.need == "never" and known.house]
        said.append(f"Never on {_tail_ranges(bad)}.")
    tails = [line for line in hand.used if line.means == "tail"]
    if tails and not any(line.phantom_passes for line in tails):
        said.append("Yours does not come through our split, whatever your switch says.")
    return said


def _withheld(rig: Rig, hand: HandOff) -> list[str]:
    private = [s for s in rig.file.sources if s.private and s.owner != "house"]
    said = []
    stray = [line for line in hand.lines if line.status == "ignore"]
    if stray:
        names = listed(f"{_own_number(line)} ({line.name})" for line in stray)
        said.append(f"DO NOT PLUG {names}: for the band only.")
    kept = [s.name for s in private if s.id not in {li.source.id for li in stray if li.source}]
    if kept:
        names = listed(dict.fromkeys(kept))
        said.append(f"We do not send {names}. If you hear one of them, pull that line.")
    return said


def _wanted(view: View, hand: HandOff) -> list[str]:
    rig, desk = view.rig, hand.venue.desk
    said = []
    for source in rig.file.sources:
        if source.start is None or source.start.gear != "house":
            continue
        if desk.talkback is False:
            said.append(f"{source.name}: you have none, so come to the stage and speak.")
        else:
            numbers = source.start.numbers
            line = f" on line {numbers[0]}" if numbers else ""
            said.append(f"{source.name}{line}, line level: it goes to all ears, never to the PA.")
    ears = [person for person in rig.file.people if person.ears is not None]
    wedges = [person.name for person in rig.file.people if person.wedge is not None]
    if ears and not wedges:
        said.append("No mixes, no wedges: we make our own.")
    elif wedges:
        said.append(f"Wedges for {listed(wedges)}.")
    lead = _last_voice(hand)
    if lead is not None and hand.venue.desk.takes == "tails":
        said.append(
            f"For an emergency only: one wedge with {lead.name} ({_own_number(lead)}), muted."
        )
    return said


def _last_voice(hand: HandOff) -> HouseLine | None:
    """The voice that the band would give up last, of those that outlive the rack."""
    alive = {line.number for line in _fates(hand)[0]}
    voices = [
        line
        for line in hand.drop_order
        if line.source and line.source.family == "voices" and line.number in alive
    ]
    return voices[-1] if voices else None


def _rack_dead(view: View, hand: HandOff) -> list[str]:
    takes = hand.venue.desk.takes
    if takes == "nothing" or not hand.used:
        return []
    again = waking_s(view.rig)
    back = f" It takes {again} to come back." if again else ""
    if takes == "mixed":
        return [f"You get nothing more: the mix is made in it. Mute its lines.{back}"]
    if takes in {"network", "link"}:
        return [f"All channels go silent at once: mute them, we unmute by word.{back}"]
    if house_split.theirs(hand):
        left = house_split.rack_dead(hand)
        return [*left, f"Keep what is there open; we have no ears then.{back}"]
    alive, hungry, dead = _fates(hand)
    said = []
    if alive:
        said.append(f"Still there: {_tail_ranges(alive)}.")
    if hungry:
        said.append(f"Silent, our 48 V is gone: {_tail_ranges(hungry)}.")
    if dead:
        names = listed(dict.fromkeys(line.source.name for line in dead if line.source))
        said.append(f"Silent with the rack: {_tail_ranges(dead)} ({names}).")
    said.append(f"Keep what is there open; we have no ears then.{back}")
    return said


def _fates(hand: HandOff) -> tuple[list[HouseLine], list[HouseLine], list[HouseLine]]:
    """Lines that outlive the rack, those that lose 48 V, those that lose their sound."""
    heard = {line.number for line in hand.dead}
    alive = [line for line in hand.used if line.number in heard]
    rest = [line for line in hand.used if line.number not in heard]
    hungry = [line for line in rest if line.works_off and line.means == "tail"]
    dead = [line for line in rest if line not in hungry]
    return alive, hungry, dead


def _line_check(rig: Rig, hand: HandOff) -> list[str]:
    count = len(hand.used)
    if not count or hand.venue.desk.takes == "mixed":
        return []
    low, high = (count * seconds / 60 for seconds in _SECONDS_A_LINE)
    owner = naming.person(rig, rig.about.patch_owner)
    caller = f"{owner} calls, from line 1 up." if owner else "Nobody is named to call it."
    said = [
        f"About {low:.0f} to {high:.0f} min: {counted(count, 'line')} at 15 to 20 s "
        f"(common practice, from memory). {caller}"
    ]
    if hand.venue.changeover_min is not None:
        said.append(f"Changeover: {naming.number(hand.venue.changeover_min)} min.")
    return said
