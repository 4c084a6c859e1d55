"""Worn for much less than planned on three days: a clinician calls by the next working day (unable to wear: call,
face-to-face review, S09; 80 % and three days are common practice)."""

from __future__ import annotations

from followup.core.urgency import Urgency
from followup.services.take_report import Progress
from tests.builders import Clinic


def worn(clinic: Clinic, day: int, minutes: int) -> Progress:
    clinic.at(f"2026-03-{day:02} 19:00")
    return clinic.report(1, {**clinic.practice.replies[1], "worn_minutes": minutes})


def test_a_clinician_hears_of_the_third_day_worn_too_little(clinic: Clinic) -> None:
    clinic.start()
    told = [worn(clinic, day, 20) for day in (2, 3, 4)]
    assert [each.callback_id is not None for each in told] == [False, False, True]
    assert told[-1].result.urgency is Urgency.CLINICIAN_NEXT_DAY
    assert told[-1].result.fired[0].id == "worn_too_little_days"


def test_days_worn_as_planned_call_nobody(clinic: Clinic) -> None:
    clinic.start()
    told = [worn(clinic, day, minutes) for day, minutes in ((2, 20), (3, 30), (4, 60), (5, 60))]
    assert [each.callback_id for each in told] == [None] * 4
