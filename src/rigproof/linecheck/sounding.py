"""Playing and recording at once: what one passage of sound through a card needs, whichever card.

A passage is handed over before the first block and filled block by block from the card's own
thread, which allocates nothing and decides nothing. Stopping fades out within one block.
"""

import threading
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Frames = NDArray[np.float32]

_TICK_S = 0.1
# A card that hands over no block for so long is gone.
PATIENCE_S = 5.0


class Passage:
    """Sound to be played and room for what comes back, frames by channels; works block by block."""

    def __init__(self, played: "Frames", *, inputs: int) -> None:
        import numpy as np

        # By channels first: a block of each then lies in one piece.
        self._played = np.ascontiguousarray(played.T)
        self._recorded = np.zeros((inputs, len(played)), np.float32)
        self._length = len(played)
        self._at = 0
        self._stopping = False
        self.faults = 0  # x-runs: blocks that came too late or were lost
        self.ended = threading.Event()

    @property
    def share(self) -> float:
        """How much of it is through, from 0 to 1."""
        return self._at / self._length

    @property
    def recorded(self) -> "Frames":
        """What came back, frames by channels."""
        return self._recorded.T

    def stop(self) -> None:
        """Fade out with the next block, and play nothing any more."""
        self._stopping = True

    def block(self, taken: "Sequence[Frames]", given: "Sequence[Frames]") -> None:
        """One block: one row for each channel. All inputs are read before an output is written."""
        size = min(len((taken or given)[0]), self._length - self._at)
        if size > 0 and not self.ended.is_set():
            for row, samples in zip(self._recorded, taken, strict=True):
                row[self._at : self._at + size] = samples[:size]
        for row, samples in zip(self._played, given, strict=True):
            samples[:] = 0
            if size > 0 and not self.ended.is_set():
                samples[:size] = row[self._at : self._at + size]
                if self._stopping:
                    samples *= _falling(len(samples))
        self._at += max(0, size)
        if self._stopping or self._at >= self._length:
            self.ended.set()


def _falling(size: int) -> "Frames":
    import numpy as np

    return np.linspace(1, 0, size, dtype=np.float32)


class Card(Protocol):
    """A sound card, or a server in front of one, opened for some channels out and in."""

    rate_hz: int
    outputs: int
    inputs: int

    def begin(self, passage: Passage) -> None:
        """Let the card's thread work on this passage from its next block on."""

    def close(self) -> None:
        """Play silence and let go."""


def exchange(
    card: Card, played: "Frames", *, progress: Callable[[float], None] = lambda _: None
) -> Passage:
    """Play a passage and record it; if stopped by the user, fade out first.

    Raises:
        TimeoutError: the card hands over nothing any more.
    """
    passage = Passage(played, inputs=card.inputs)
    card.begin(passage)
    still, before = 0.0, -1.0
    try:
        while not passage.ended.wait(_TICK_S):
            progress(passage.share)
            still = still + _TICK_S if passage.share == before else 0.0
            before = passage.share
            if still > PATIENCE_S:
                raise TimeoutError
    except BaseException:  # above all Ctrl-C: whatever it is, the rig must fall silent first
        passage.stop()
        passage.ended.wait(1.0)
        raise
    progress(1.0)
    return passage
