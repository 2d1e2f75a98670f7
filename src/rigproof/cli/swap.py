"""Put another box, or other earphones, in a thing's place in thought: what changes, what to buy."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Part, Row, Table, Tone, working

if TYPE_CHECKING:
    from rigproof.checks.rule import Finding
    from rigproof.checks.swap import Comparison, EarChange, EarSide, Thing
    from rigproof.rig import GearType, Rig
    from rigproof.rigfile.edit import Edit

_FORM = "THING=TYPE, for example amp=headphone-amp-4-quiet or ann.earphones=earphones-dual"
_LOWEST_SPL, _HIGHEST_SPL = 50.0, 105.0
# What can stand behind the name of a person or a source.
_PARTS = {"earphones": "earphone", "mic": "microphone", "di": "di"}


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof swap` takes."""
    parser.add_argument("rig", metavar="RIG", help="a folder or its file")
    parser.add_argument(
        "swaps",
        metavar="THING=TYPE",
        nargs="+",
        help="a box (amp=...), a person's earphones (ann.earphones=...), "
        "a source's microphone or DI (kick.mic=..., bass.di=...)",
    )
    parser.add_argument(
        "--level",
        metavar="DB",
        type=float,
        default=85.0,
        help="how loud both are compared, in dB SPL at the ear; 85 when left out",
    )


def run(asked: Namespace) -> Answer:
    """Swap in memory, judge both, show the difference. No file is changed."""
    if not _LOWEST_SPL <= asked.level <= _HIGHEST_SPL:
        raise CannotRun(
            Fault(
                f"--level {asked.level:g} cannot be meant.",
                f"Give {_LOWEST_SPL:g} to {_HIGHEST_SPL:g} dB SPL.",
            )
        )
    with working("Comparing"):
        from rigproof.checks.swap import compare
        from rigproof.rigfile.load import load

        path = Path(asked.rig)
        now = load(path)
        types = _types(now)
        wishes = [_wish(now, types, word) for word in asked.swaps]
        then = _swapped(path, now, wishes, types)
        things = [_thing(wish, types) for wish in wishes]
        comparison = compare(now, then, things, level_spl=asked.level)
    found = [f for f in comparison.new if f.severity in {"stop", "risk"}]
    return Answer(FOUND if found else CLEAN, _data(comparison), tuple(_rows(now, comparison)))


class _Wish(NamedTuple):
    """One swap as it was asked for: where in the file, in what words, from what to what."""

    path: str
    name: str
    now: str
    then: str
    is_box: bool


def _types(rig: Rig) -> dict[str, GearType | None]:
    """Every type that can be named; the library's are read when asked for."""
    from rigproof.rigfile import library

    own, _ = library.own_types(Path(rig.path))
    return {**dict.fromkeys(library.type_ids()), **rig.types, **own}


def _type(types: dict[str, GearType | None], name: str) -> GearType:
    from rigproof.rigfile.library import library_type

    found = types[name]
    return library_type(name) if found is None else found


def _wish(rig: Rig, types: dict[str, GearType | None], word: str) -> _Wish:
    thing, equals, then = word.partition("=")
    if not equals or not thing or not then:
        raise CannotRun(Fault(f'"{word}" says not what becomes what.', f"Write {_FORM}."))
    owner, dot, part = thing.partition(".")
    wish = _part_of(rig, owner, part, then) if dot else _box(rig, thing, then)
    if then not in types:
        raise CannotRun(
            Fault(f'no gear type is called "{then}".', _near(then, types, "Look in the library."))
        )
    if then == wish.now:
        raise CannotRun(Fault(f"{wish.name} is {then} already.", "Name another type."))
    _same_class(wish, _type(types, wish.now), _type(types, then))
    return wish


def _box(rig: Rig, thing: str, then: str) -> _Wish:
    box = rig.gear.get(thing)
    if box is None:
        things = [*rig.gear, *(f"{p}.earphones" for p in rig.people)]
        raise CannotRun(
            Fault(f'this rig has no box called "{thing}".', _near(thing, things, f"Write {_FORM}."))
        )
    return _Wish(f"gear/{thing}", box.name or thing, box.type, then, is_box=True)


def _part_of(rig: Rig, owner: str, part: str, then: str) -> _Wish:
    if part not in _PARTS:
        fix = _near(part, _PARTS, f"It goes: {_FORM}.")
        raise CannotRun(Fault(f'"{owner}.{part}": there is no "{part}" to swap.', fix))
    if part == "earphones":
        person = rig.people.get(owner)
        if person is None:
            fix = _near(owner, rig.people, f"It goes: {_FORM}.")
            raise CannotRun(Fault(f'nobody in this rig is called "{owner}".', fix))
        if person.ears is None or person.ears.earphones is None:
            raise CannotRun(
                Fault(
                    f"{person.name} has no earphones in the rig file.",
                    "Write them down first: ears: {plug: ..., earphones: ...}.",
                )
            )
        path = f"people/{owner}/ears/earphones"
        return _Wish(path, f"{person.name}'s earphones", person.ears.earphones, then, is_box=False)
    source = rig.sources.get(owner)
    if source is None:
        fix = _near(owner, rig.sources, f"It goes: {_FORM}.")
        raise CannotRun(Fault(f'no source is called "{owner}".', fix))
    now = source.mic if part == "mic" else source.di
    if now is None:
        what = "microphone" if part == "mic" else "DI box"
        raise CannotRun(
            Fault(f"{source.name} has no {what}.", "Name something that is in the rig.")
        )
    words = "microphone" if part == "mic" else "DI box"
    return _Wish(f"sources/{owner}/{part}", f"{source.name}'s {words}", now, then, is_box=False)


def _same_class(wish: _Wish, now: GearType, then: GearType) -> None:
    """A part can only be what it is; a box may become another kind of box, if its sockets fit."""
    if not wish.is_box and now.class_ != then.class_:
        raise CannotRun(
            Fault(
                f"{then.name} ({then.id}) cannot be {wish.name}: it is a "
                f"{then.class_.replace('-', ' ')}.",
                f"Name a type of the kind {now.class_.replace('-', ' ')}.",
            )
        )


def _near(word: str, known: Iterable[str], otherwise: str) -> str:
    near = get_close_matches(word, list(known), n=1)
    return f'Did you mean "{near[0]}"?' if near else otherwise


def _swapped(
    path: Path, rig: Rig, wishes: Sequence[_Wish], types: dict[str, GearType | None]
) -> Rig:
    """The rig with the new types, read as if the file said so."""
    from rigproof.rig.where import RigErrors
    from rigproof.rigfile import library, migrate
    from rigproof.rigfile.edit import apply
    from rigproof.rigfile.load import parse, rig_path

    file = rig_path(path)
    raw = migrate.to_current(file.read_bytes().decode("utf-8"), migrate.RIG_STEPS)
    text = apply(raw, [edit for wish in wishes for edit in _edits(rig, wish)], file.name)
    own, faults = library.own_types(file.parent)
    try:
        return parse(text.encode("utf-8"), file.name, own, faults, str(file.parent), rig.measured)
    except RigErrors as errors:
        names = ", ".join(_type(types, wish.then).name for wish in wishes)
        first = Fault(
            f"{names}: the rig file names what is not there.",
            "Each place is listed below. Where the new box calls it otherwise, change the file "
            "(or a copy of it) and compare the two.",
        )
        rest = [Fault(f.says, f.fix, f.at.file, f.at.line, f.at.column) for f in errors.faults]
        raise CannotRun(first, *rest) from errors


def _edits(rig: Rig, wish: _Wish) -> Iterator[Edit]:
    from rigproof.rigfile.edit import Remove, Set

    if not wish.is_box:
        yield Set(wish.path, wish.then)
        return
    yield Set(f"{wish.path}/type", wish.then)
    box = rig.gear[wish.path.partition("/")[2]]
    # What was read off this very box does not hold for another.
    for key in ("price_eur", "weight_kg"):
        if getattr(box, key) is not None:
            yield Remove(f"{wish.path}/{key}")


def _thing(wish: _Wish, types: dict[str, GearType | None]) -> Thing:
    from rigproof.checks.swap import Thing

    return Thing(wish.name, _type(types, wish.now), _type(types, wish.then))


# Showing


def _rows(now: Rig, found: Comparison) -> Iterator[Part]:
    for thing in found.things:
        yield Row(f"{thing.name}: {thing.then.name} in place of {thing.now.name}", tone="strong")
    yield Row()
    yield Table(
        ("", "euros", "kg", "units", "depth mm", "watts", "keeps out dB"),
        tuple(row for thing in found.things for row in _thing_rows(thing)),
        indent=2,
        right=frozenset({1, 2, 3, 4, 5, 6}),
    )
    yield Row()
    changed = [ear for ear in found.ears if ear.changes]
    if changed:
        yield Row(
            f"At the ears, each at {found.level_spl:g} dB SPL in all (hiss in dB SPL, A-weighted):",
            tone="strong",
        )
        yield Table(
            ("who", "", "hiss", "mostly from", "loudest", "level", "clips first", "latest ms"),
            tuple(
                row
                for ear in changed
                for row in (
                    (now.people[ear.person].name, "now", *_side_cells(ear.now)),
                    ("", "then", *_side_cells(ear.then)),
                )
            ),
            indent=2,
            wraps=3,
            right=frozenset({2, 4, 5, 7}),
        )
        yield Row(
            '"Level": with the knobs as the file has them, before they are turned to that. "±": '
            "how far off a hiss likely is, either way.",
            indent=2,
            tone="faint",
        )
        yield from _louder_rows(now, changed)
        missing = dict.fromkeys(m for ear in changed for m in (*ear.now.missing, *ear.then.missing))
        for name in missing:
            yield Row(f"missing: {name}", indent=2, tone="unknown")
    else:
        yield Row("Nothing changes at any ear.")
    yield from _finding_rows("Found in addition:", found.new, "risk")
    yield from _finding_rows("No longer found:", found.gone, "good")
    yield Row()
    yield Row(found.advice, tone="strong")
    yield from _sure_rows(now, found.ears)
    yield Row(
        "Compared from the figures of the types; a figure measured on your own box is worth more.",
        tone="faint",
    )


def _sure_rows(now: Rig, ears: Sequence[EarChange]) -> Iterator[Row]:
    """Whether the figures tell the two apart at all, at the ear where they differ most."""
    apart = [ear for ear in ears if ear.better != "alike" and ear.apart_db]
    if not apart:
        return
    most = max(apart, key=lambda ear: (abs(ear.apart_db or 0.0), ear.person))
    gap, off = abs(most.apart_db or 0.0), most.apart_off_db
    told = (
        "the figures tell the two apart"
        if gap > off
        else "the figures do not tell the two apart; try both on the same earphones, or measure"
    )
    yield Row(
        f"The {gap:.1f} dB of hiss between them at {now.people[most.person].name} likely err by "
        f"{off:.1f} dB either way: {told}."
    )


def _louder_rows(now: Rig, changed: Sequence[EarChange]) -> Iterator[Row]:
    """Who would get much more than before if nobody touched a knob first."""
    from rigproof.checks.loudness import SAME_KNOB_DB

    for ear in changed:
        before, after = ear.now.level_spl, ear.then.level_spl
        if before is not None and after is not None and after - before >= SAME_KNOB_DB:
            yield Row(
                f"{now.people[ear.person].name}: at the same knobs {after - before:.1f} dB louder, "
                f"{after:.1f} dB SPL. Turn down before the first sound, and start low.",
                indent=2,
                tone="risk",
            )


def _thing_rows(thing: Thing) -> Iterator[tuple[str, ...]]:
    from rigproof.checks.swap import sizes

    for type_ in (thing.now, thing.then):
        size = sizes(type_)
        yield (
            type_.name,
            _number(type_.price_eur),
            _number(type_.weight_kg),
            *(
                "" if size[key] is None else _number(size[key])
                for key in ("units", "depth_mm", "watts", "isolation_db")
            ),
        )


def _side_cells(side: EarSide) -> tuple[str, ...]:
    from rigproof.wording import give_or_take

    clip = side.first_clip
    return (
        give_or_take(side.hiss_dba, side.hiss_off_db),
        side.hiss_from,
        _tenths(side.loudest_spl),
        _tenths(side.level_spl),
        "?" if clip is None else f"{clip.at} ({clip.room_db:+.1f} dB)",
        _tenths(side.latest_ms),
    )


def _finding_rows(heading: str, findings: Sequence[Finding], tone: Tone) -> Iterator[Row]:
    if not findings:
        return
    yield Row()
    yield Row(heading, tone=tone)
    for finding in findings:
        yield Row(
            f"{finding.says} ({finding.severity}, {finding.rule}, {finding.at})",
            indent=2,
            lead="- ",
        )


def _number(value: float | None) -> str:
    return "?" if value is None else f"{value:g}"


def _tenths(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


# For programs


def _data(found: Comparison) -> dict[str, Any]:

    return {
        "things": [
            {
                "thing": thing.name,
                "now": thing.now.id,
                "then": thing.then.id,
                "price_eur": thing.price_eur,
                "weight_kg": thing.weight_kg,
                "size_now": _sizes(thing.now),
                "size_then": _sizes(thing.then),
            }
            for thing in found.things
        ],
        "ears": [
            {
                "person": ear.person,
                "better": ear.better,
                "apart_db": ear.apart_db,
                "apart_off_db": ear.apart_off_db,
                "now": _side_data(ear.now),
                "then": _side_data(ear.then),
            }
            for ear in found.ears
        ],
        "new": [finding.data for finding in found.new],
        "gone": [finding.data for finding in found.gone],
        "level_spl": found.level_spl,
        "better": found.better,
        "advice": found.advice,
    }


def _sizes(type_: GearType) -> dict[str, float | None]:
    from rigproof.checks.swap import sizes

    return dict(sizes(type_))


def _side_data(side: EarSide) -> dict[str, Any]:
    clip = side.first_clip
    return {
        "level_spl": side.level_spl,
        "hiss_dba": side.hiss_dba,
        "hiss_off_db": side.hiss_off_db,
        "hiss_from": side.hiss_from,
        "loudest_spl": side.loudest_spl,
        "limited_by": side.limited_by,
        "first_clip": None if clip is None else {"at": clip.at, "room_db": clip.room_db},
        "latest_ms": side.latest_ms,
        "missing": list(side.missing),
    }
