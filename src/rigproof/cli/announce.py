"""Write a sound for each line that says its number and name, or read them out of a recording."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.prove import known_by, plan_of
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.cli.prove import Plan
    from rigproof.linecheck import Line, Lineup
    from rigproof.linecheck.announcing import Announced
    from rigproof.linecheck.routing import Misplaced

FOLDER = "announcements"
_LINES = 16
_LONGEST_S = 1800.0  # a walk along all tails may take its time
CAUTION = (
    "Play it with ears out, speakers down and 48 V off on that line, from a DI box or a balanced "
    "line output; begin low. At the far end hold a phone to small speakers, or listen at low level."
)


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof announce` takes."""
    known_by(parser)
    parser.add_argument(
        "-o", "--output", metavar="FOLDER", default=FOLDER, help=f"{FOLDER} when left out"
    )
    parser.add_argument(
        "--count", metavar="N", type=int, help=f"so many lines without names; {_LINES} otherwise"
    )
    parser.add_argument(
        "--voices", metavar="FOLDER", help="your own recordings of the names: 7.wav or snare.wav"
    )
    parser.add_argument(
        "--language", choices=("en", "de"), default="en", help="of the words; en when left out"
    )
    parser.add_argument(
        "--level", metavar="DBFS", type=float, default=-20.0, help="peak; -20 dBFS otherwise"
    )
    parser.add_argument(
        "--heard", metavar="RECORDED.wav", help="instead: which lines say their number in this"
    )
    parser.add_argument(
        "--at", metavar="VENUE", help="with --heard: recorded there, along the ends of our tails"
    )
    parser.add_argument(
        "--walk", metavar="TAILS", default="", help="with --at: in this order, such as 1-8,12"
    )


class _Made(NamedTuple):
    line: "Line"
    path: Path
    words: str  # "recorded", "spoken" or "none"


def run(asked: Namespace) -> Answer:
    """Write the sounds, or read a recording of them."""
    from rigproof.linecheck import Refused, numbered

    if not -60 <= asked.level <= -3:
        raise CannotRun(
            Fault(
                f"a level of {asked.level:g} dBFS is refused.",
                "From -60 to -3 dBFS; -20 is a careful start.",
            )
        )
    if asked.count is not None and not 1 <= asked.count <= _most():
        raise CannotRun(Fault(f"{asked.count} lines cannot be meant.", f"From 1 to {_most()}."))
    if asked.at is not None and (asked.heard is None or asked.rig is None):
        raise CannotRun(
            Fault("a venue is for reading a walk along its tails.", "Add: --heard FILE --rig RIG")
        )
    plan = plan_of(asked)
    known = plan.lineup(asked.language)
    lineup = known if known is not None else numbered(asked.count or _LINES)
    try:
        if asked.heard is not None:
            return _heard(asked, plan, lineup)
        with working("Writing the announcements"):
            made = list(_written(asked, lineup))
    except Refused as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    if not made:
        raise CannotRun(
            Fault("no source of this rig has a channel.", "Write channels in the patch.")
        )
    result = {
        "folder": asked.output,
        "lines": [_data(one) for one in made],
        "heard": None,
        "findings": [],
    }
    return Answer(CLEAN, result, tuple(_rows(asked, made)))


def _most() -> int:
    from rigproof.linecheck.announcing import MOST

    return MOST


def _written(asked: Namespace, lineup: "Lineup") -> Iterator[_Made]:
    import numpy as np

    from rigproof.linecheck.announcing import announcement
    from rigproof.linecheck.sound import write_sound
    from rigproof.linecheck.speaking import clip, clip_of, clips, spoken

    rate_hz = 48_000
    known = clips(Path(asked.voices)) if asked.voices is not None else {}
    folder = Path(asked.output)
    if folder.exists() and not folder.is_dir():
        raise CannotRun(Fault(f'"{folder}" is a file, not a folder.', "Name another: -o FOLDER"))
    folder.mkdir(parents=True, exist_ok=True)
    for number, line in sorted(lineup.items()):
        own = clip_of(line, known)
        if own is not None:
            words, said = "recorded", clip(own, rate_hz=rate_hz)
        else:
            text = _text(line, asked.language)
            speech = spoken(text, language=asked.language, rate_hz=rate_hz)
            words = "none" if speech is None else "spoken"
            said = speech if speech is not None else np.zeros(0)
        sound = announcement(number, said, rate_hz=rate_hz) * 10 ** (asked.level / 20)
        path = folder / _file_name(line)
        comment = f"line {number}"
        write_sound(path, sound.astype(np.float32)[:, None], rate_hz=rate_hz, comment=comment)
        yield _Made(line, path, words)


def _text(line: "Line", language: str) -> str:
    word = "Leitung" if language == "de" else "Line"
    return f"{word} {line.number}. {line.name}." if line.name else f"{word} {line.number}."


def _file_name(line: "Line") -> str:
    side = ""
    if line.pair is not None:
        side = "-1" if line.number < line.pair else "-2"
    return f"{line.number:03d}{f'-{line.source}{side}' if line.source else ''}.wav"


def _rows(asked: Namespace, made: list[_Made]) -> Iterator[Part]:
    from rigproof.linecheck.announcing import pitch_hz
    from rigproof.linecheck.speaking import can_speak

    yield Row(asked.output, lead="Announcements: ", lead_tone="strong")
    yield Table(
        ("line", "name", "plug", "Hz", "words", "file"),
        tuple(
            (
                str(one.line.number),
                one.line.name,
                one.line.plug,
                f"{pitch_hz(one.line.number):.0f}",
                {"none": "beeps only"}.get(one.words, one.words),
                one.path.name,
            )
            for one in made
        ),
        indent=2,
        wraps=1,
        right=frozenset({0, 3}),
    )
    yield Row(
        "Between two high beeps a long one for each ten, then a short one for each one; the name; "
        "and the beeps again."
    )
    if not can_speak() and any(one.words == "none" for one in made):
        yield Row(
            "No voice is installed on this computer: beeps only. Install espeak-ng, or record the "
            "names yourselves and add --voices FOLDER."
        )
    yield Row(CAUTION, lead="Caution: ", lead_tone="strong")
    yield Row(
        "Play line n into the plug of line n, in a loop, and listen at the end of the tail. With a "
        "phone recording: rigproof announce --heard RECORDED.wav"
    )


def _data(one: _Made) -> dict[str, Any]:
    from rigproof.linecheck.announcing import pitch_hz

    return {
        "number": one.line.number,
        "name": one.line.name,
        "plug": one.line.plug,
        "pitch_hz": pitch_hz(one.line.number),
        "words": one.words,
        "file": str(one.path),
    }


# Reading


def _heard(asked: Namespace, plan: "Plan", lineup: "Lineup") -> Answer:
    import numpy as np

    from rigproof.linecheck.announcing import announced
    from rigproof.linecheck.sound import read_sound

    sound = read_sound(Path(asked.heard), longest_s=_LONGEST_S)
    found = [
        (channel, one)
        for channel in range(1, sound.channels + 1)
        for one in announced(sound.frames[:, channel - 1].astype(np.float64), rate_hz=sound.rate_hz)
    ]
    wrong = _wrong(asked, plan, [one for channel, one in found if channel == 1])
    heard = [
        {
            "channel": channel,
            "number": one.number,
            "name": lineup[one.number].name if one.number in lineup else "",
            "times": one.times,
            "at_s": one.at_s,
            "sure": one.sure,
        }
        for channel, one in found
    ]
    alone = sound.channels == 1
    rows: list[Part] = [
        Row(
            f"{_called(lineup, one.number)}, {_often(one.times)}, at {one.at_s:.1f} s"
            f"{'' if one.sure else ' (heard once only: listen yourself)'}.",
            lead=f"{_nth(place)} plugged: " if alone else f"Channel {channel}: ",
        )
        for place, (channel, one) in enumerate(found, 1)
    ]
    if not found:
        rows.append(
            Row(
                "No line says its number in this recording. Was the right end recorded, long "
                "enough for the beeps to come twice, and louder than the room?"
            )
        )
    if asked.at is not None:
        rows.append(Row())
        rows += [Row(one.says, lead="FAIL  ", lead_tone="strong") for one in wrong]
        if not wrong:
            rows.append(Row("Every tail of the walk carries its own line.", tone="strong"))
        rows.append(Row("Which line, and no more: whether it is whole says rigproof prove --at."))
    result = {
        "folder": None,
        "lines": [],
        "heard": heard,
        "findings": [
            {"tail": one.channel, "kind": one.kind, "others": list(one.others), "says": one.says}
            for one in wrong
        ],
    }
    return Answer(CLEAN if found and not wrong else FOUND, result, tuple(rows))


def _wrong(asked: Namespace, plan: "Plan", heard: "list[Announced]") -> "tuple[Misplaced, ...]":
    """The tails of a walk that carry another's line."""
    if asked.at is None or plan.rig_file is None:
        return ()
    from rigproof.checks.rule import look
    from rigproof.cli.tailproof import ends_at, known, order_of, venue_of
    from rigproof.linecheck import of_ends
    from rigproof.linecheck.tailends import heard_where
    from rigproof.linecheck.walking import matched
    from rigproof.rigfile.load import load

    view, language = look(load(plan.rig_file)), asked.language
    all_ends = ends_at(view, venue_of(view, asked.at))
    order = order_of(asked.walk, all_ends)
    ends = {number: all_ends[number] for number in order or ()}
    carrying = {end.channel: number for number, end in ends.items()}
    pairs = matched([carrying.get(one.number, 0) for one in heard], tuple(ends))
    plugged = {tail: heard[place].number for place, tail in pairs}
    lineup = of_ends(view.rig, view.graph, view.figures, ends, language)
    return heard_where(plugged, lineup, ends, known(view, language, 0), language)


def _often(times: int) -> str:
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


def _nth(place: int) -> str:
    ending = "th" if place % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(place % 10)
    return f"{place}{ending or 'th'}"


def _called(lineup: "Lineup", number: int) -> str:
    line = lineup.get(number)
    name = f", {line.name}" if line is not None and line.name else ""
    plug = f" ({line.plug})" if line is not None and line.plug else ""
    return f"Line {number}{name}{plug}"
