"""From a rehearsal multitrack: where preamps should stand, and a first mix for each listener."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from math import log10
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.checks.rule import View
    from rigproof.cli.firstmixes import Drafted, Listener
    from rigproof.linecheck.regain import Regain
    from rigproof.mixes.relations import AllWishes
    from rigproof.rig import Rig, Show
    from rigproof.rigfile.edit import Edit

FOLDER = "first-mixes"
_MOST_LEAKS = 6
_BOUNDS = {"--headroom-db": (0.0, 40.0), "--level": (50.0, 105.0)}
CAUTION = (
    "Levels are reckoned from this take and the figures of the rig, over the whole take, without "
    "what leaks in past the earphones. Whether ears may have that for hours is another question: "
    "begin low, at home too, and go by the law of the place and by an audiologist."
)


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof draft` takes."""
    parser.add_argument(
        "take", metavar="TAKE", help="a multitrack, channel n = channel n of the mixer; or a folder"
    )
    parser.add_argument(
        "--rig", metavar="RIG", default=".", help="a folder or its file; the folder you are in"
    )
    parser.add_argument(
        "-o", "--output", metavar="FOLDER", default=FOLDER, help=f"{FOLDER} when left out"
    )
    parser.add_argument(
        "--show",
        metavar="SHOW",
        help="the rig as it is at one show, guests and all, by its name or date",
    )
    parser.add_argument(
        "--relations", metavar="FILE", help="what should stand over what, in a small file"
    )
    parser.add_argument(
        "--headroom-db",
        metavar="DB",
        type=float,
        default=12.0,
        help="room over the peaks of each channel; 12 when left out",
    )
    parser.add_argument(
        "--level",
        metavar="DB",
        type=float,
        default=85.0,
        help="what a mix without target_db comes to at the ears, in dB(A); 85 when left out",
    )
    parser.add_argument("--report", metavar="FILE.pdf", help="all of it on paper, a sheet for each")
    parser.add_argument(
        "--language", choices=("en", "de"), default="en", help="of the sheets; en when left out"
    )
    parser.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="of the sheets; a4 when left out"
    )
    parser.add_argument(
        "--write", action="store_true", help="write it into the rig file; earlier ones stay"
    )


def run(asked: Namespace) -> Answer:
    """Listen, reckon, mix, show; write where that is wished."""
    for option, (low, high) in _BOUNDS.items():
        value = getattr(asked, option.strip("-").replace("-", "_"))
        if not low <= value <= high:
            raise CannotRun(
                Fault(f"{option} {value:g} cannot be meant.", f"Give {low:g} to {high:g} dB.")
            )
    if asked.report is not None and Path(asked.report).suffix.lower() != ".pdf":
        raise CannotRun(
            Fault(
                f'the report is a PDF, and "{asked.report}" does not end in .pdf.',
                "--report first-mixes.pdf",
            )
        )
    with working("Listening to the take and mixing"):
        from rigproof.linecheck import Refused
        from rigproof.rigfile.history import digest
        from rigproof.rigfile.load import rig_path
        from rigproof.rigfile.write import edit_rig

        path = Path(asked.rig)
        seen = digest(rig_path(path).read_bytes())
        try:
            done = _drafted(asked, path)
        except Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
    if asked.report is not None:
        _print(asked, done)
    version = None
    if asked.write and done.edits:
        version = edit_rig(path, done.edits, "gains and first mixes from a take", seen=seen).number
    found = any(one.notes for one in done.listeners) or any(one.clipped for one in done.regains)
    return Answer(
        FOUND if found else CLEAN,
        _data(asked, done, version),
        tuple(_rows(asked, done, version)),
    )


def _drafted(asked: Namespace, path: Path) -> Drafted:
    from rigproof.checks.rule import look
    from rigproof.cli.firstmixes import Leaking, Mixing
    from rigproof.linecheck import Refused
    from rigproof.linecheck.leaking import held, leaks
    from rigproof.linecheck.metered import no_numbers
    from rigproof.linecheck.regain import regains
    from rigproof.linecheck.taking import opened
    from rigproof.linecheck.tallying import gathered_of, own_powers, tallies_of
    from rigproof.mixes.firstmix import drafts
    from rigproof.rigfile.load import load

    stated = load(path)
    view = look(stated, _show(stated, asked.show))
    wishes = _wishes(asked, view.rig)
    folder = Path(asked.output)
    if folder.exists() and not folder.is_dir():
        raise CannotRun(Fault(f'"{folder}" is a file, not a folder.', "Name another: -o FOLDER"))
    take = opened(Path(asked.take))
    used = {n for row in view.rig.file.patch for n in row.channel or ()}
    if not used & set(range(1, take.channels + 1)):
        raise Refused(
            "no source of this rig has a channel that is in the take.",
            "Channel n of the take is channel n of the mixer; write the channels in the patch.",
        )
    gathered = gathered_of(take)
    take = replace(take, said=(*take.said, *no_numbers(gathered.not_numbers)))
    tallies = tallies_of(gathered)
    turns = regains(view.rig, view.graph, view.figures, tallies, headroom_db=asked.headroom_db)
    mixes = drafts(stated, view.rig)
    if not mixes:
        raise CannotRun(
            Fault(
                "this rig has no mix for anybody's ears.",
                "Write ears for somebody under people, or a mix with listeners.",
            )
        )
    names = {f"{who}.wav" for draft in mixes for who in draft.mix.listeners}
    if any((folder / name).resolve() == file.resolve() for name in names for file in take.files):
        raise CannotRun(
            Fault("a mix would be written over the take itself.", "Name another folder: -o FOLDER")
        )
    found = held(leaks(take, *_surroundings(view)), gathered.weighted)
    leaking = Leaking(found, own_powers(gathered, found))
    mixing = Mixing(stated, view, take, tallies, turns, mixes, wishes, leaking, aim_dba=asked.level)
    return mixing.done(path, folder)


def _show(stated: Rig, wanted: str | None) -> Show | None:
    """The show that was meant, by its identifier, its name or its date."""
    if wanted is None:
        return None
    from rigproof.cli.trace import meant

    shows = {show.id: show for show in stated.file.shows}
    dated = [show for show in stated.file.shows if show.date == wanted]
    if len(dated) == 1:
        return dated[0]
    return shows[meant(wanted, {key: show.name for key, show in shows.items()}, "show")]


def _surroundings(view: View) -> tuple[dict[int, frozenset[int]], dict[int, float]]:
    """Whose channels may leak into each microphone's, and the gain from sound to each channel.

    A line hears nothing and is not heard, and what one player's microphones share is one
    instrument, no leak.
    """
    from rigproof.linecheck import of_rig

    rig = view.rig
    lineup = of_rig(rig, view.graph, view.figures)
    microphones = {
        number: type_.microphone
        for number, line in lineup.items()
        if (type_ := rig.types.get(rig.sources[line.source].mic or "")) is not None
        and type_.microphone is not None
    }
    players = {n: rig.sources[lineup[n].source].player or lineup[n].family for n in microphones}
    hears = {
        number: frozenset(n for n, who in players.items() if who != players[number])
        for number in microphones
    }
    gains = {
        number: 20 * log10(float(microphone.sensitivity_mv_pa)) + gain_db
        for number, microphone in microphones.items()
        if microphone.sensitivity_mv_pa is not None
        and (gain_db := lineup[number].gain_db) is not None
    }
    return hears, gains


def _print(asked: Namespace, done: Drafted) -> None:
    from rigproof.rigfile.write import replace
    from rigproof.showbook.binding import bound_of
    from rigproof.showbook.edition import Edition
    from rigproof.showbook.first_mixes import FirstMix, sheets

    edition = Edition(language=asked.language, size=asked.paper)
    mixes = [
        FirstMix(
            person=one.person,
            controls=one.draft.controls,
            levels_db=dict(one.levels_db),
            level_dba=one.level_dba,
            peak_spl=one.peak_spl,
            hiss_dba=one.hiss_dba,
        )
        for one in done.listeners
    ]
    rig = done.view.rig
    pages = sheets(rig, done.regains, mixes, edition, headroom_db=asked.headroom_db)
    replace(Path(asked.report), bound_of(rig.about, edition, pages).pdf)


def _wishes(asked: Namespace, rig: Rig) -> AllWishes:
    from rigproof.mixes.relations import AllWishes, read_wishes

    if asked.relations is None:
        return AllWishes()
    path = Path(asked.relations)
    return read_wishes(path.read_bytes(), path.name, rig)


# Showing


def _rows(asked: Namespace, done: Drafted, version: int | None) -> Iterator[Part]:
    from rigproof.wording import counted

    rig = done.view.rig
    yield Row(f"{done.stated.about.name}: first mixes from {Path(asked.take).name}", tone="strong")
    yield Row(
        f"{done.take.channels} channels, {done.take.rate_hz} Hz, {done.take.length_s:.0f} s. "
        "Taken as recorded straight behind the preamps, channel by channel."
    )
    for said in done.take.said:
        yield Row(said, indent=2, tone="faint")
    yield Row()
    yield Row(f"Preamps, for {asked.headroom_db:g} dB over the peaks:", tone="strong")
    yield Table(
        ("ch", "source", "peak dBFS", "plays", "LUFS", "gain now", "then", ""),
        tuple(_channel_cells(done, one) for one in done.regains),
        indent=2,
        wraps=7,
        right=frozenset({0, 2, 3, 4, 5, 6}),
    )
    if done.leaks:
        yield Row()
        yield Row(_leaking(done), lead="Leaks: ", lead_tone="strong")
    for one in done.listeners:
        yield Row()
        yield from _listener_rows(rig, one)
    yield Row()
    if asked.report is not None:
        yield Row(asked.report, lead="On paper: ", lead_tone="strong")
    changes = counted(len(done.edits), "change")
    if version is not None:
        yield Row(f"Written into the rig file, as version {version}: {changes}.", tone="good")
        yield Row("The take was recorded with the old gains: record anew before the next draft.")
    elif asked.write or not done.edits:
        yield Row("The rig file says all this.", tone="good")
    else:
        yield Row(
            f"The rig file is as it was. Listen first; then the same with --write puts {changes} "
            "into it, and earlier versions stay."
        )
    yield Row(CAUTION, lead="Caution: ", lead_tone="strong")


def _leaking(done: Drafted) -> str:
    """The loudest of what one player's things bring to another's microphones."""
    names = {
        n: done.view.rig.sources[row.source].name
        for row in done.view.rig.file.patch
        for n in row.channel or ()
    }
    loud = sorted(done.leaks.items(), key=lambda one: (-one[1], one[0]))
    told = (
        f"{names[other]} in {names[channel]} {10 * log10(ratio):.0f} dB"
        for (channel, other), ratio in loud[:_MOST_LEAKS]
    )
    more = len(loud) - _MOST_LEAKS
    tail = f"; {more} softer ones" if more > 0 else ""
    return f"{', '.join(told)} against its own channel{tail}. They count in the levels below."


def _channel_cells(done: Drafted, one: Regain) -> tuple[str, ...]:
    heard = {tally.number: tally for tally in done.tallies}
    lanes = [heard[number] for number in one.channels if number in heard]
    loud = [tally.playing_lufs for tally in lanes if tally.playing_lufs is not None]
    says = {
        "": "",
        "silent": "silent: left alone",
        "not in the take": "not in the take",
        "no preamp of ours": "no preamp to turn",
        "not written down": f"turn by {one.change_db:+g}; where it stands is not written",
        "its stop": "as far as it goes",
    }[one.held]
    if one.clipped:
        says = f"clipped: turn down at least so far; {says}".rstrip("; ")
    return (
        "-".join(map(str, dict.fromkeys((one.channels[0], one.channels[-1])))),
        done.view.rig.sources[one.source].name,
        "" if one.peak_dbfs is None or not loud else f"{one.peak_dbfs:.1f}",
        f"{100 * max(tally.playing_ratio for tally in lanes):.0f} %" if loud else "",
        f"{max(loud):.1f}" if loud else "",
        "" if one.now_db is None else f"{one.now_db:g}",
        "" if one.then_db is None or not one.moves else f"{one.then_db:g}",
        says,
    )


def _listener_rows(rig: Rig, one: Listener) -> Iterator[Part]:
    from rigproof.mixes.exposure import CRITERIA
    from rigproof.wording import rounded, some

    where = f": {one.file}" if one.file is not None else ""
    yield Row(f"{rig.people[one.person].name}{where}", tone="strong")
    if one.level_dba is not None and one.full_scale_spl is not None:
        hiss = "" if one.hiss_dba is None else f"; hiss of {one.hiss_dba:.0f} dB(A) is in it"
        sure = "about " if one.ways.open_knobs else ""
        yield Row(
            f"At the ears {sure}{one.level_dba:.0f} dB(A), peaks up to {one.peak_spl:.0f} dB SPL; "
            f"up to {rounded(one.delay_ms)} ms late behind the channels. Full scale of the file "
            f"stands for {one.full_scale_spl:.0f} dB SPL{hiss}.",
            indent=2,
        )
    if one.doses:
        shares = (
            f"{dose.percent:.0f} % in a {dose.occasion} of {rounded(float(dose.duration_h))} h "
            f"({CRITERIA[dose.criterion].name})"
            for dose in one.doses
        )
        yield Row(f"Of what the criteria allow: {'; '.join(shares)}.", indent=2)
    yield Table(
        ("level of", "now", "then", "pan"),
        tuple(_control_cells(one)),
        indent=2,
        right=frozenset({1, 2, 3}),
    )
    told = [
        f"{r.relation.of} {round(r.by_db, 1) + 0.0:+.1f} dB over {r.instead or r.relation.over}"
        for r in one.reached
        if r.by_db is not None
    ]
    if told:
        yield Row(f"{'; '.join(told)}.", indent=2, lead="Loudness: ")
    unheard = [
        control.name for control in one.draft.controls if one.levels_db.get(control.key) is None
    ]
    if unheard:
        yield Row(
            f"Did not play in the take, and left as the file has them: {some(unheard)}. Begin with "
            "these turned down; they are not balanced against the rest.",
            indent=2,
        )
    for note in one.notes:
        yield Row(note, indent=2, lead="- ", tone="risk")


def _control_cells(one: Listener) -> Iterator[tuple[str, ...]]:
    for control in one.draft.controls:
        then = one.levels_db.get(control.key)
        pan = control.pan or 0.0
        side = "L" if pan < 0 else "R"
        yield (
            f"{control.slot} {control.name}" if control.slot is not None else control.name,
            "" if control.stated_db is None else f"{control.stated_db:.1f}",
            "as it is" if then is None else f"{then:.1f}",
            f"{side} {abs(pan) * 100:.0f} %" if pan else "",
        )


# For programs


def _data(asked: Namespace, done: Drafted, version: int | None) -> dict[str, Any]:
    return {
        "take": {
            "channels": done.take.channels,
            "rate_hz": done.take.rate_hz,
            "length_s": done.take.length_s,
            "said": list(done.take.said),
        },
        "headroom_db": asked.headroom_db,
        "channels": [_channel_data(done, one) for one in done.regains],
        "leaks": [
            {"channel": channel, "of": other, "level_db": round(10 * log10(ratio), 1)}
            for (channel, other), ratio in done.leaks.items()
        ],
        "listeners": [_listener_data(one) for one in done.listeners],
        "changes": [_change_data(edit) for edit in done.edits],
        "version": version,
        "report": asked.report,
    }


def _channel_data(done: Drafted, one: Regain) -> dict[str, Any]:
    heard = {tally.number: tally for tally in done.tallies}
    return {
        "source": one.source,
        "channels": [
            {
                "channel": number,
                "peak_dbfs": heard[number].peak_dbfs,
                "true_peak_dbfs": heard[number].true_peak_dbfs,
                "playing_lufs": heard[number].playing_lufs,
                "playing_ratio": heard[number].playing_ratio,
            }
            for number in one.channels
            if number in heard
        ],
        "clipped": one.clipped,
        "now_db": one.now_db,
        "then_db": one.then_db,
        "change_db": one.change_db,
        "held": one.held,
    }


def _listener_data(one: Listener) -> dict[str, Any]:
    from rigproof.rig.spread import spread_db

    return {
        "person": one.person,
        "mix": one.draft.mix.id,
        "file": None if one.file is None else str(one.file),
        "controls": [
            {
                "from": None if control.slot is not None else control.key,
                "slot": None if control.slot is None else str(control.slot),
                "sources": list(control.sources),
                "now_db": control.stated_db,
                "then_db": one.levels_db.get(control.key),
                "pan": control.pan,
            }
            for control in one.draft.controls
        ],
        "relations": [
            {
                "of": r.relation.of,
                "over": r.relation.over,
                "wished_db": r.relation.by_db,
                "reached_db": r.by_db,
                "instead": r.instead,
            }
            for r in one.reached
        ],
        "held_by": None if one.overall is None else one.overall.by,
        "level_dba": one.level_dba,
        "peak_spl": one.peak_spl,
        "planned_spl": one.planned_spl,
        "full_scale_spl": one.full_scale_spl,
        "hiss_dba": one.hiss_dba,
        "delay_ms": one.delay_ms,
        "doses": [
            {
                "occasion": dose.occasion,
                "duration_h": float(dose.duration_h),
                "criterion": dose.criterion,
                "percent": dose.percent,
                "low_percent": low,
                "high_percent": high,
            }
            for dose in one.doses
            for low, high in (dose.likely_percent(spread_db(dose.level_dba.provenance)),)
        ],
        "notes": list(one.notes),
    }


def _change_data(edit: Edit) -> dict[str, Any]:
    from rigproof.rigfile.edit import Add, Set

    assert isinstance(edit, Set | Add)
    return {"at": edit.path, "value": edit.value, "new": isinstance(edit, Add)}
