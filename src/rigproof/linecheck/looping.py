"""Measure a rig in one go: listen first, play low, then play the test signal and record it."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import msgspec

from rigproof.linecheck.lineup import Refused
from rigproof.linecheck.score import Score, mark, rendered
from rigproof.linecheck.sounding import Card, exchange

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

LISTEN_S = 1.0
PROBE_S = 1.0
PROBE_DB = -20.0  # under the level of the signal
LOUD_DBFS = -30.0  # a channel that peaks higher with nothing playing is not at rest
ROOM_DBFS = -1.0
TRIES = 3


class Loop(msgspec.Struct, frozen=True):
    """A measurement as it was played and recorded. `tries`: how often it took."""

    score: Score
    level_dbfs: float
    recorded: "Frames"
    tries: int


def loop(
    card: Card,
    *,
    level_dbfs: float,
    under_db: Sequence[float] = (),
    progress: Callable[[str, float], None] = lambda _, __: None,
) -> Loop:
    """Play the test signal for the card's outputs and record its inputs.

    `under_db`: how far each output plays under the loudest.

    Raises:
        Refused: something is loud already, would clip, or the computer cannot keep up.
    """
    try:
        score = Score(card.outputs, card.rate_hz, tuple(under_db[: card.outputs]))
        return _loop(card, score, level_dbfs, progress)
    except TimeoutError as error:
        raise Refused(
            "the sound card hands over no sound any more.", "Is it still plugged in and running?"
        ) from error


def _loop(
    card: Card, score: Score, level_dbfs: float, progress: Callable[[str, float], None]
) -> Loop:
    import numpy as np

    rest = np.zeros((int(LISTEN_S * card.rate_hz), card.outputs), np.float32)
    heard = exchange(card, rest, progress=lambda share: progress("listen", share)).recorded
    channel, peak_dbfs = _loudest(heard)
    if peak_dbfs > LOUD_DBFS:
        raise Refused(
            f"channel {channel} is at {peak_dbfs:.0f} dBFS already, with nothing playing.",
            "Let nobody play, mute what sounds by itself, turn the preamps down; then again.",
        )
    probe = np.zeros((int(PROBE_S * card.rate_hz), card.outputs), np.float32)
    sound = mark(rate_hz=card.rate_hz, last=False) * 10 ** ((level_dbfs + PROBE_DB) / 20)
    shares = np.array([10 ** (-score.under(output) / 20) for output in range(card.outputs)])
    probe[: len(sound)] = sound[:, None] * shares
    heard = exchange(card, probe, progress=lambda share: progress("probe", share)).recorded
    channel, peak_dbfs = _loudest(heard)
    if peak_dbfs - PROBE_DB > ROOM_DBFS:
        lower = int(level_dbfs - (peak_dbfs - PROBE_DB - ROOM_DBFS)) - 1
        raise Refused(
            f"channel {channel} would clip: the signal, played {-PROBE_DB:.0f} dB lower first, "
            f"came back at {peak_dbfs:.0f} dBFS.",
            f"Turn its preamp down, or play lower: --level {lower}",
        )
    made = rendered(score, level_dbfs=level_dbfs)
    # What is under way when the last sample is played must still be recorded.
    signal = np.concatenate((made, np.zeros((card.rate_hz // 2, card.outputs), np.float32)))
    for tried in range(1, TRIES + 1):
        passage = exchange(card, signal, progress=lambda share: progress("play", share))
        if not passage.faults:
            return Loop(score, level_dbfs, np.ascontiguousarray(passage.recorded), tried)
    raise Refused(
        f"the computer lost sound {passage.faults} times in the last of {TRIES} goes.",
        "Close other programs, give the sound server larger blocks (1024 frames), and try again.",
    )


def _loudest(heard: "Frames") -> tuple[int, float]:
    """The channel with the highest peak, from 1, and that peak in dBFS."""
    import numpy as np

    peaks = np.abs(heard).max(axis=0)
    channel = int(peaks.argmax())
    return channel + 1, 20 * float(np.log10(max(float(peaks[channel]), 1e-9)))
