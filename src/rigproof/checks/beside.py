"""Work that another process does meanwhile, and hands back.

A large rig takes seconds for every night that is judged, and the nights do not need each other.
Where the system can copy a running process, which costs next to nothing, a copy takes some of the
nights. Everywhere else, and whenever the copy comes back with nothing, the work is done here: what
comes out is the same.
"""

import os
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

Made = TypeVar("Made")


def processes() -> int:
    """How many processes can work at a time; one where a copy of this one could not work.

    A copy has the thread that made it and no other. What another thread was about to do with
    something that both need, the copy would wait for without end; so there may be none but those
    that merely wait or tell how long it takes, beside the first one.
    """
    if not hasattr(os, "fork") or not hasattr(os, "sched_getaffinity"):
        return 1
    here = threading.current_thread()
    if here is not threading.main_thread():
        return 1
    if not all(other.daemon for other in threading.enumerate() if other is not here):
        return 1
    return len(os.sched_getaffinity(0))


@contextmanager
def beside(work: Callable[[], Made]) -> Iterator[Callable[[], Made]]:
    """Begin some work in a copy of this process; what is yielded waits for it and brings it.

    The work must change nothing that counts here: what it leaves in memory goes with the copy.
    """
    import multiprocessing  # by those who need it only: it takes as long as half a small check

    copying = multiprocessing.get_context("fork")
    here, there = copying.Pipe(duplex=False)
    copy = copying.Process(target=_send, args=(work, here, there), daemon=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of threads; `processes` has looked
        copy.start()
    there.close()

    def brought() -> Made:
        try:
            made: Made = here.recv()
        except (EOFError, OSError):  # it came to an end, whatever by: then here, errors and all
            return work()
        return made

    try:
        yield brought
    finally:
        here.close()
        copy.kill()
        copy.join()


def _send(work: Callable[[], Made], here: "Connection", there: "Connection") -> None:
    """In the copy: do the work and send what it made. Whoever waits is told nothing but that."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one at the keyboard is answered there
    here.close()
    with suppress(Exception):
        there.send(work())
