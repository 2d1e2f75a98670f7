"""No collecting of garbage while a rig is read or drawn.

A large rig is hundreds of thousands of small objects that all stay. The collector would walk them
again and again as they grow, and make the work cost more than its share of the rig.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collecting() -> Iterator[None]:
    """Keep the collector off within the block, and as it was after it."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
