"""What a verdict covers and what not: a clean bill must not say more than was looked at."""

from collections.abc import Sequence

from rigproof.checks.rule import Rule
from rigproof.wording.phrases import Language, phrase

# A concern of such a rig, by its phrase -> the rules, or areas of rules, that look at it. A concern
# without any is named in every verdict, and so is the physical world, which no file can show.
CONCERNS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("unseen.level", ("level.",)),
    ("unseen.hearing", ("hearing.",)),
    ("unseen.delay", ("delay.",)),
    ("unseen.loading", ("split.load",)),
    ("unseen.phantom", ("phantom.volts-low",)),
    ("unseen.exposure", ("hearing.exposure",)),
    ("unseen.mains", ("mains.",)),
    ("unseen.heat", ("heat.",)),
    ("unseen.weight", ("weight.",)),
    ("unseen.lengths", ("lead.too-short",)),
    ("unseen.bandwidth", ("network.bandwidth",)),
    ("unseen.radio", ("radio.",)),
)
ALWAYS_UNSEEN = ("unseen.built", "unseen.house", "unseen.settings", "unseen.stage")


def unseen(rules: Sequence[Rule], language: Language = "en") -> tuple[str, ...]:
    """The concerns that none of these rules looks at."""
    ids = [rule.id for rule in rules]
    missing = [
        concern
        for concern, prefixes in CONCERNS
        if not any(identifier.startswith(prefixes) for identifier in ids)
    ]
    return tuple(phrase(language, key) for key in (*missing, *ALWAYS_UNSEEN))
