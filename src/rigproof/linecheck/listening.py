"""Listen to a recording: one pass for figures, a closer look where it is needed, findings."""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from rigproof.linecheck.clocking import Drift, drifts
from rigproof.linecheck.comparing import GRADES
from rigproof.linecheck.describing import described, level_step
from rigproof.linecheck.gathering import BANK, Gathered, Gatherer
from rigproof.linecheck.guessing import guesses
from rigproof.linecheck.judging import Judge
from rigproof.linecheck.lineup import Lineup
from rigproof.linecheck.looking import breaks, hums, tops
from rigproof.linecheck.noticing import ChannelSound, Heard, Noticed, Related
from rigproof.linecheck.pairing import Pairing
from rigproof.linecheck.reading import Progress, lines_of, read_through, silently
from rigproof.linecheck.siding import sided
from rigproof.linecheck.taking import Reader, Take, opened, stretches
from rigproof.linecheck.tuning import tuned
from rigproof.linecheck.weighing import STEP_S


def listen(path: Path, lineup: Lineup | None = None, *, progress: Progress = silently) -> Heard:
    """Everything that a recording tells.

    `progress` gets the share of the recording that was read. KeyboardInterrupt while reading ends
    the reading, and what was read until then is judged.

    Raises:
        Refused: it cannot be read, with what to do.
    """
    take = opened(path)
    gatherer = Gatherer(channels=take.channels, rate_hz=take.rate_hz, frames=take.frames)
    reading = read_through(take, stretches(take), gatherer, progress)
    lines, beyond = lines_of(take, lineup)
    return _judged(take, reading.found, lines, said=reading.said + beyond, whole=reading.whole)


def _judged(
    take: Take, gathered: Gathered, lineup: Lineup, *, said: tuple[str, ...], whole: bool
) -> Heard:
    channels = described(gathered, lineup)
    judge = Judge(gathered, channels, lineup)
    found: list[Noticed]
    related: tuple[Related, ...] = ()
    if gathered.peak.max() <= 0:
        found = [
            judge.noticed(
                1, "silent", "fail", float(gathered.peak.max()), "of full scale", 0,
                "there is no signal at all: every sample of every channel is nought. Was anything "
                "armed, and was it the right file?",
                others=tuple(range(2, gathered.channels + 1)),
            )
        ]  # fmt: skip
    else:
        with Reader(take) as reader:
            found, related, channels = _looked(reader, gathered, judge, take)
    return Heard(
        length_s=take.length_s,
        read_s=gathered.frames / gathered.rate_hz,
        rate_hz=take.rate_hz,
        whole=whole,
        said=said,
        level_step_s=level_step(gathered.steps) * STEP_S,
        channels=channels,
        related=related,
        findings=tuple(
            sorted(found, key=lambda one: (-GRADES.index(one.grade), one.channel, one.kind))
        ),
        not_looked=tuple(_not_looked(gathered, lineup)),
    )


def _looked(
    reader: Reader, gathered: Gathered, judge: Judge, take: Take
) -> tuple[list[Noticed], tuple[Related, ...], tuple[ChannelSound, ...]]:
    import msgspec

    hum = hums(reader, gathered)
    channels = tuple(
        msgspec.structs.replace(one, hum=hum.get(one.number - 1)) for one in judge.channels
    )
    pairing = Pairing(judge, gathered)
    # Clocks take as long as all the rest together, and nothing of the rest.
    aside = ThreadPoolExecutor(1)
    clocks = aside.submit(_clocks, take, gathered, list(pairing.wandering()))
    clipping = list(judge.clipping(list(tops(reader, gathered))))
    found = [
        *judge.presence(dict(take.short)),
        *judge.offsets(),
        *clipping,
        *judge.hot({one.channel for one in clipping}),
        *judge.breaks(list(breaks(reader, gathered))),
        *judge.hums(hum),
        *judge.hiss(),
        *judge.combs(),
        *pairing.findings(),
        *pairing.crosstalk(),
        *pairing.sides(sided(reader, gathered, pairing.facing())),
        *pairing.pitches(tuned(reader, gathered, pairing.tunable())),
        *pairing.clocks(clocks.result()),
    ]
    aside.shutdown()
    for guess in guesses(gathered, channels, judge.lineup):
        found.append(
            judge.noticed(
                guess.one, "swapped", "doubt", guess.sure_ratio, "likelihood", 0.5,
                f"channels {judge.name(guess.one)} and {judge.name(guess.other)} sound as if each "
                "were the other: listen to both before you move a plug.",
                sure_ratio=guess.sure_ratio, others=(guess.other,),
            )
        )  # fmt: skip
    return found, pairing.related(), channels


def _clocks(take: Take, gathered: Gathered, asked: Sequence[tuple[int, int]]) -> list[Drift]:
    with Reader(take) as reader:
        return list(drifts(reader, gathered, asked))


def _not_looked(gathered: Gathered, lineup: Lineup) -> Iterator[str]:
    if not any(line.known for line in lineup.values()):
        yield "which source belongs on which channel: no rig and no list was named"
    if not any(line.pair for line in lineup.values()):
        yield "stereo pairs: none is known"
    if gathered.channels > BANK:
        yield f"channels against those of another bank of {BANK}"
    if gathered.frames < 10 * gathered.rate_hz:
        yield "clocks, and what comes back only now and then: the recording is short"
    yield "wrong pitch by whole semitones, and of what has no steady tuning: voices, drums, slides"
