"""Stretches of a recording, looked at in threads some at a time, and joined in their order."""

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Generic, TypeVar

T = TypeVar("T")
_WORKERS, _WAITING = 2, 2


class InOrder(Generic[T]):
    """Looks at stretches in threads and hands out what each shows, in the order they came.

    With it comes the place where the stretch begins. Ctrl-C may come anywhere in what is done with
    it; it is then handed out once more, so whoever counts has to know by the place what is counted.
    """

    def __init__(self) -> None:
        self.pool = ThreadPoolExecutor(_WORKERS)
        self.coming: deque[tuple[int, Future[T]]] = deque()

    def look(self, place: int, work: Callable[[], T]) -> Iterator[tuple[int, T]]:
        """Have a stretch looked at; what is known of those before, if too many wait."""
        self.coming.append((place, self.pool.submit(work)))
        return self._beyond(_WORKERS + _WAITING)

    def rest(self) -> Iterator[tuple[int, T]]:
        """What all others show."""
        return self._beyond(0)

    def _beyond(self, waiting: int) -> Iterator[tuple[int, T]]:
        while len(self.coming) > waiting:
            place, one = self.coming[0]
            yield place, one.result()
            self.coming.popleft()
