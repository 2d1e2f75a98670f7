"""The advance sheet: questions for the house, what is answered, and what contradicts."""

from collections.abc import Iterator
from datetime import date, timedelta

import msgspec

from rigproof.checks.rule import View
from rigproof.handoff import HandOff
from rigproof.patch import PatchLists
from rigproof.rig import Rig, Show
from rigproof.rig.ref import HOUSE
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    Block,
    Cell,
    cell,
    column,
    heading,
    points,
    remark,
    roomy,
    say,
)
from rigproof.showbook.drawings.ground import both
from rigproof.showbook.house_means import carriers
from rigproof.showbook.house_page import SECONDS_A_LINE, own_number
from rigproof.showbook.papers import Order, Sheet
from rigproof.wording import ranges
from rigproof.wording.connectors import connector

# Common practice, no source: about a month and a week ahead.
_FIRST, _AGAIN = timedelta(days=28), timedelta(days=7)


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """One question, what we count on, and what the house said of it for this date."""

    question: str
    count_on: str = ""
    answer: str = ""


class Date(msgspec.Struct, frozen=True, kw_only=True):
    """What is asked about: a show, or a venue that has none yet."""

    order: Order
    view: View
    hand: HandOff
    show: Show | None

    def say(self, key: str, /, **values: object) -> str:
        return self.order.say(key, **values)

    @property
    def rig(self) -> Rig:
        return self.view.rig


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for each show in the order of its date, then one for each venue without any."""
    shows = sorted(order.rig.file.shows, key=lambda show: (show.date, show.id))
    dated = {show.venue for show in shows}
    for show in shows:
        if not order.venues or show.venue in order.venues:
            view = next((v for v in order.verdict.views if _is(v, show)), order.view)
            yield _sheet(_date(order, view, show.venue, show))
    for venue in order.rig.file.venues:
        if venue.id not in dated and (not order.venues or venue.id in order.venues):
            yield _sheet(_date(order, order.view, venue.id, None))


def _is(view: View, show: Show) -> bool:
    return view.show is not None and view.show.id == show.id


def _date(order: Order, view: View, venue: str, show: Show | None) -> Date:
    hand = next(one for one in view.hand_offs if one.venue.id == venue)
    return Date(order=order, view=view, hand=hand, show=show)


def _sheet(on: Date) -> Sheet:
    where = on.hand.venue.name
    if on.show is not None:
        where = f"{on.show.date}, {where}"
    contact = on.rig.about.contact
    who = contact.name if contact else ""
    return Sheet(
        id=f"advance-{on.show.id if on.show else on.hand.venue.id}",
        title=on.say("advance.title_at", where=where),
        lead=on.say("advance.lead", who=who) if who else on.say("advance.lead_nobody"),
        blocks=tuple(_blocks(on)),
    )


def _blocks(on: Date) -> Iterator[Block]:
    answers = on.show.answers if on.show else None
    asked = [*_desk(on), *_stage(on)]
    answered = any(one.answer for one in asked)
    titles = [
        column(on.say("advance.question"), 3),
        column(on.say("advance.count_on"), 1.5),
        *([column(on.say("advance.answered"), 1.1)] if answered else []),
        column(on.say("advance.yes"), 0, look="tick"),
        column(on.say("advance.no"), 0, look="tick"),
        column(on.say("advance.instead"), 1.6, look="write"),
    ]
    yield roomy(titles, [_row(one, answered=answered) for one in asked])
    contact = on.rig.about.contact
    if contact is not None and (contact.mail or contact.phone):
        yield say(on.say("advance.back_to", reach=contact.mail or contact.phone))
    if answers is not None:
        when = ", ".join(part for part in (answers.date, answers.by) if part)
        yield heading(
            on.say("advance.answers_of", who=when) if when else on.say("advance.answers_given")
        )
        unfit = list(_unfit(on))
        yield points(unfit) if unfit else say(on.say("advance.fits"))
        if answers.note and on.order.edition.private:
            yield say(answers.note)
    if on.show is not None and on.order.edition.private:
        yield heading(on.say("advance.send"))
        yield points(_sending(on, on.show))


def _row(one: Asked, *, answered: bool) -> list[Cell]:
    said = [remark(one.answer)] if answered else []
    return [remark(one.question), remark(one.count_on), *said, cell(""), cell(""), cell("")]


def _desk(on: Date) -> Iterator[Asked]:
    """What concerns the house's desk and box."""
    say_, desk, edition = on.say, on.hand.venue.desk, on.order.edition
    told = on.show.answers if on.show else None
    wanted = on.hand.needed
    yield Asked(question=say_("advance.takes"), count_on=say_(f"advance.takes_{desk.takes}"))
    if desk.takes in {"tails", "network", "link"}:
        free = told.lines_free if told else None
        yield Asked(
            question=say_("advance.lines"),
            count_on=say_("advance.lines_want", n=wanted),
            answer=say_("advance.lines_want", n=free) if free is not None else "",
        )
        tested = told.lines_tested if told else None
        yield Asked(
            question=say_("advance.tested"),
            count_on=say_("advance.yes_please"),
            answer=_yes_no(on, tested),
        )
    plug = connector(desk.connector, edition.language) if desk.connector else ""
    yield Asked(question=say_("advance.plug"), count_on=plug)
    if desk.takes == "tails":
        whose = "advance.split_theirs" if desk.own_split else "advance.split_ours"
        yield Asked(question=say_("advance.split"), count_on=say_(whose))
        phantom = told.phantom if told else None
        yield Asked(
            question=say_("advance.phantom"),
            count_on=say_("advance.phantom_off"),
            answer=say_(f"advance.phantom_{phantom}") if phantom else "",
        )
    usual = on.order.rig.venues[on.hand.venue.id].desk
    side = told.side if told else None
    yield Asked(
        question=say_("advance.side"),
        count_on=naming.side(usual.side, edition) if usual.side else "",
        answer=naming.side(side, edition) if side else "",
    )
    shortest = _shortest(on)
    far = told.distance_m if told else None
    yield Asked(
        question=say_("advance.distance"),
        count_on=say_("advance.distance_most", length=edition.length(shortest))
        if shortest is not None
        else "",
        answer=edition.length(far) if far is not None else "",
    )
    if _talk_from_house(on):
        talkback = told.talkback if told else None
        yield Asked(
            question=say_("advance.talkback"),
            count_on=say_("advance.yes_please"),
            answer=_yes_no(on, talkback),
        )
    mixes = told.mixes_offered if told else None
    yield Asked(
        question=say_("advance.mixes"),
        count_on=say_("advance.mixes_want"),
        answer=str(mixes) if mixes is not None else "",
    )
    yield Asked(
        question=say_("advance.desks"),
        count_on=say_("advance.desks_one" if desk.only_desk else "advance.desks_two"),
    )
    yield Asked(question=say_("advance.listener"), count_on=say_("advance.one_person"))


def _stage(on: Date) -> Iterator[Asked]:
    """What concerns the place, the power and the day."""
    say_, venue, edition = on.say, on.hand.venue, on.order.edition
    told = on.show.answers if on.show else None
    power = on.rig.file.power
    volts = venue.volts_v or (power.volts_v if power else None)
    amps = power.circuit_a if power else None
    yield Asked(
        question=say_("advance.mains"),
        count_on=say_("advance.mains_want", volts=edition.number(volts), amps=edition.number(amps))
        if volts is not None and amps is not None
        else say_("advance.mains_any"),
    )
    changeover = told.changeover_min if told else None
    high = _check_min(on)
    yield Asked(
        question=say_("advance.changeover"),
        count_on=say_("advance.minutes_least", minutes=f"{high:.0f}"),
        answer=say_("advance.minutes", minutes=edition.number(changeover))
        if changeover is not None
        else "",
    )
    yield Asked(question=say_("advance.off_stage"), count_on=say_("advance.yes_please"))
    size = both(edition, *(float(side) for side in venue.stage_m)) if venue.stage_m else ""
    yield Asked(question=say_("advance.stage"), count_on=size)
    yield Asked(question=say_("advance.way_in"), count_on=say_("advance.yes_please"))
    used_mhz = [float(r.frequency_mhz) for r in on.rig.file.radio if r.frequency_mhz is not None]
    if used_mhz:
        mhz = ", ".join(edition.number(one, 3) for one in sorted(used_mhz))
        yield Asked(question=say_("advance.radio"), count_on=say_("advance.radio_want", mhz=mhz))
    yield Asked(question=say_("advance.contact"))


def _yes_no(on: Date, said: bool | None) -> str:
    if said is None:
        return ""
    return on.say("advance.yes" if said else "advance.no")


def _shortest(on: Date) -> float | None:
    """The shortest of the tails in the house's hands, in metres."""
    lengths = [
        float(lead.length_m)
        for lead in carriers(on.rig, on.hand)
        if lead.to.gear == HOUSE and lead.length_m is not None
    ]
    return min(lengths, default=None)


def _check_min(on: Date) -> float:
    """What the line check takes at most: each of our lines, whether it goes to the house or not."""
    used = sum(row.source is not None for row in PatchLists(on.rig).channels)
    return used * SECONDS_A_LINE[1] / 60


def _talk_from_house(on: Date) -> bool:
    return any(s.start is not None and s.start.gear == HOUSE for s in on.rig.file.sources)


def _unfit(on: Date) -> Iterator[str]:
    """What the answers contradict: our lines, our leads, our time, or what we wrote before."""
    told = on.show.answers if on.show else None
    if told is None:
        return
    say_, edition, hand = on.say, on.order.edition, on.hand
    if hand.dropped and told.lines_free is not None:
        names = dict.fromkeys(line.source.name for line in hand.dropped if line.source)
        yield say_(
            "advance.unfit_lines",
            free=told.lines_free,
            needed=hand.needed,
            names=edition.listed(names),
        )
    if told.lines_tested is False:
        yield say_("advance.unfit_untested")
    if told.phantom == "on":
        lines = on.view.lines
        bad = [
            own_number(line)
            for line in hand.used
            if line.source and (known := lines.get(line.source.id)) and known.need == "never"
            if line.phantom_passes
        ]
        if bad:
            yield say_("advance.unfit_phantom", numbers=ranges(bad))
    if told.talkback is False and _talk_from_house(on):
        yield say_("advance.unfit_talkback")
    shortest = _shortest(on)
    if told.distance_m is not None and shortest is not None and told.distance_m > shortest:
        yield say_(
            "advance.unfit_distance",
            far=edition.length(told.distance_m),
            length=edition.length(shortest),
        )
    usual = on.order.rig.venues[hand.venue.id].desk
    if told.side and usual.side and told.side != usual.side:
        yield say_(
            "advance.unfit_side",
            ours=naming.side(usual.side, edition),
            theirs=naming.side(told.side, edition),
        )
    if told.changeover_min is not None and told.changeover_min < _check_min(on):
        yield say_(
            "advance.unfit_time",
            minutes=edition.number(told.changeover_min),
            high=f"{_check_min(on):.0f}",
        )


def _sending(on: Date, show: Show) -> Iterator[str]:
    """When it is to go out, when it went, and whether they hold this version."""
    try:
        day = date.fromisoformat(show.date)
    except ValueError:
        pass
    else:
        first, again = (day - before for before in (_FIRST, _AGAIN))
        yield on.say("advance.send_on", month=first.isoformat(), week=again.isoformat())
    for sent in show.sent:
        key = "advance.sent" if sent.version else "advance.sent_undated_version"
        yield on.say(key, date=sent.date, version=sent.version)
    last = show.sent[-1].version if show.sent else ""
    ours = on.rig.about.version
    if not show.sent:
        yield on.say("advance.not_sent")
    elif last and ours and last != ours:
        yield on.say("advance.sent_old", version=last, ours=ours)
