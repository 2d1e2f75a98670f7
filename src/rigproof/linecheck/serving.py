"""A few places of a take to read that serve all channels, each nearly as well as its own would."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def serving(
    scores: "NDArray[np.floating]", *, parts: int, places: int, least: float
) -> Iterator[tuple[int, list[int]]]:
    """Of each part of the columns those that raise the sum of the rows' best scores most.

    `scores`: channels by places. `places`: how many of a part at most. `least`: what does not count
    for a channel. Yields each place with the channels that have none better, in order.
    """
    import numpy as np

    for part in np.array_split(np.arange(scores.shape[1]), parts):
        here = scores[:, part]
        best, picked = np.full(len(scores), least), np.full(len(scores), -1)
        for _ in range(min(places, len(part))):
            more = np.maximum(here - best[:, None], 0).sum(axis=0)
            top = int(np.argmax(more))
            if more[top] <= 0:
                break
            better = here[:, top] > best
            best[better], picked[better] = here[better, top], top
        for top in sorted({*picked.tolist()} - {-1}):
            yield int(part[top]), np.flatnonzero(picked == top).tolist()
