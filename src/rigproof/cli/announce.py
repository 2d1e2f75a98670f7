"""Write a sound for each line that says its number and name, or read them out of a recording."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from rigproof.cli.answer import CLEAN, FOUND, Answer, CannotRun, Fault
from rigproof.cli.prove import known_by, plan_of
from rigproof.cli.terminal import Part, Row, Table, working

if TYPE_CHECKING:
    from rigproof.linecheck import Line, Lineup
    from rigproof.linecheck.announcing import Announced

FOLDER = "announcements"
_LINES = 16
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
    known = plan_of(asked).lineup(asked.language)
    lineup = known if known is not None else numbered(asked.count or _LINES)
    try:
        if asked.heard is not None:
            return _heard(Path(asked.heard), lineup)
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


def _heard(path: Path, lineup: "Lineup") -> Answer:
    import numpy as np

    from rigproof.linecheck.announcing import announced
    from rigproof.linecheck.sound import read_sound

    sound = read_sound(path)
    lanes: list[tuple[int, tuple[Announced, ...]]] = [
        (
            place + 1,
            announced(sound.frames[:, place].astype(np.float64), rate_hz=sound.rate_hz),
        )
        for place in range(sound.channels)
    ]
    found = [(channel, one) for channel, all_ in lanes for one in all_]
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
    rows: list[Part] = [
        Row(
            f"{_called(lineup, one.number)}, {one.times} times, first at {one.at_s:.1f} s"
            f"{'' if one.sure else ' (heard once only: listen yourself)'}.",
            lead=f"Channel {channel}: " if sound.channels > 1 else "",
        )
        for channel, one in found
    ]
    if not found:
        rows.append(
            Row(
                "No line says its number in this recording. Was the right end recorded, long "
                "enough for the beeps to come twice, and louder than the room?"
            )
        )
    result = {"folder": None, "lines": [], "heard": heard}
    return Answer(CLEAN if found else FOUND, result, tuple(rows))


def _called(lineup: "Lineup", number: int) -> str:
    line = lineup.get(number)
    name = f", {line.name}" if line is not None and line.name else ""
    plug = f" ({line.plug})" if line is not None and line.plug else ""
    return f"Line {number}{name}{plug}"
