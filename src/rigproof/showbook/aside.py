"""A thread of its own for an engine that works outside Python, while the rest is written."""

import ctypes
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import cache

STACK_BYTES = 16 << 20

_M_ARENA_MAX = -8  # of mallopt(3), the C library of Linux


def thread(name: str) -> ThreadPoolExecutor:
    """One thread with a stack that an engine's recursion fits into.

    On some systems a thread gets 0.5 MB of stack unless told otherwise.
    """
    _share_one_heap()
    before = threading.stack_size(STACK_BYTES)
    try:
        made = ThreadPoolExecutor(max_workers=1, thread_name_prefix=name)
        made.submit(int).result()
    finally:
        threading.stack_size(before)
    return made


@cache
def _share_one_heap() -> None:
    """Let all threads use one heap, where the C library gives each its own.

    What an engine gives back could not be used by the others: a tenth of the memory of a whole set
    of papers. They seldom ask at the same moment.
    """
    if sys.platform == "linux":
        with suppress(AttributeError, OSError):  # not all of them have it
            ctypes.CDLL(None).mallopt(_M_ARENA_MAX, 1)
