"""What the pages of figures share, worked out once per book."""

from functools import cached_property

import msgspec

from rigproof.checks.rule import View
from rigproof.signal.gainplan import EarPlan, GainPlan, NoPlan, plan_gains
from rigproof.signal.levels import Levels


class Reckoned(msgspec.Struct, frozen=True, dict=True):
    """The usual night with the figures that no rule asks for."""

    view: View

    @cached_property
    def levels(self) -> Levels:
        """Levels hop by hop, with every share of a hiss."""
        return self.view.levels

    @cached_property
    def plan(self) -> GainPlan | NoPlan:
        """Where every knob should stand."""
        return plan_gains(self.view.levels)

    @property
    def tape(self) -> GainPlan | None:
        """The plan where it may be written on tape: not while a level is missing from its sums.

        Turned up to the wish without it, ears would get the missing sound on top.
        """
        plan = self.plan
        if not isinstance(plan, GainPlan) or (plan.missing and plan.moves):
            return None
        return plan

    def ear_plan(self, person: str) -> EarPlan | None:
        """What the plan does at one pair of ears."""
        if isinstance(self.plan, NoPlan):
            return None
        return next((ear for ear in self.plan.ears if ear.person == person), None)
