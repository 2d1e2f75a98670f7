"""How late everybody hears, by the bounds of the one study that printed any."""

from collections.abc import Iterator, Sequence

from rigproof.checks.lateness import desk_combs
from rigproof.checks.rule import View
from rigproof.physics.comb import notch_hz
from rigproof.rig.spread import Likely
from rigproof.showbook.blocks import (
    DASH,
    Block,
    Cell,
    between,
    cell,
    column,
    heading,
    left_out,
    needs,
    numbers,
    plain,
    ranged,
    remark,
    say,
    table,
)
from rigproof.signal import words
from rigproof.signal.delay import LISTENERS_DIFFER, Comb, Latency, OwnSound
from rigproof.wording.sentences import joined, sentence

_BOTTOMLESS_DB = -40.0  # what an ear would call gone


def blocks(view: View) -> Iterator[Block]:
    """Own sounds against their bounds, what they consist of, and the slowest of all others."""
    own = view.delays.own
    if not view.delays.table:
        yield say(sentence("Nothing arrives at anybody's ears yet."))
        return
    if own:
        yield heading(sentence("Each player's own sound in the own ears"))
        yield table(
            [
                column(sentence("Player"), 0.9),
                column(sentence("Sound"), 2.4),
                numbers(sentence("Delay"), 2.3, unit="ms"),
                numbers(sentence("Good up to"), 0.7, unit="ms"),
                numbers(sentence("Fair up to"), 0.7, unit="ms"),
                column(sentence("By the study"), 0.9),
                column(sentence("Made of"), 4.6),
            ],
            [_own(view, alike) for alike in _alike(view, own)],
        )
        yield say(LISTENERS_DIFFER)
    combs = [one for one in own if one.acoustic is not None or one.bone is not None]
    if combs:
        yield heading(sentence("A voice in the ears beside the same voice in the head"))
        yield table(
            [
                column(sentence("Singer"), 1.2),
                numbers(sentence("Behind the bone way"), 1, unit="ms"),
                numbers(sentence("First notch"), 1.6, unit="Hz"),
                numbers(sentence("Behind the air way"), 1, unit="ms"),
                numbers(sentence("First notch"), 1.6, unit="Hz"),
            ],
            [_voice(view, one) for one in combs],
        )
    yield heading(sentence("The slowest sound in each pair of ears"))
    yield table(
        [
            column(sentence("Ears"), 1.2),
            column(sentence("Sound"), 1.6),
            numbers(sentence("Delay"), 2.1, unit="ms"),
            column(sentence("Two ways that meet"), 2.6),
            column(sentence("Not known"), 3),
        ],
        [_slowest(view, person) for person in view.rig.people if _all(view, person)],
    )
    desks = list(desk_combs(view))
    if desks:
        yield heading(sentence("The same sound on two lines of one desk"))
        yield table(
            [
                column(sentence("Desk"), 1.5),
                column(sentence("Sound"), 1.5),
                column(sentence("What they make together"), 4),
            ],
            [
                [remark(venue), remark(words.source(view.rig, source)), remark(_comb(comb))]
                for venue, source, comb in desks
            ],
        )
    yield left_out(
        sentence(
            "the air between a mouth or a drum and its microphone; what a plug-in or "
            "an effect adds; a stream's own way where its setting holds it. No bound "
            "is printed where nobody studied the instrument."
        )
    )


def _range(found: Latency) -> Cell:
    value = plain(found.longest.delay_ms, 2)
    return cell(
        sentence(
            "{figure} ({likely})",
            figure=value,
            likely=between(found.low_ms, found.high_ms, 2),
        ),
        found.provenance,
    )


def _alike(view: View, own: Sequence[OwnSound]) -> list[list[OwnSound]]:
    """The sounds of one player that come the same way, by it and by how long it takes."""
    found: dict[tuple[object, ...], list[OwnSound]] = {}
    for one in own:
        late = one.latency
        way = tuple((p.kind, p.delay_ms) for p in view.delays.parts(one.source.id, late.listener))
        key = (late.listener, late.longest.delay_ms, one.good_ms, one.fair_ms, late.missing, way)
        found.setdefault(key, []).append(one)
    return list(found.values())


def _own(view: View, alike: Sequence[OwnSound]) -> list[Cell]:
    one = alike[0]
    late = one.latency
    times: dict[tuple[str, str], list[str]] = {}
    for part in view.delays.parts(one.source.id, late.listener):
        key = part.kind, part.delay_ms.provenance
        times.setdefault(key, []).append(plain(float(part.delay_ms), 2))
    parts = [
        sentence(
            "{kind} {times_ms} ({worth})",
            kind=sentence(kind),
            times_ms=joined(" + ", ms),
            worth=sentence(worth),
        )
        for (kind, worth), ms in times.items()
    ]
    if late.missing:
        parts.append(needs(late.missing))
    verdict = sentence(one.verdict)
    if late.missing:
        verdict = sentence("{verdict}, at least", verdict=verdict)
    return [
        cell(words.person(view.rig, late.listener)),
        remark(", ".join(sound.source.name for sound in alike)),
        _range(late),
        cell(plain(one.good_ms) if one.good_ms is not None else DASH),
        cell(plain(one.fair_ms) if one.fair_ms is not None else DASH),
        cell(verdict),
        remark(joined("; ", parts) or sentence("nothing that takes time")),
    ]


def _voice(view: View, one: OwnSound) -> list[Cell]:
    return [
        cell(words.person(view.rig, one.latency.listener)),
        *_notch(one.latency, one.bone),
        *_notch(one.latency, one.acoustic),
    ]


def _notch(late: Latency, comb: Comb | None) -> list[Cell]:
    """How far apart the two are, and the first notch with the range that the delay leaves it."""
    if comb is None:
        return [cell(DASH), cell(DASH)]
    ends_ms = [comb.apart_ms + end - late.longest.delay_ms for end in (late.high_ms, late.low_ms)]
    if min(ends_ms) <= 0:  # it may as well come together with the other
        return [cell(plain(comb.apart_ms, 2)), cell(plain(comb.first_notch_hz, 0))]
    low_hz, high_hz = (float(notch_hz(delay_ms=end)) for end in ends_ms)
    return [
        cell(plain(comb.apart_ms, 2)),
        ranged(Likely(low_hz, comb.first_notch_hz, high_hz, late.provenance)),
    ]


def _comb(comb: Comb) -> str:
    said = sentence(
        "{apart_ms} ms apart: notch at {first_notch_hz} Hz",
        apart_ms=plain(comb.apart_ms, 2),
        first_notch_hz=plain(comb.first_notch_hz, 0),
    )
    if comb.copy_db is None or comb.depth_db is None:
        return sentence("{said}; its depth waits for a gain", said=said)
    if comb.depth_db < _BOTTOMLESS_DB:
        return sentence("{said}; both as loud, nothing left there", said=said)
    return sentence(
        "{said}; the copy {copy_db} dB softer, {depth_db} dB deep",
        said=said,
        copy_db=plain(-comb.copy_db),
        depth_db=plain(-comb.depth_db),
    )


def _all(view: View, person: str) -> list[Latency]:
    return [late for (_, name), late in view.delays.table.items() if name == person]


def _slowest(view: View, person: str) -> list[Cell]:
    late = max(_all(view, person), key=lambda one: (one.longest.delay_ms, one.source))
    missing = dict.fromkeys(name for one in _all(view, person) for name in one.missing)
    combs = [one for one in _all(view, person) if one.comb is not None]
    worst = max(combs, key=lambda one: one.comb.apart_ms if one.comb else 0, default=None)
    meets = sentence("none")
    if worst is not None and worst.comb is not None:
        meets = sentence(
            "{source}, {comb}", source=words.source(view.rig, worst.source), comb=_comb(worst.comb)
        )
    return [
        cell(words.person(view.rig, person)),
        cell(words.source(view.rig, late.source)),
        _range(late),
        remark(meets),
        remark(needs(missing) if missing else sentence("all stated")),
    ]
