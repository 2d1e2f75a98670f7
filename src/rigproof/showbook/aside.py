"""A thread of its own for an engine that works outside Python, while the rest is written."""

import threading
from concurrent.futures import ThreadPoolExecutor

STACK_BYTES = 16 << 20


def thread(name: str) -> ThreadPoolExecutor:
    """One thread with a stack that an engine's recursion fits into.

    On some systems a thread gets 0.5 MB of stack unless told otherwise.
    """
    before = threading.stack_size(STACK_BYTES)
    try:
        made = ThreadPoolExecutor(max_workers=1, thread_name_prefix=name)
        made.submit(int).result()
    finally:
        threading.stack_size(before)
    return made
