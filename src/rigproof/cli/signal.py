"""Write the test signal: one file in which all channels play at once, each to be told apart."""

import shlex
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.terminal import Part, Row, Table, working
from rigproof.wording import ranges

if TYPE_CHECKING:
    from rigproof.linecheck.playing import Playing

FILE = "test-signal.wav"
_CHANNELS = 32
CAUTION = (
    "Take all ears out and turn all speakers down before it plays: it reaches whatever is "
    "open. Play it once at a low level, then raise it."
)


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof signal` takes."""
    parser.add_argument(
        "rig", metavar="RIG", nargs="?", help="a folder or its file; its channels are played"
    )
    parser.add_argument(
        "-o", "--output", metavar="OUT.wav", default=FILE, help=f"{FILE} when left out"
    )
    parser.add_argument(
        "--channels", metavar="LIST.csv", help="instead a list: number, name, pair, family"
    )
    parser.add_argument(
        "--count",
        metavar="N",
        type=int,
        help=f"so many channels; those of the rig or list, or {_CHANNELS} without one",
    )
    parser.add_argument(
        "--rate", metavar="HZ", type=int, default=48_000, help="samples a second; 48000 otherwise"
    )
    how_loud(parser)
    parser.add_argument(
        "--lines", metavar="FOLDER", help="each channel as a file of its own too, for a phone"
    )


def how_loud(parser: ArgumentParser) -> None:
    """How loud a command plays the test signal."""
    parser.add_argument(
        "--level",
        metavar="DB",
        type=float,
        default=-20.0,
        help="peak in dBFS, or with --full-scale over the planned peaks; -20 otherwise",
    )
    parser.add_argument(
        "--full-scale",
        metavar="DBU",
        type=float,
        help="what 0 dBFS of the player is at its sockets: each line then has its planned level",
    )
    parser.add_argument(
        "--even", action="store_true", help="all channels as loud, whatever the rig plans"
    )


def run(asked: Namespace) -> Answer:
    """Write the file, and say how to play it."""
    with working("Writing the test signal"):
        from rigproof import linecheck

        target = Path(asked.output)
        if target.suffix.lower() != ".wav":
            raise CannotRun(
                Fault(f'the signal is a WAV, and "{target}" does not end in .wav.', f"-o {FILE}")
            )
        if not 8_000 <= asked.rate <= 192_000:
            raise CannotRun(
                Fault(f"{asked.rate} Hz is no rate of sound.", "For example: --rate 48000")
            )
        refuse_levels(asked)
        channels, comment = count_of(asked)
        loud = loudness_of(asked, channels)
        lines = None if asked.lines is None else Path(asked.lines)
        if lines is not None and lines.exists() and not lines.is_dir():
            raise CannotRun(Fault(f'"{lines}" is a file, not a folder.', "Name another."))
        try:
            length_s = linecheck.write_signal(
                target,
                channels=channels,
                rate_hz=asked.rate,
                level_dbfs=loud.level_dbfs,
                comment=comment,
                under_db=loud.under_db,
                lines=lines,
            )
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
    data = {
        "signal": str(target),
        "channels": channels,
        "rate_hz": asked.rate,
        "level_dbfs": loud.level_dbfs,
        "length_s": round(length_s, 3),
        "planned": [
            {
                "channel": number,
                "planned_dbu": round(level, 1),
                "level_dbfs": round(loud.level_of(number), 1),
            }
            for number, level in loud.planned_dbu.items()
        ],
        "lines": None if lines is None else str(lines),
    }
    return Answer(CLEAN, data, tuple(_rows(asked, target, length_s, channels, loud)))


def _rows(
    asked: Namespace, target: Path, length_s: float, channels: int, loud: "Playing"
) -> Iterator[Part]:
    yield Row(str(target), lead="Test signal: ", lead_tone="strong")
    yield Row(
        f"{channels} channels, {asked.rate} Hz, peaks at {loud.level_dbfs:.1f} dBFS, "
        f"{length_s:.0f} s.",
        indent=2,
    )
    if asked.lines is not None:
        yield Row(asked.lines, lead="Each channel alone: ", lead_tone="strong", indent=2)
    if loud.planned_dbu:
        yield Table(
            ("ch", "planned peaks dBu", "played dBFS"),
            tuple(
                (str(number), f"{level:.1f}", f"{loud.level_of(number):.1f}")
                for number, level in loud.planned_dbu.items()
            ),
            indent=2,
            right=frozenset({0, 1, 2}),
        )
        yield Row(
            f"Each line stands {-asked.level:g} dB under its planned peaks, where the player's "
            f"full scale is {asked.full_scale:g} dBu and its level at the stop."
            if asked.full_scale is not None
            else "The lines stand to one another as planned. What the player's 0 dBFS is at its "
            "sockets is not known; with --full-scale 18, for +18 dBu, each gets its planned level."
        )
        if len(loud.planned_dbu) < channels:
            yield Row("Channels without a planned level play as softly as the softest.")
    if loud.held:
        yield Row(
            "Not quite so, because the player goes no higher or because it would be lost beside "
            f"the rest: channel {ranges(loud.held)}.",
        )
    yield Row(CAUTION, lead="Caution: ", lead_tone="strong")
    known = (("--rig", asked.rig), ("--channels", asked.channels))
    more = "".join(f" {option} {shlex.quote(named)}" for option, named in known if named)
    prove = f"rigproof prove {shlex.quote(str(target))} RECORDED.wav{more}"
    yield Row(
        "Play its channel n into the plug of line n and record all channels of the mixer "
        f"meanwhile. Then: {prove}"
    )
    if asked.lines is not None:
        yield Row(
            "Or, with a phone: play the file of each channel alone into its plug, one after "
            "another, all at one level and from the beginning to the end, while the mixer's "
            f"channels are recorded. Then: {prove} --walk"
        )


def refuse_levels(asked: Namespace) -> None:
    """Refuse levels that nothing should be played at."""
    if not -60 <= asked.level <= -3:
        raise CannotRun(
            Fault(
                f"a level of {asked.level:g} dB is refused.",
                "From -60 to -3; -20 is a careful start.",
            )
        )
    from rigproof.cli.prove import refuse_full_scale

    refuse_full_scale(asked)
    if asked.full_scale is not None and asked.even:
        raise CannotRun(Fault("planned levels are not even.", "Leave --even or --full-scale away."))


def loudness_of(asked: Namespace, channels: int) -> "Playing":
    """How loud each channel plays: as a rig plans it, or all alike."""
    from rigproof.linecheck.playing import planned_peaks_dbu, playing

    planned: dict[int, float] = {}
    if asked.rig is not None and not asked.even:
        from rigproof import linecheck
        from rigproof.checks.rule import look
        from rigproof.rigfile.load import load, rig_path

        view = look(load(rig_path(Path(asked.rig))))
        lineup = linecheck.of_rig(view.rig, view.graph, view.figures)
        planned = planned_peaks_dbu(lineup, view.graph, view.levels.peaks)
        if asked.full_scale is not None and not planned:
            raise CannotRun(
                Fault("this rig plans no level at any plug.", "Leave --full-scale away.")
            )
    return playing(
        planned, channels=channels, level_db=asked.level, full_scale_dbu=asked.full_scale
    )


def count_of(asked: Namespace) -> tuple[int, str]:
    """How many channels, and what the file says of itself."""
    if asked.channels is not None:
        last = _last_listed(asked)
        return asked.count or last, "rigproof test signal"
    if asked.rig is None:
        return asked.count or _CHANNELS, "rigproof test signal"
    from rigproof.checks.rule import look
    from rigproof.rigfile.load import load, rig_path

    rig = look(load(rig_path(Path(asked.rig)))).rig
    used = [n for row in rig.file.patch for n in row.channel or ()]
    if not used and asked.count is None:
        raise CannotRun(
            Fault(
                "no source of this rig has a channel.",
                "Write channels in the patch, or say how many: --count 16",
            )
        )
    about = rig.about
    return asked.count or max(used), f"rigproof test signal; {about.name} {about.version}".strip()


def _last_listed(asked: Namespace) -> int:
    """The highest channel of a plain list."""
    from rigproof.cli.prove import plan_of

    return max(plan_of(asked).lineup("en") or {}, default=1)
