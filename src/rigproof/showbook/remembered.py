"""What was made of the very same data before, and is not made again.

Most of a set of papers stays as it was when a name changes. Each part is known by all that it is
made of, never by which object that is: whatever differs is made anew, so nothing old can show.
"""

import hashlib
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, Generic, TypeVar

import msgspec

Made = TypeVar("Made")


def told_plainly(value: object) -> object:
    """Texts and figures that know more of themselves, as the plain ones that they are."""
    if isinstance(value, str):
        return str(value)
    if isinstance(value, float):
        return float(value)
    raise NotImplementedError(f"a {type(value).__name__}")


class Remembered(Generic[Made]):
    """Makes parts from data, and keeps what it made last up to so many letters or bytes.

    `make` gets the data as plain values; `size` tells how large a part is.
    """

    def __init__(
        self, make: Callable[[Any], Made], size: Callable[[Made], int], *, most: int = 4_000_000
    ) -> None:
        self._make, self._size, self._most = make, size, most
        self._kept: OrderedDict[bytes, Made] = OrderedDict()
        self._held = 0

    def __call__(self, data: object, letters: Callable[[object], object] = told_plainly) -> Made:
        """The part made of these data. `letters` turns what is no plain value into one."""
        # Not as JSON, in which a figure that is none would be the same as no figure.
        whole = msgspec.msgpack.encode(data, enc_hook=letters)
        key = hashlib.sha256(whole).digest()
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        made = self._make(msgspec.msgpack.decode(whole))
        self._kept[key] = made
        self._held += self._size(made)
        while self._held > self._most and len(self._kept) > 1:
            self._held -= self._size(self._kept.popitem(last=False)[1])
        return made
