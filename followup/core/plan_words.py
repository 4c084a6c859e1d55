"""What a clinician has said for days to come, and what later findings leave of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from followup.core.plan_event import PlanAction, PlanInstruction, ProtocolChange
from followup.core.plan_reason import ReasonCode
from followup.core.plan_rest import Change, outlives
from followup.core.wear_day import PlanState

LESS = frozenset({PlanAction.SHORTER, PlanAction.RESTART})
FROM_CLINICIAN = {action: ReasonCode(f"clinician_{action.value}") for action in PlanAction}
STATES_SAID = {
    PlanAction.SAME_TIME: PlanState.SAME_TIME,
    PlanAction.SHORTER: PlanState.SAME_TIME,
    PlanAction.LEAVE_ON: PlanState.LEAVE_ON,
}


@dataclass(slots=True)
class ClinicianWords:
    """Instructions that wait for their day, in the order they were recorded.

    One that a later finding outweighs neither releases nor raises anything; it may still lower the step, so that a
    worse report never leads to more time than a better one.
    """

    waiting: list[PlanInstruction] = field(default_factory=list)
    outweighed: list[PlanInstruction] = field(default_factory=list)
    outweighed_changes: list[ProtocolChange] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.waiting or self.outweighed)

    def tell(self, word: PlanInstruction) -> None:
        """Take in an instruction; it replaces earlier ones from its date on."""
        self.waiting = [each for each in self.waiting if each.from_on < word.from_on] + [word]
        self.outweighed = [each for each in self.outweighed if each.from_on < word.from_on]

    def outlive(self, change: Change) -> None:
        """Keep what still holds after a change that the clinician did not know of."""
        self.waiting = [each for each in self.waiting if outlives(each, change)]

    def outweigh(self, changes: Sequence[Change]) -> None:
        """A finding came that the clinician did not know of: only "off" and what means less time still stand."""
        self.outweighed += [each for each in self.waiting if each.action in LESS or each.step is not None]
        self.waiting = [each for each in self.waiting if each.action is PlanAction.OFF]
        self.outweighed_changes = [each for each in changes if isinstance(each, ProtocolChange)]

    def is_outweighed(self, change: ProtocolChange) -> bool:
        """True where a finding came after that change was recorded and before its day."""
        return any(each is change for each in self.outweighed_changes)

    def due(self, on: date) -> tuple[list[PlanInstruction], list[PlanInstruction]]:
        """The instructions whose day has come, taken from the list: those that hold, and those outweighed."""
        found = [each for each in self.waiting if each.from_on <= on]
        outweighed = [each for each in self.outweighed if each.from_on <= on]
        self.waiting = [each for each in self.waiting if each.from_on > on]
        self.outweighed = [each for each in self.outweighed if each.from_on > on]
        return found, outweighed
