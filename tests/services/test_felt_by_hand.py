"""With reduced feeling, clear skin counts only when it was felt as well (Shirley Ryan AbilityLab, lower limb prosthesis
care: look and touch)."""

from __future__ import annotations

from datetime import timedelta

import pytest

from followup.clinical.load_rules import load_looks
from followup.core.plan_event import SkinCheck
from followup.errors import InvalidInput
from followup.services.follow_plan import load_plan
from followup.services.take_report import TOUCH, Progress, ReportSource, answer_report, begin_report, finish_report
from tests.builders import ALDO, Clinic, without_feeling


def looked_clear(clinic: Clinic) -> Progress:
    told = begin_report(clinic.practice, ReportSource("link", 1), load_looks()["clear"], clinic.now)
    while told.question is not None and told.question.id != TOUCH:
        told = answer_report(clinic.practice, told.report_id, told.question.id, "none", clinic.now)
    return told


def minutes_tomorrow(clinic: Clinic) -> tuple[int, bool | None]:
    """The next day's target, and what the plan heard about touch."""
    with clinic.practice.store.read() as connection:
        record = load_plan(connection, clinic.practice, 1)
    check = next(event.data for event in record.events if isinstance(event.data, SkinCheck))
    return record.days(clinic.now + timedelta(days=1), ahead=0)[-1].target_minutes, check.by_touch


@pytest.mark.parametrize(("felt", "minutes"), [("yes", 45), ("no", 30), ("cant_say", 30)])
def test_clear_skin_nobody_felt_does_not_raise_the_time(clinic: Clinic, felt: str, minutes: int) -> None:
    clinic.start(without_feeling(ALDO))
    clinic.at("2026-03-02 18:00")
    asked = looked_clear(clinic)
    finish_report(
        clinic.practice,
        answer_report(clinic.practice, asked.report_id, TOUCH, felt, clinic.now).report_id,
        clinic.now,
    )
    assert minutes_tomorrow(clinic)[0] == minutes


def test_nobody_else_is_asked(clinic: Clinic) -> None:
    clinic.start()
    assert looked_clear(clinic).question is None


def test_an_answer_that_is_none_is_refused(clinic: Clinic) -> None:
    clinic.start(without_feeling(ALDO))
    with pytest.raises(InvalidInput, match="yes, no, cant_say"):
        answer_report(clinic.practice, looked_clear(clinic).report_id, TOUCH, "perhaps", clinic.now)
