"""What a verdict covers and what not: a clean bill must not say more than was looked at."""

from collections.abc import Sequence

from rigproof.checks.rule import Rule

# A concern of such a rig -> the rules, or areas of rules, that look at it. A concern without any
# is named in every verdict, and so is the physical world, which no file can show.
CONCERNS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("level, headroom and noise along the paths", ("level.",)),
    ("hiss and loudness at the ear", ("hearing.",)),
    ("delay at the ears", ("delay.",)),
    ("loading of microphones by splits", ("split.load",)),
    ("volts left of 48 V at each microphone", ("phantom.volts-low",)),
    ("sound at the ears against a criterion for a day and a week", ("hearing.exposure",)),
    ("volts, amps, inrush and earth leakage", ("mains.",)),
    ("heat in the closed case", ("heat.",)),
    ("weight and balance", ("weight.",)),
    ("lengths of leads on the stage", ("lead.too-short",)),
    ("bandwidth and latency of the network", ("network.bandwidth",)),
    ("radio frequencies and intermodulation", ("radio.",)),
)
ALWAYS_UNSEEN = (
    "whether the rig was built as drawn: cables, plugs and solder joints",
    "the house's own lines, desk and mains",
    "settings inside the boxes that the file does not state",
    "the sound of the stage itself, how well earphones seal, and anybody's hearing",
)


def unseen(rules: Sequence[Rule]) -> tuple[str, ...]:
    """The concerns that none of these rules looks at."""
    ids = [rule.id for rule in rules]
    missing = [
        concern
        for concern, prefixes in CONCERNS
        if not any(identifier.startswith(prefixes) for identifier in ids)
    ]
    return (*missing, *ALWAYS_UNSEEN)
