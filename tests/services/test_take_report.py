from __future__ import annotations

from datetime import timedelta

import pytest

from followup.clinical.load_rules import load_looks
from followup.core.finding import CANT_SAY
from followup.core.plan_event import EventType
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import InvalidInput, UnknownId
from followup.services.take_report import (
    LEFT_ALONE,
    Progress,
    ReportSource,
    answer_report,
    begin_report,
    finish_left_alone,
    finish_report,
    see_report,
)
from followup.services.work_callbacks import see_queue
from followup.storage.tables import plan_event, report, triage_result
from tests.builders import BRANKA, Clinic

FINE = {"mark_minutes": 0}


def begin(clinic: Clinic, stated: dict[str, object], orthosis_id: int | None = 1) -> Progress:
    return begin_report(clinic.practice, ReportSource("link", orthosis_id), stated, clinic.now)


def answer(clinic: Clinic, progress: Progress, given: str) -> Progress:
    assert progress.question is not None
    return answer_report(clinic.practice, progress.report_id, progress.question.id, given, clinic.now)


def test_every_answer_is_kept_at_once(clinic: Clinic) -> None:
    clinic.start()
    told = answer(clinic, begin(clinic, FINE), "none")
    (row,) = clinic.rows(report.select())
    assert row["findings"] == dict(told.facts.findings)
    assert row["findings"]["breathless"] is False


def test_the_next_question_survives_leaving_and_coming_back(clinic: Clinic) -> None:
    clinic.start()
    told = answer(clinic, begin(clinic, FINE), "none")
    assert see_report(clinic.practice, told.report_id, clinic.now).question == told.question


def test_clear_takes_three_taps_the_gate_questions_included(clinic: Clinic) -> None:
    clinic.start()
    told, taps = begin(clinic, dict(load_looks()["clear"])), 1
    while told.question is not None:
        told, taps = answer(clinic, told, "none"), taps + 1
    assert (taps, told.result.urgency) == (3, Urgency.KEEP_TO_PLAN)


def test_danger_is_acted_on_before_the_report_is_finished(clinic: Clinic) -> None:
    clinic.start()
    told = answer(clinic, begin(clinic, FINE), "chest_pain")
    assert told.state == "open"
    assert [each.urgency for each in see_queue(clinic.practice, clinic.now)] == [Urgency.EMERGENCY_NOW]


def test_danger_said_first_is_acted_on_at_once(clinic: Clinic) -> None:
    clinic.start()
    assert begin(clinic, {"sore_or_broken": True}).callback_due_at is not None


def test_danger_already_acted_on_is_recorded_once(clinic: Clinic) -> None:
    clinic.start()
    told = begin(clinic, {"skin_open": True})
    told = answer(clinic, told, "none")
    assert len(clinic.rows(triage_result.select())) == 1


def test_what_was_never_answered_stays_unknown(clinic: Clinic) -> None:
    clinic.start()
    told = finish_report(clinic.practice, begin(clinic, FINE).report_id, clinic.now)
    assert told.result.urgency is Urgency.CLINICIAN_TODAY
    assert told.result.floor is Urgency.KEEP_TO_PLAN


def test_a_report_left_alone_is_finished_as_it_stands(clinic: Clinic) -> None:
    clinic.start()
    told = begin(clinic, FINE)
    clinic.now += LEFT_ALONE + timedelta(seconds=1)
    assert finish_left_alone(clinic.practice, clinic.now) == 1
    assert see_report(clinic.practice, told.report_id, clinic.now).state == "done"
    assert len(see_queue(clinic.practice, clinic.now)) == 1


def test_a_report_is_not_left_alone_before_half_an_hour(clinic: Clinic) -> None:
    clinic.start()
    begin(clinic, FINE)
    clinic.now += LEFT_ALONE
    assert finish_left_alone(clinic.practice, clinic.now) == 0


def test_finishing_again_changes_nothing(clinic: Clinic) -> None:
    clinic.start()
    told = clinic.clear(1)
    before = clinic.rows(plan_event.select())
    finish_report(clinic.practice, told.report_id, clinic.now)
    assert clinic.rows(plan_event.select()) == before


def test_a_finished_report_takes_no_more(clinic: Clinic) -> None:
    clinic.start()
    told = clinic.clear(1)
    with pytest.raises(UnknownId) as refused:
        answer_report(clinic.practice, told.report_id, "body", "none", clinic.now)
    assert refused.value.code == "report_finished"


def test_an_unknown_caller_may_report(clinic: Clinic) -> None:
    told = begin(clinic, {"sore_or_broken": True}, orthosis_id=None)
    (entry,) = see_queue(clinic.practice, clinic.now)
    assert (entry.callback_id, entry.orthosis_id) == (told.callback_id, None)


def test_two_unknown_callers_are_two_calls(clinic: Clinic) -> None:
    for _ in range(2):
        begin(clinic, {"sore_or_broken": True}, orthosis_id=None)
    assert len(see_queue(clinic.practice, clinic.now)) == 2


@pytest.mark.parametrize("given", ["", "maybe", "none "])
def test_an_answer_that_is_none_is_refused_and_nothing_is_kept(clinic: Clinic, given: str) -> None:
    clinic.start()
    told = begin(clinic, FINE)
    with pytest.raises(InvalidInput) as refused:
        answer(clinic, told, given)
    assert refused.value.code == "bad_answer"
    assert see_report(clinic.practice, told.report_id, clinic.now).history == ()


@pytest.mark.parametrize("given", ["-1", "1441", "an hour", "½", "٣"])
def test_impossible_minutes_are_refused(clinic: Clinic, given: str) -> None:
    clinic.start()
    told = begin(clinic, {"mark_minutes": 10})
    with pytest.raises(InvalidInput, match="whole number"):
        answer_report(clinic.practice, told.report_id, "worn_minutes", given, clinic.now)


def test_a_place_that_is_not_on_the_leg_is_refused(clinic: Clinic) -> None:
    clinic.start()
    told = begin(clinic, {"mark_minutes": 10})
    with pytest.raises(InvalidInput, match="choose one of the list"):
        answer_report(clinic.practice, told.report_id, "place", "nose", clinic.now)


def test_a_question_nobody_asked_is_unknown(clinic: Clinic) -> None:
    clinic.start()
    with pytest.raises(UnknownId):
        answer_report(clinic.practice, begin(clinic, FINE).report_id, "weather", "fine", clinic.now)


def test_a_finding_nobody_knows_begins_no_report(clinic: Clinic) -> None:
    clinic.start()
    with pytest.raises(UnknownId):
        begin(clinic, {"weather": True})
    assert clinic.rows(report.select()) == []


def test_the_third_mark_at_one_place_within_two_days_is_told(clinic: Clinic) -> None:
    clinic.start()
    for _ in range(3):
        clinic.now += timedelta(hours=5)
        told = begin(clinic, {"mark_minutes": 10})
        answer_report(clinic.practice, told.report_id, "place", clinic.practice.places[0].id, clinic.now)
        told = finish_report(clinic.practice, told.report_id, clinic.now)
    assert "same_place_again" in [each.id for each in told.result.fired]


def test_a_mark_nobody_timed_is_a_check_that_cannot_say(clinic: Clinic) -> None:
    clinic.start()
    clinic.at("2026-03-02 19:00")
    clinic.report(1, {"mark_minutes": CANT_SAY})
    checks = [each for each in clinic.rows(plan_event.select()) if each["type"] == EventType.SKIN_CHECK]
    assert [each["data"]["result"] for each in checks] == ["cannot_say"]


def test_a_protective_orthosis_stays_on_and_a_clinician_rings_today(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    told = clinic.report(1, {"skin_open": True})
    assert told.result.instruction is WearInstruction.LEAVE_ON_AS_ORDERED
    assert told.result.urgency >= Urgency.CLINICIAN_TODAY
