"""A house that insists on its own split: our sources go into that, and we take what comes out.

The order stays ours and the plugs stay where they are: the page maps our numbers to theirs. What
begins in a box of our case cannot be plugged in their split, and comes by our own tail as ever.
"""

from collections.abc import Sequence

from rigproof.handoff import HandOff, HouseLine
from rigproof.showbook.edition import Edition
from rigproof.wording import ranges


def theirs(hand: HandOff) -> bool:
    """Whether this house puts its own split before ours."""
    return hand.venue.desk.own_split and hand.venue.desk.takes == "tails"


def through(hand: HandOff) -> list[HouseLine]:
    """The lines that go through their split: those that need nothing of our rack to sound."""
    return [line for line in hand.used if line.works_off and line.means == "tail"]


def from_our_case(hand: HandOff) -> list[HouseLine]:
    """The lines that begin in a powered box of ours: no plug of theirs is on the stage."""
    split = through(hand)
    return [line for line in hand.used if line not in split]


def handed(hand: HandOff, edition: Edition) -> list[str]:
    """What the house finds where its own split stands first."""
    split, ours = through(hand), from_our_case(hand)
    said = []
    if split:
        said += [
            edition.say("hand-off.split_first", n=len(split), numbers=_numbers(split)),
            edition.say("hand-off.second_outputs", n=len(split)),
            edition.say("hand-off.nothing_moves"),
        ]
    if ours:
        said.append(edition.say("hand-off.not_through", lines=_named(ours, edition)))
    else:
        said.append(edition.say("hand-off.tails_stay"))
    return said


def phantom_words(
    wanting: Sequence[HouseLine], never: Sequence[HouseLine], edition: Edition
) -> list[str]:
    """Who can feed 48 V depends on which output of their split we are given."""
    said = []
    if wanting:
        said.append(edition.say("hand-off.split_wants", numbers=_numbers(wanting)))
    if never:
        said.append(edition.say("hand-off.never_on", numbers=_numbers(never)))
    return said


def rack_dead(hand: HandOff, edition: Edition) -> list[str]:
    """What is left when our rack is gone: their split does not hang on it."""
    split, ours = through(hand), from_our_case(hand)
    said = []
    if split:
        said.append(edition.say("hand-off.split_dead", numbers=_numbers(split)))
    if ours:
        said.append(edition.say("hand-off.silent_with", numbers=_named(ours, edition)))
    return said


def _numbers(lines: Sequence[HouseLine]) -> str:
    return ranges(line.number for line in lines)


def _named(lines: Sequence[HouseLine], edition: Edition) -> str:
    names = edition.listed(dict.fromkeys(line.source.name for line in lines if line.source))
    if not names:
        return _numbers(lines)
    return edition.say("hand-off.numbers_named", numbers=_numbers(lines), names=names)
