"""What keeps a change of a plan from being recorded: who may say it, from when, and whether it can be."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import TypeAlias
from zoneinfo import ZoneInfo

from followup.core.goal_in_force import goal_in_force, is_away, waits_for_start
from followup.core.plan_event import (
    Away,
    Back,
    ClinicianDecision,
    DecisionKind,
    GoalChange,
    OrthosisChanged,
    PlanEnd,
    PlanEnding,
    PlanEvent,
    ProtocolChange,
    ZoneChange,
)
from followup.core.plan_event_json import event_type
from followup.core.wearing_goal import check_goal
from followup.errors import Conflict, InvalidInput
from followup.services.follow_plan import PlanRecord
from followup.services.practice import Practice
from followup.services.sign_in import Role

Change: TypeAlias = (
    Away | Back | OrthosisChanged | ProtocolChange | GoalChange | ZoneChange | ClinicianDecision | PlanEnd
)

FARTHEST = timedelta(days=14)
SHORTEST_MARK_MINUTES = 5


def needs_clinician(change: Change) -> bool:
    """True for what only a clinician says: the protocol, minutes of full wear, decisions, a change of the fit.

    The front desk may record away and back, the hours of the day, the time zone, a repair, an orthosis that came back
    as it was, and the end of a plan.
    """
    match change:
        case ProtocolChange() | ClinicianDecision():
            return True
        case GoalChange():
            return change.full_wear_minutes is not None or change.range_end is not None
        case OrthosisChanged():
            return change.change.needs_start_step
    return False


def check_change(
    practice: Practice, record: PlanRecord, change: Change, role: Role, now: datetime, *, knowingly: bool
) -> None:
    """`InvalidInput` or `Conflict` that says what to do where this cannot be recorded."""
    if needs_clinician(change) and role is not Role.CLINICIAN:
        raise InvalidInput("not_a_clinician", "Only a clinician records this; ask one to sign in.", "change")
    if record.ended_at is not None:
        raise Conflict("plan_ended", "This plan has ended; a new orthosis is written down as a delivery.")
    if record.started_at is None and not isinstance(change, PlanEnd):
        raise Conflict("not_started", "This plan has not begun: do the delivery checks, or correct the delivery.")
    check_from_on(record, change.from_on, now)
    if _lowers_protection(record, change) and not knowingly:
        raise InvalidInput(
            "protective",
            "This orthosis protects a fracture or a repair. Say that you change its wear knowingly, or leave it.",
            "knowingly",
        )
    _check_what_it_says(practice, record, change, now)


def check_from_on(record: PlanRecord, from_on: date, now: datetime) -> None:
    """`InvalidInput` for a day that is past, or so far off that somebody could be forgotten."""
    if from_on < record.on(now):
        raise InvalidInput("from_past", "Choose today or a later day for the plan to follow this.", "from_on")
    if from_on > record.on(now) + FARTHEST:
        raise InvalidInput(
            "from_far", f"Choose a day within {FARTHEST.days} days, so that nobody is forgotten.", "from_on"
        )


def _lowers_protection(record: PlanRecord, change: Change) -> bool:
    alters = isinstance(change, ProtocolChange) or (isinstance(change, GoalChange) and change != _only_points(change))
    return record.terms.protective and alters


def _only_points(change: GoalChange) -> GoalChange:
    return GoalChange(change.from_on, change.by, fixed_points=change.fixed_points)


def _check_what_it_says(practice: Practice, record: PlanRecord, change: Change, now: datetime) -> None:
    checks: dict[type, Callable[[], None]] = {
        Away: lambda: _check_away(record),
        Back: lambda: _check_back(record),
        OrthosisChanged: lambda: _check_orthosis(record, change.from_on, now),
        PlanEnd: lambda: _check_end(record, change, now),
        ProtocolChange: lambda: _check_protocol(practice, record, change),
        GoalChange: lambda: _check_goal(record, change, now),
        ZoneChange: lambda: _check_zone(record, change),
        ClinicianDecision: lambda: _check_decision(record, change),
    }
    check = checks.get(type(change))
    if check is not None:
        check()


def _check_away(record: PlanRecord) -> None:
    if is_away(record.events):
        raise Conflict("away_already", "They are away already; record when they are back.")


def _check_back(record: PlanRecord) -> None:
    if not is_away(record.events):
        raise Conflict("not_away", "They are not away; nothing was changed.")


def _check_orthosis(record: PlanRecord, from_on: date, now: datetime) -> None:
    if from_on != record.on(now):
        raise InvalidInput("not_today", "Record a change of the orthosis on the day it happens.", "from_on")
    if waits_for_start(record.events) is not None:
        raise Conflict("waits_already", "It waits for a start step already: do the delivery checks again first.")


def _check_end(record: PlanRecord, change: Change, now: datetime) -> None:
    assert isinstance(change, PlanEnd)
    if change.why is PlanEnding.DIED and change.from_on != record.on(now):
        raise InvalidInput("not_today", "A death ends everything today; choose today.", "from_on")
    if any(isinstance(event.data, PlanEnd) for event in record.events):
        raise Conflict("ends_already", "The end of this plan is recorded already.")


def _check_protocol(practice: Practice, record: PlanRecord, change: Change) -> None:
    assert isinstance(change, ProtocolChange)
    protocol = practice.protocols.get(change.protocol)
    if protocol is None or protocol.digest != change.digest:
        raise InvalidInput("unknown_protocol", "Choose a protocol of the list.", "protocol")
    terms = record.terms_with(protocol)
    if change.step is not None and not 1 <= change.step <= terms.top:
        raise InvalidInput("bad_step", f"Choose a step from 1 to {terms.top}, or none.", "step")


def _check_goal(record: PlanRecord, change: Change, now: datetime) -> None:
    assert isinstance(change, GoalChange)
    if change == GoalChange(change.from_on, change.by):
        raise InvalidInput("nothing_changed", "Change something, or leave the page.", "window")
    if (change.window_start is None) != (change.window_end is None):
        raise InvalidInput("half_window", "Write both ends of the part of the day, such as 07:30-21:30.", "window")
    changed = goal_in_force(record.goal, [PlanEvent("asked", event_type(change), now, now, change)], None)
    check_goal(changed, record.limit_minutes)


def _check_zone(record: PlanRecord, change: Change) -> None:
    assert isinstance(change, ZoneChange)
    try:
        zone = ZoneInfo(change.zone)
    except (KeyError, ValueError, OSError):
        advice = f"{change.zone!r} is no time zone; write an IANA name such as Europe/Lisbon."
        raise InvalidInput("bad_zone", advice, "zone") from None
    if zone == record.goal.zone:
        raise InvalidInput("nothing_changed", "This is their time zone already.", "zone")


def _check_decision(record: PlanRecord, change: Change) -> None:
    assert isinstance(change, ClinicianDecision)
    if not change.why.strip():
        raise InvalidInput("no_reason", "Write why you decide so; it is kept with your name.", "why")
    minutes, published = change.minutes, record.protocol.mark_limit_minutes
    if change.kind is DecisionKind.MARK_LIMIT and (
        minutes is None or not SHORTEST_MARK_MINUTES <= minutes <= published
    ):
        advice = f"Write how long a mark may last: from {SHORTEST_MARK_MINUTES} minutes to the published {published}."
        raise InvalidInput("bad_minutes", advice, "minutes")
