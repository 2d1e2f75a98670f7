"""Play the test signal into a rig and record what comes back at once; then tell as prove does."""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from pathlib import Path

from rigproof.cli.answer import Answer, CannotRun, Fault
from rigproof.cli.prove import on_paper, plan_of, refuse_targets, told
from rigproof.cli.signal import CAUTION, count_of, how_loud, loudness_of, refuse_levels
from rigproof.cli.terminal import Row, working, write

FILE = "take.wav"
_DOES = {"listen": "Listening", "probe": "Playing low", "play": "Measuring"}


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof measure` takes."""
    parser.add_argument(
        "rig", metavar="RIG", nargs="?", help="a folder or its file: names, plugs, planned figures"
    )
    parser.add_argument(
        "-o", "--output", metavar="TAKE.wav", default=FILE, help=f"{FILE} when left out"
    )
    parser.add_argument(
        "--channels", metavar="LIST.csv", help="instead a list: number, name, pair, family"
    )
    parser.add_argument(
        "--count", metavar="N", type=int, help="so many channels; those of the rig otherwise"
    )
    parser.add_argument(
        "--through",
        metavar="jack|portaudio",
        choices=("jack", "portaudio"),
        help="JACK or PipeWire where it runs, otherwise PortAudio",
    )
    parser.add_argument("--device", metavar="NAME", help="the sound card; the usual one otherwise")
    parser.add_argument(
        "--rate", metavar="HZ", type=int, default=48_000, help="48000 otherwise; JACK has its own"
    )
    how_loud(parser)
    on_paper(parser)


def run(asked: Namespace) -> Answer:
    """Open the card, measure, write the take, compare, tell."""
    from rigproof import linecheck
    from rigproof.linecheck.cards import opened
    from rigproof.linecheck.looping import loop
    from rigproof.linecheck.measuring import read_take
    from rigproof.linecheck.score import MOST_CHANNELS
    from rigproof.linecheck.sound import write_sound

    target = Path(asked.output)
    if target.suffix.lower() != ".wav":
        raise CannotRun(
            Fault(f'the take is a WAV, and "{target}" does not end in .wav.', f"-o {FILE}")
        )
    refuse_levels(asked)
    if not 8_000 <= asked.rate <= 192_000:
        raise CannotRun(Fault(f"{asked.rate} Hz is no rate of sound.", "For example: --rate 48000"))
    refuse_targets(asked)
    plan = plan_of(asked)
    channels, _ = count_of(asked)
    if not 1 <= channels <= MOST_CHANNELS:
        raise CannotRun(
            Fault(
                f"{channels} channels cannot be measured at once.",
                f"--count, from 1 to {MOST_CHANNELS}",
            )
        )
    try:
        if sys.stderr.isatty():
            write(sys.stderr, f"{CAUTION}\n")
        loud = loudness_of(asked, channels)
        card = opened(asked.through, asked.device, channels=channels, rate_hz=asked.rate)
        try:
            made = loop(
                card, level_dbfs=loud.level_dbfs, under_db=loud.under_db, progress=_progress()
            )
        finally:
            card.close()
        with working("Reading what came back"):
            rate_hz = round(made.score.rate_hz)
            write_sound(target, made.recorded, rate_hz=rate_hz, comment="rigproof measure")
            take = read_take(made.recorded, rate_hz, made.score, level_dbfs=loud.level_dbfs)
            if take is None:
                raise linecheck.Refused(
                    "nothing of the signal came back.",
                    f"Is the loop plugged, and the right device named? What came is in {target}.",
                )
            answer = told(asked, plan, take, made.score.channels)
    except linecheck.Refused as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    short = (
        f"The card has {card.outputs} channels out and {card.inputs} in; {channels} were wanted."
        if min(card.outputs, card.inputs) < channels
        else ""
    )
    again = f"Lost sound; it took {made.tries} goes." if made.tries > 1 else ""
    rows = (
        Row(str(target), lead="Take: ", lead_tone="strong"),
        *(Row(text, indent=2) for text in (short, again) if text),
    )
    data = {
        **answer.result,
        "take": str(target),
        "outputs": card.outputs,
        "inputs": card.inputs,
        "tries": made.tries,
    }
    return Answer(answer.code, data, (*rows, *answer.rows))


def _progress() -> Callable[[str, float], None]:
    """Tells a person at a terminal what sounds now, and how far it is."""
    out = sys.stderr

    def tell(stage: str, share: float) -> None:
        if out.isatty():
            text = f"{_DOES[stage]} ... {100 * share:3.0f} % (Ctrl-C mutes)"
            write(out, f"\r{text}" + ("\r" + " " * len(text) + "\r" if share >= 1 else ""))

    return tell
