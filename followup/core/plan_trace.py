"""What a replay took in and went by for each day, kept on request so that a plan can be explained."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from followup.core.plan_event import PlanEvent
from followup.core.plan_terms import PlanTerms
from followup.core.skin_check import Judgement


@dataclass(frozen=True, slots=True)
class Heard:
    """An event as it was taken in before the day `issuing_on` was issued; a check comes with its `judgement`."""

    event: PlanEvent
    issuing_on: date
    judgement: Judgement | None = None


@dataclass(slots=True)
class PlanTrace:
    """Filled by a replay: every event it heard, in that order, and the terms each of its days was issued under."""

    heard: list[Heard] = field(default_factory=list)
    terms: list[PlanTerms] = field(default_factory=list)
