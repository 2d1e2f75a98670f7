"""The change sheet: what is another now, which pages in other people's hands to replace."""

from collections.abc import Iterator, Sequence

from rigproof.checks.verdict import check
from rigproof.rigfile.differences import Difference
from rigproof.showbook import naming
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    cell,
    column,
    facts,
    heading,
    numbers,
    points,
    remark,
    run,
    say,
    table,
)
from rigproof.showbook.changes import (
    Changes,
    Figure,
    HouseLines,
    Move,
    Night,
    Page,
    changes,
    entry_name,
    headline,
    section_name,
    told,
)
from rigproof.showbook.edition import Reader
from rigproof.showbook.labels import KINDS
from rigproof.showbook.papers import Order, Sheet
from rigproof.signal import words

# What a stand-in may see of the file itself; people's entries hold telephone numbers.
_OF_THE_DEPUTY = frozenset({"sources", "groups", "patch", "mixes", "feeds"})
_MANY_FINDINGS = 20
_LABELS_A_RUN = 30  # titles that stay within what a run of text holds
_PAGES_A_CELL = 5  # titles that stay within what a cell holds


def sheets(order: Order) -> Iterator[Sheet]:
    """One sheet for the band or a deputy, one for each house whose lines or pages changed."""
    if order.earlier is None:
        return
    found = changes(check(order.earlier), order)
    if not found:
        return
    reader = order.edition.reader
    if reader == "house":
        yield from _houses(order, found)
    elif reader in {"band", "deputy"}:
        blocks = _band(order, found) if reader == "band" else _deputy(order, found)
        yield Sheet(
            id="changes",
            title=order.say("changes.title_since", version=_version(order)),
            lead=headline(order.edition, found),
            blocks=tuple(blocks),
        )


def _version(order: Order) -> str:
    assert order.earlier is not None
    about = order.earlier.about
    if about.version:
        return order.say("paper.version", version=about.version)
    return about.date or order.say("changes.earlier")


def _band(order: Order, found: Changes) -> Iterator[Block]:
    yield facts(
        [
            (order.say("changes.fact_moved"), str(sum(len(n.moves) for n in found.nights)), ""),
            (order.say("changes.fact_pages"), str(len(found.pages)), ""),
            (order.say("changes.fact_labels"), str(len(found.labels.to_print)), ""),
            (
                order.say("changes.fact_findings"),
                f"+{len(found.new)} / \u2212{len(found.gone)}",
                "",
            ),
        ]
    )
    if found.same_version:
        yield say(order.say("changes.same_version", version=order.rig.about.version or DASH))
    yield from _nights(order, found)
    yield from _pages(order, found.pages)
    yield from _labels(order, found)
    yield from _entries(order, found, found.entries)
    yield from _figures(order, found.figures)
    yield from _findings(order, found)


def _deputy(order: Order, found: Changes) -> Iterator[Block]:
    yield from _nights(order, found)
    yield from _pages(order, [page for page in found.pages if "deputy" in page.readers])
    yield from _entries(order, found, [e for e in found.entries if e.section in _OF_THE_DEPUTY])


def _houses(order: Order, found: Changes) -> Iterator[Sheet]:
    """What a house must know: its lines by number, and the pages to put in place of others."""
    theirs = [page for page in found.pages if "house" in page.readers]
    for venue in order.rig.file.venues:
        if order.venues and venue.id not in order.venues:
            continue
        nights = [
            (night, house)
            for night in found.nights
            for house in night.houses
            if house.venue == venue.id
        ]
        pages = [page for page in theirs if _is_of(order, page, venue.id)]
        if not nights and not pages:
            continue
        blocks: list[Block] = []
        for night, house in nights:
            blocks += _house(order, found, night, house, named=len(nights) > 1)
        if not nights:
            blocks.append(say(order.say("changes.no_line")))
        blocks += _pages(order, pages)
        yield Sheet(
            id=f"changes-{venue.id}",
            title=order.say("changes.title_at", where=venue.name, version=_version(order)),
            lead=order.say("changes.house_lead"),
            blocks=tuple(blocks),
        )


def _is_of(order: Order, page: Page, venue: str) -> bool:
    """Whether a page is for this venue: it names it, or a show there, or no venue at all."""
    shows = {show.id: show.venue for show in order.rig.file.shows}
    places = {page.sheet.removeprefix(f"{page.paper}-")}
    of = {shows.get(place, place) for place in places}
    venues = set(order.rig.venues)
    return venue in of or not of & venues


def _nights(order: Order, found: Changes) -> Iterator[Block]:
    for night in found.nights:
        name = _night_name(order, found, night)
        if night.moves:
            yield heading(order.say("changes.moves", night=name))
            yield _moves(order, night.moves)
        if night.added:
            yield heading(order.say("changes.added", night=name))
            yield _moves(order, night.added)
        if night.removed:
            yield heading(order.say("changes.removed", night=name))
            yield _moves(order, night.removed)
        for house in night.houses:
            yield from _house(order, found, night, house, named=True)


def _night_name(order: Order, found: Changes, night: Night) -> str:
    for view in found.after.views:
        if view.show is not None and view.show.id == night.show:
            return naming.show(view, order.edition)
    return order.say("changes.every_night")


def _moves(order: Order, moves: Sequence[Move]) -> Block:
    return table(
        [
            column(order.say("changes.source"), 1.6),
            column(order.say("changes.where"), 1.8),
            column(order.say("changes.before"), 1.2),
            column(order.say("changes.now"), 1.2),
        ],
        [
            [
                cell(move.name),
                remark(_spot(order, move)),
                remark(_number(order, move, move.before, earlier=True)),
                remark(_number(order, move, move.after, earlier=False)),
            ]
            for move in moves
        ],
    )


def _spot(order: Order, move: Move) -> str:
    if move.spot.venue:
        venue = order.rig.venues.get(move.spot.venue)
        return order.say("changes.at_house", where=venue.name if venue else move.spot.venue)
    return order.say(f"changes.at_{move.spot.what}")


def _number(order: Order, move: Move, said: str, *, earlier: bool) -> str:
    if not said:
        return DASH
    if move.spot.what != "socket":
        return said
    rig = order.earlier if earlier and order.earlier is not None else order.rig
    known = said.partition(".")[0] in rig.gear
    return words.place(rig if known else order.rig, said, order.edition.language)


def _house(
    order: Order, found: Changes, night: Night, house: HouseLines, *, named: bool
) -> Iterator[Block]:
    where = order.rig.venues[house.venue].name
    if night.show:
        where = _night_name(order, found, night)
    if named:
        yield heading(order.say("changes.house", where=where))
    if house.needed[0] != house.needed[1]:
        yield say(order.say("changes.needed", before=house.needed[0], n=house.needed[1]))
    if house.lines:
        yield table(
            [
                numbers(order.say("changes.line"), 0.5),
                column(order.say("changes.before"), 2),
                column(order.say("changes.now"), 2),
            ],
            [
                [cell(str(number)), cell(before or DASH), cell(after or DASH)]
                for number, before, after in house.lines
            ],
        )
    if house.dropped:
        names = order.edition.listed(dict.fromkeys(house.dropped))
        yield say(order.say("changes.dropped", names=names))


def _pages(order: Order, pages: Sequence[Page]) -> Iterator[Block]:
    """A house gets a line for each page; for us, those of the same hands stand together."""
    yield heading(order.say("changes.pages"))
    if not pages:
        yield say(order.say("changes.no_page"))
        return
    if order.edition.reader == "house":
        columns = [column(order.say("changes.page"), 2.4), column(order.say("changes.do"), 1.4)]
        rows = [[remark(page.title), remark(_to_do(order, page))] for page in pages]
        yield table(columns, rows)
        return
    together: dict[tuple[str, str], list[str]] = {}
    for page in pages:
        hands = _readers(order, page.readers)
        together.setdefault((hands, _to_do(order, page)), []).append(page.title)
    yield table(
        [
            column(order.say("changes.held_by"), 1),
            column(order.say("changes.do"), 1),
            column(order.say("changes.page"), 4),
        ],
        [
            [cell(hands), cell(to_do), Cell(note="; ".join(some[start : start + _PAGES_A_CELL]))]
            for (hands, to_do), some in together.items()
            for start in range(0, len(some), _PAGES_A_CELL)
        ],
    )


def _to_do(order: Order, page: Page) -> str:
    return order.say(f"changes.page_{page.what}")


def _readers(order: Order, readers: Sequence[Reader]) -> str:
    return ", ".join(order.say(f"changes.reader_{reader}") for reader in readers)


def _labels(order: Order, found: Changes) -> Iterator[Block]:
    for key, labels in (
        ("changes.labels_print", found.labels.to_print),
        ("changes.labels_off", found.labels.gone),
    ):
        if labels:
            yield heading(order.say(key))
        for kind in KINDS:
            titles = list(dict.fromkeys(x.title for x in labels if x.kind == kind))
            for start in range(0, len(titles), _LABELS_A_RUN):
                some = "; ".join(titles[start : start + _LABELS_A_RUN])
                yield run(f"{order.say(f'labels.{kind}')}: {some}", "")


def _entries(order: Order, found: Changes, entries: Sequence[Difference]) -> Iterator[Block]:
    if not entries:
        return
    yield heading(order.say("changes.entries"))
    rows: list[list[Cell]] = []
    for one in entries:
        name = entry_name(one, found.before.view.stated, found.after.view.stated)
        kind = section_name(order.edition, one.section)
        what = order.say(f"changes.what_{one.what}")
        for place, line in enumerate(told(order.edition, one) or ("",)):
            # A line for each value: joined they would be more than a cell holds.
            head = [cell(kind), remark(name), cell(what)] if place == 0 else [cell("")] * 3
            rows.append([*head, remark(line)])
    yield table(
        [
            column(order.say("changes.section"), 1),
            column(order.say("changes.entry"), 1.8),
            column(order.say("changes.happened"), 0.9),
            column(order.say("changes.details"), 3),
        ],
        rows,
    )


def _figures(order: Order, figures: Sequence[Figure]) -> Iterator[Block]:
    if not figures:
        return
    yield heading(order.say("changes.figures"))
    yield table(
        [
            column(order.say("changes.figure"), 2.4),
            numbers(order.say("changes.before"), 1),
            numbers(order.say("changes.now"), 1),
        ],
        [
            [
                cell(order.say(f"changes.fig_{figure.what}")),
                cell(_sum(order, figure.before, figure.unit)),
                cell(_sum(order, figure.after, figure.unit)),
            ]
            for figure in figures
        ],
    )


def _sum(order: Order, value: float | None, unit: str) -> str:
    if value is None:
        return DASH
    if unit == "kg":
        return order.edition.mass(value)
    text = order.edition.number(value)
    return f"{text} {unit}" if unit else text


def _findings(order: Order, found: Changes) -> Iterator[Block]:
    for findings, key in (
        (found.new, "changes.findings_new"),
        (found.gone, "changes.findings_gone"),
    ):
        if findings:
            yield heading(order.say(key, n=len(findings)))
            yield points(order.edition.tell(one.says) for one in findings[:_MANY_FINDINGS])
            if len(findings) > _MANY_FINDINGS:
                yield say(order.say("changes.more", n=len(findings) - _MANY_FINDINGS))
