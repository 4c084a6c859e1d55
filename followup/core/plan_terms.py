"""What of a plan does not change from day to day: the ladder for this wearer, and what their precautions ask for."""

from __future__ import annotations

from dataclasses import dataclass

from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_protocol import WearProtocol, mark_limit
from followup.core.wearing_goal import WearingGoal

WATCHED = frozenset({Precaution.REDUCED_SENSATION, Precaution.CANNOT_REPORT, Precaution.CHILD})


@dataclass(frozen=True, slots=True)
class PlanTerms:
    """What does not change from day to day.

    Which precaution asks for what, and why: `protective` is never reduced or stopped by the program (after fracture
    or surgery, S18; derived). `by_touch`: reduced sensation asks for a second look, by touch too (S13, S15).
    `advances_itself`: who cannot report discomfort is never raised by the program (Black 2013). `watched`: reduced
    sensation, cannot report, child (Black 2013; Great Ormond Street Hospital): no silence is allowed, and seven clear
    days at full wear are asked for (common practice).
    """

    protocol: WearProtocol
    goal: WearingGoal
    mark_limit_minutes: int
    top: int
    protective: bool
    by_touch: bool
    cannot_stand_alone: bool
    advances_itself: bool
    watched: bool

    @classmethod
    def of(
        cls,
        protocol: WearProtocol,
        goal: WearingGoal,
        precautions: frozenset[Precaution],
        without: WithoutOrthosis,
    ) -> PlanTerms:
        """The terms of one wearer's plan."""
        return cls(
            protocol=protocol,
            goal=goal,
            mark_limit_minutes=mark_limit(protocol, precautions),
            top=protocol.steps_to(goal.full_wear_minutes, goal.range_end),
            protective=Precaution.PROTECTIVE in precautions,
            by_touch=Precaution.REDUCED_SENSATION in precautions,
            cannot_stand_alone=without.cannot_stand_alone,
            advances_itself=Precaution.CANNOT_REPORT not in precautions,
            watched=bool(precautions & WATCHED),
        )

    def target(self, step: int) -> int:
        """The minutes of a wear step for this wearer."""
        return self.protocol.target(step, self.goal)

    def step_down(self, step: int) -> int:
        """The nearest lower step with less time; the same step where there is none."""
        now = self.target(step)
        return next((lower for lower in range(step - 1, 0, -1) if self.target(lower) < now), step)
