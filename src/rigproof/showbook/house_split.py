"""A house that insists on its own split: our sources go into that, and we take what comes out.

The order stays ours and the plugs stay where they are: the page maps our numbers to theirs. What
begins in a box of our case cannot be plugged in their split, and comes by our own tail as ever.
"""

from collections.abc import Sequence

from rigproof.handoff import HandOff, HouseLine
from rigproof.wording import counted, listed, noun, ranges


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


def handed(hand: HandOff) -> list[str]:
    """What the house finds where its own split stands first."""
    split, ours = through(hand), from_our_case(hand)
    said = []
    if split:
        said += [
            f"Your split comes first: our {noun(len(split), 'line')} {_numbers(split)} "
            f"{'goes' if len(split) == 1 else 'go'} into it, not into ours.",
            f"We need its second outputs at our case: {counted(len(split), 'plug')}, XLR male, "
            "each labelled with our number.",
            "Nothing is re-plugged on our side: the table says which of your lines is which "
            "number of ours.",
        ]
    if ours:
        said.append(
            f"Not through your split: {_named(ours)} comes out of our case. Take it from our tail."
        )
    else:
        said.append("Our tails stay in the case.")
    return said


def phantom_words(wanting: Sequence[HouseLine], never: Sequence[HouseLine]) -> list[str]:
    """Who can feed 48 V depends on which output of their split we are given."""
    said = []
    if wanting:
        said.append(
            f"{_numbers(wanting)} want it. If you give us isolated outputs, you feed; if direct "
            "ones, agree with us on one."
        )
    if never:
        said.append(f"Never on {_numbers(never)}.")
    return said


def rack_dead(hand: HandOff) -> list[str]:
    """What is left when our rack is gone: their split does not hang on it."""
    split, ours = through(hand), from_our_case(hand)
    said = []
    if split:
        said.append(f"Still there: {_numbers(split)}, but for 48 V that came from us.")
    if ours:
        said.append(f"Silent with the rack: {_named(ours)}.")
    return said


def _numbers(lines: Sequence[HouseLine]) -> str:
    return ranges(line.number for line in lines)


def _named(lines: Sequence[HouseLine]) -> str:
    names = listed(dict.fromkeys(line.source.name for line in lines if line.source))
    return f"{_numbers(lines)} ({names})" if names else _numbers(lines)
