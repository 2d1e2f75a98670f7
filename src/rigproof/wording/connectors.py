"""Connectors as people say them. Names are those that the rig file uses: a family and a gender."""

# Where pins or holes show, as XLR, people say male and female; else they say plug and socket.
_SEXED = {
    "xlr": "XLR",
    "xlr4": "four-pin XLR",
    "xlr5": "five-pin XLR",
}
_FAMILIES = {
    "combo": "combined XLR and jack",
    "jack-ts": "two-pole jack",
    "jack-trs": "three-pole jack",
    "mini-ts": "small two-pole jack",
    "mini-trs": "small three-pole jack",
    "mini-trrs": "small four-pole jack",
    "rca": "phono",
    "db25": "25-way D-sub",
    "multipin": "multipin",
    "rj45": "network",
    "rj45-lock": "locking network",
    "bnc": "BNC",
    "toslink": "optical audio",
    "lc": "fibre (LC)",
    "usb-a": "USB A",
    "usb-b": "USB B",
    "usb-c": "USB C",
    "din5": "five-pin DIN",
    "antenna": "antenna",
    "speaker-twist": "locking loudspeaker",
    "mains-twist": "locking mains",
    "bs-1363": "BS 1363 mains",
    "nema-5-15": "NEMA 5-15 mains",
    "dc": "DC supply",
}
# Named by their standard, gender and all: IEC 60320 counts plugs and sockets through.
_WHOLE = {
    "cee-7-3": "CEE 7/3 mains socket",
    "cee-7-7": "CEE 7/7 mains plug",
    "cee-7-16": "flat CEE 7/16 mains plug",
    "capsule": "capsule thread",
    "air": "way through the air",
    "bare": "bare end",
}
# Letters whose names begin with a vowel: an XLR, but a USB. Longer words of capitals are spoken.
_VOWELS, _SPELLED = frozenset("aeiouAEIOU"), frozenset("AEFHILMNORSX")


def connector(name: str) -> str:
    """A connector in words, without an article; a name of no standard as it is.

    Derived: trade usage.

    >>> connector("xlr-m"), connector("jack-trs-f"), connector("iec-c13")
    ('XLR male', 'three-pole jack socket', 'IEC C13')
    """
    if name in _WHOLE:
        return _WHOLE[name]
    if name.startswith("iec-"):
        return name.replace("-", " ").upper()
    family, _, gender = name.rpartition("-")
    if gender not in {"m", "f"}:
        return name
    if family in _SEXED:
        return f"{_SEXED[family]} {'male' if gender == 'm' else 'female'}"
    if family in _FAMILIES:
        return f"{_FAMILIES[family]} {'plug' if gender == 'm' else 'socket'}"
    return name


def a_connector(name: str) -> str:
    """A connector in words with its article.

    Derived: English usage.

    >>> a_connector("xlr-f"), a_connector("usb-b-m"), a_connector("rca-f")
    ('an XLR female', 'a USB B plug', 'a phono socket')
    """
    words = connector(name)
    first = words.partition(" ")[0]
    spelled = first.isupper() and 1 < len(first) < 4
    sounds = words[:1] in _SPELLED if spelled else words[:1] in _VOWELS
    return f"{'an' if sounds else 'a'} {words}"
