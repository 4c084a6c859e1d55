"""Callbacks: who is rung, by when, in which order, and how a further report joins an open one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from followup.core.clinic_hours import ClinicHours
from followup.core.urgency import Urgency

MEDICAL_WITHIN = timedelta(hours=1)
"""Elapsed time to a call after somebody was told to see a doctor today; common practice, no source."""
EMERGENCY_WITHIN = timedelta(minutes=15)
"""Elapsed time to a call after somebody was told to ring the emergency number; common practice, no source."""
REVIEW_WORKING_DAYS = 2
"""A plan that is off is looked at again after this many working days (design default)."""


class Part(StrEnum):
    """The stretches of the queue, most pressing first."""

    FIRST = "first"
    LATE = "late"
    TODAY = "today"
    LATER = "later"


def opens_callback(urgency: Urgency) -> bool:
    """True from "clinician by next working day" on; "desk follows up" makes a desk item instead."""
    return urgency >= Urgency.CLINICIAN_NEXT_DAY


def due_at(urgency: Urgency, reported_at: datetime, hours: ClinicHours) -> datetime:
    """The deadline (UTC) for a report of that urgency.

    "Today" is before the clinic closes today. If it does not open again today the call falls to the person on call at
    once, so "today" never becomes "after the weekend". Medical levels run in elapsed time.
    """
    match urgency:
        case Urgency.EMERGENCY_NOW:
            return reported_at + EMERGENCY_WITHIN
        case Urgency.MEDICAL_TODAY:
            return reported_at + MEDICAL_WITHIN
        case Urgency.CLINICIAN_TODAY:
            return hours.closes_on_same_day(reported_at) or reported_at + MEDICAL_WITHIN
    return hours.closing(hours.next_working_day(reported_at.astimezone(hours.zone).date()))


def needs_on_call(urgency: Urgency, reported_at: datetime, hours: ClinicHours) -> bool:
    """True when nobody is in for the rest of the day and the call cannot wait for the next one."""
    return urgency >= Urgency.CLINICIAN_TODAY and hours.closes_on_same_day(reported_at) is None


@dataclass(frozen=True, slots=True)
class Standing:
    """What an open callback is held to: its urgency and its deadline. Neither ever relaxes while it is open."""

    urgency: Urgency
    due_at: datetime

    def joined_by(self, other: Standing) -> Standing:
        """The standing after a further report on the same orthosis: it may raise, never postpone."""
        return Standing(max(self.urgency, other.urgency), min(self.due_at, other.due_at))


def part_of_queue(standing: Standing, now: datetime, hours: ClinicHours) -> Part:
    """The stretch of the queue a callback stands in at `now`."""
    if standing.urgency >= Urgency.MEDICAL_TODAY:
        return Part.FIRST
    if standing.due_at <= now:
        return Part.LATE
    same_day = standing.due_at.astimezone(hours.zone).date() == now.astimezone(hours.zone).date()
    return Part.TODAY if same_day else Part.LATER


def queue_order(standing: Standing, opened_at: datetime, now: datetime) -> tuple[object, ...]:
    """Sort key: medical levels first (worst first), then overdue, deadline, urgency, age."""
    medical = standing.urgency >= Urgency.MEDICAL_TODAY
    overdue = standing.due_at <= now
    return (
        not medical,
        -standing.urgency if medical else 0,
        not overdue,
        standing.due_at,
        -standing.urgency,
        opened_at,
    )
