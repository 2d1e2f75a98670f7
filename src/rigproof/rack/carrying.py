"""Whether people can carry the case, held against two published screens.

Neither says that a lift hurts nobody. Both are for two hands, a good floor and healthy adults;
stairs, vans, one hand, wet grass, bad backs and pregnancy are outside. Local rules and a
competent person come first, and more people or a ramp beat any figure here.
"""

from collections.abc import Sequence

import msgspec

from rigproof.physics import lifting
from rigproof.rig.spread import Likely
from rigproof.wording.sentences import sentence

# A case is gripped by handles at its sides, at knee height, and put on a van's floor. Common
# practice, no source.
HANDS_AHEAD_CM = 40.0
HANDS_UP_CM = 50.0
RAISED_CM = 50.0

LEFT_OUT = (
    sentence("stairs and slopes"),
    sentence("carrying over a distance"),
    sentence("handles too low, too far apart or missing"),
    sentence("a load that shifts"),
    sentence("one hand, haste, wet ground, the dark"),
    sentence("bad backs, pregnancy, the very young and the old"),
)


class Carry(msgspec.Struct, frozen=True):
    """A weight against the guideline weights of so many people, and the lifting equation.

    The guideline weights are for men, or for women and men in turn, lifting close to the body
    between knuckle and elbow: the best of all zones. Beyond them the guidance asks for a closer
    look, no more.
    """

    weight_kg: Likely
    people: int
    each_kg: Likely
    guideline_men_kg: float
    guideline_mixed_kg: float
    recommended_kg: float  # for one person, by the lifting equation
    index_ratio: float  # of each one's even share; above 1 some people's risk is raised
    assumed: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def beyond_guideline(self) -> bool:
        return self.weight_kg.value > self.guideline_men_kg


def carry(weight_kg: Likely, *, people: int) -> Carry:
    """What the screens say of a lift by so many people."""
    recommended = lifting.recommended_kg(
        horizontal_cm=HANDS_AHEAD_CM, vertical_cm=HANDS_UP_CM, distance_cm=RAISED_CM
    )
    each = weight_kg.times(1 / people)
    mixed: list[lifting.Who] = ["women" if number % 2 else "men" for number in range(1, people + 1)]
    return Carry(
        weight_kg,
        people,
        each,
        guideline_kg(["men"] * people),
        guideline_kg(mixed),
        recommended,
        lifting.lifting_index_ratio(load_kg=each.value, recommended_kg=recommended),
        (
            sentence(
                "hands {hands_ahead_cm:g} cm ahead of the ankles, {hands_up_cm:g} cm up, "
                "raised by {raised_cm:g} cm, good handles, no twist, now and then",
                hands_ahead_cm=HANDS_AHEAD_CM,
                hands_up_cm=HANDS_UP_CM,
                raised_cm=RAISED_CM,
            ),
            sentence("an even share each; the equation itself is for one person"),
        ),
        LEFT_OUT,
    )


def guideline_kg(people: Sequence[lifting.Who]) -> float:
    """What these people lift together by the guideline, close to the body at waist height."""
    return lifting.team_kg(
        [lifting.guideline_kg(who=who, zone="knuckle to elbow") for who in people]
    )


def people_for(weight_kg: float) -> int | None:
    """The fewest men whose guideline weight is enough; None where no team is."""
    for people in (1, 2, 3):
        if guideline_kg(["men"] * people) >= weight_kg:
            return people
    return None
