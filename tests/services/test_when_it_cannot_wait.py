"""What a family is told and asked when other care is needed, when they are in doubt, and when a shape must stay on."""

from __future__ import annotations

import pytest

from followup.core.finding import CANT_SAY
from followup.core.plan_event import PlanAction
from followup.core.urgency import Urgency
from followup.errors import InvalidInput
from followup.services.see_callback import see_callback
from followup.services.take_report import ENOUGH_DOUBT, ReportSource, answer_report, begin_report, finish_report
from followup.services.work_callbacks import CallOutcome, Closing, close_callback, see_queue
from tests.builders import ALDO, BRANKA, Clinic


@pytest.mark.parametrize(
    ("stated", "first"), [({"breathless": True}, "Ring 112 now."), ({"calf_swollen_one": True}, "See a doctor today.")]
)
def test_the_message_says_first_that_other_care_cannot_wait(
    clinic: Clinic, stated: dict[str, object], first: str
) -> None:
    clinic.start()
    clinic.report(1, stated)
    clinic.tick()
    assert clinic.sent()[-1].lstrip().startswith(first)


def test_who_is_already_off_is_told_all_the_same_when_it_becomes_urgent(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, {"mark_minutes": 50})
    clinic.tick()
    clinic.report(1, {"chest_pain": True})
    clinic.tick()
    assert clinic.sent()[-1].lstrip().startswith("Ring 112 now.")


def test_an_orthosis_that_protects_is_left_on_and_the_number_is_rung(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    clinic.tick()
    clinic.report(1, {"chest_pain": True})
    clinic.tick()
    assert "Ring 112 now." in clinic.sent()[-1]
    assert "Leave it on as ordered" in clinic.sent()[-1]


def test_a_family_in_doubt_is_rung_and_not_asked_on(clinic: Clinic) -> None:
    clinic.start()
    told = begin_report(clinic.practice, ReportSource("link", 1), {"mark_minutes": 0}, clinic.now)
    answers = ["not_sure", *[CANT_SAY] * ENOUGH_DOUBT]
    for answer in answers:
        assert told.question is not None
        told = answer_report(clinic.practice, told.report_id, told.question.id, answer, clinic.now)
    assert told.question is None
    assert finish_report(clinic.practice, told.report_id, clinic.now).result.urgency >= Urgency.CLINICIAN_TODAY


def test_who_would_rather_talk_is_on_the_queue_before_any_question(clinic: Clinic) -> None:
    clinic.start()
    begin_report(clinic.practice, ReportSource("link", 1), {"wants_call": True}, clinic.now)
    assert [entry.reason for entry in see_queue(clinic.practice, clinic.now)] == [
        "they would like to be rung about something else"
    ]


@pytest.mark.parametrize("action", [PlanAction.SHORTER, PlanAction.OFF, PlanAction.RESTART, PlanAction.RESUME])
def test_an_orthosis_that_protects_is_changed_only_knowingly(clinic: Clinic, action: PlanAction) -> None:
    clinic.start(BRANKA)
    clinic.report(1, {"mark_minutes": 50})
    version = see_callback(clinic.practice, 1, clinic.now).entry.version
    closing = Closing(CallOutcome.SPOKEN, "Looked at it together.", action, clinic.now.date())
    with pytest.raises(InvalidInput, match="protects a fracture or a repair"):
        close_callback(clinic.practice, 1, clinic.runa, version, closing, clinic.now)
    assert see_callback(clinic.practice, 1, clinic.now).entry.state == "open"


def test_a_family_with_two_is_told_which_leg(clinic: Clinic) -> None:
    clinic.start()
    clinic.start({**ALDO, "identifier": "Q-9", "side": "right"})
    clinic.tick()
    assert sorted(text.split(".")[0].strip() for text in clinic.sent()) == ["Left leg", "Right leg"]


def test_a_family_with_one_is_not(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    assert not clinic.sent()[0].lstrip().startswith("Left leg")


def test_nobody_is_told_to_take_off_what_protects_a_fracture(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    clinic.run_until("2026-03-03 20:00")
    assert not [text for text in clinic.sent() if "then take it off" in text or "Take it off sitting" in text]
    assert all("Keep to the times as ordered until we have spoken" in text for text in clinic.sent())
