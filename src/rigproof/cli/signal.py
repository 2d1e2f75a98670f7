"""Write the test signal: one file in which all channels play at once, each to be told apart."""

from argparse import ArgumentParser, Namespace
from pathlib import Path

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.terminal import Row, working

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
        "--count",
        metavar="N",
        type=int,
        help=f"so many channels; those of the rig, or {_CHANNELS} without one",
    )
    parser.add_argument(
        "--rate", metavar="HZ", type=int, default=48_000, help="samples a second; 48000 otherwise"
    )
    parser.add_argument(
        "--level", metavar="DBFS", type=float, default=-20.0, help="peak; -20 dBFS otherwise"
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
        if not -60 <= asked.level <= -3:
            raise CannotRun(
                Fault(
                    f"a level of {asked.level:g} dBFS is refused.",
                    "From -60 to -3 dBFS; -20 is a careful start.",
                )
            )
        channels, comment = count_of(asked)
        try:
            length_s = linecheck.write_signal(
                target,
                channels=channels,
                rate_hz=asked.rate,
                level_dbfs=asked.level,
                comment=comment,
            )
        except linecheck.Refused as error:
            raise CannotRun(Fault(error.says, error.fix)) from error
    return Answer(
        CLEAN,
        {
            "signal": str(target),
            "channels": channels,
            "rate_hz": asked.rate,
            "level_dbfs": asked.level,
            "length_s": round(length_s, 3),
        },
        (
            Row(str(target), lead="Test signal: ", lead_tone="strong"),
            Row(
                f"{channels} channels, {asked.rate} Hz, peaks at {asked.level:g} dBFS, "
                f"{length_s:.0f} s.",
                indent=2,
            ),
            Row(CAUTION, lead="Caution: ", lead_tone="strong"),
            Row(
                "Play its channel n into the plug of line n and record all channels of the mixer "
                f"meanwhile. Then: rigproof prove {target.name} RECORDED.wav"
            ),
        ),
    )


def count_of(asked: Namespace) -> tuple[int, str]:
    """How many channels, and what the file says of itself."""
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
