"""The wearing goal and the protocol as changed by what was recorded, on one day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from followup.core.plan_event import (
    Away,
    Back,
    ClinicianDecision,
    GoalChange,
    OrthosisChanged,
    PlanAction,
    PlanEnd,
    PlanEvent,
    PlanInstruction,
    ProtocolChange,
    ZoneChange,
)
from followup.core.wearing_goal import WearingGoal

Decisions = tuple[ClinicianDecision, ...]
START_WORDS = frozenset({PlanAction.RESUME, PlanAction.RESTART})


def goal_in_force(goal: WearingGoal, events: Sequence[PlanEvent], at: datetime | None) -> WearingGoal:
    """The goal at `at`: every change whose day has come by then, in the order they were recorded.

    Without an instant every recorded change counts.
    """
    for event in _in_order(events):
        match event.data:
            case GoalChange() as change if _has_come(change.from_on, goal.zone, at):
                goal = changed_goal(goal, change)
            case ZoneChange() as change if _has_come(change.from_on, ZoneInfo(change.zone), at):
                goal = replace(goal, zone=ZoneInfo(change.zone))
    return goal


def changed_goal(goal: WearingGoal, change: GoalChange) -> WearingGoal:
    """The goal with what `change` states in the place of what it was."""
    said: dict[str, Any] = {
        "full_wear_minutes": change.full_wear_minutes,
        "window_start": change.window_start,
        "window_end": change.window_end,
        "range_end": change.range_end,
        "fixed_points": change.fixed_points,
    }
    return replace(goal, **{name: value for name, value in said.items() if value is not None})


def protocol_in_force(goal: WearingGoal, events: Sequence[PlanEvent], at: datetime | None) -> ProtocolChange | None:
    """The last change of protocol whose day has come, None where the first one still holds."""
    changes = [event.data for event in _in_order(events) if isinstance(event.data, ProtocolChange)]
    return next((each for each in reversed(changes) if _has_come(each.from_on, goal.zone, at)), None)


def decisions_in_force(goal: WearingGoal, events: Sequence[PlanEvent], at: datetime | None) -> Decisions:
    """A clinician's decisions whose day has come, the newest last."""
    found = (event.data for event in _in_order(events) if isinstance(event.data, ClinicianDecision))
    return tuple(each for each in found if _has_come(each.from_on, goal.zone, at))


def rests_on(events: Sequence[PlanEvent], on: date) -> bool:
    """True where the wearer is away on that local date, or the plan has ended by then: nobody is asked anything."""
    away: Away | None = None
    for event in _in_order(events):
        match event.data:
            case PlanEnd(from_on=from_on) if from_on <= on:
                return True
            case Away(from_on=from_on) as left if from_on <= on:
                away = left
            case Back(from_on=from_on) if from_on <= on:
                away = None
    return away is not None


def is_away(events: Sequence[PlanEvent]) -> bool:
    """True where it was recorded that they go away and not that they are back."""
    moves = [event.data for event in _in_order(events) if isinstance(event.data, Away | Back)]
    return bool(moves) and isinstance(moves[-1], Away)


def waits_for_start(events: Sequence[PlanEvent]) -> OrthosisChanged | None:
    """The change of the orthosis after which no clinician has yet said the step to start with."""
    waiting: OrthosisChanged | None = None
    for event in _in_order(events):
        match event.data:
            case OrthosisChanged() as change if change.change.needs_start_step:
                waiting = change
            case PlanInstruction(action=action) if action in START_WORDS:
                waiting = None
    return waiting


def _in_order(events: Sequence[PlanEvent]) -> list[PlanEvent]:
    return sorted(events, key=lambda each: each.recorded_at)


def _has_come(from_on: date, zone: ZoneInfo, at: datetime | None) -> bool:
    return at is None or from_on <= at.astimezone(zone).date()
