from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from followup.core.plan_event import PlanAction
from followup.core.wear_day import PlanState, WearDay
from followup.errors import Conflict, InvalidInput, UnknownId
from followup.services.desk import see_desk
from followup.services.follow_plan import load_plan
from followup.services.see_callback import see_callback
from followup.services.sign_in import Role
from followup.services.work_callbacks import (
    CallOutcome,
    Closing,
    close_callback,
    note_no_answer,
    release_callback,
    see_queue,
    take_callback,
)
from followup.storage.tables import callback, outbox, plan_event
from tests.builders import Clinic, day

RESUME = Closing(CallOutcome.SPOKEN, "Strap moved, skin is whole.", PlanAction.RESUME, day("2026-03-05"), 2)


def with_a_call(clinic: Clinic) -> Clinic:
    """Two clear days, then on Wednesday evening a mark that lasted fifty minutes."""
    clinic.start()
    for number in (2, 3):
        clinic.at(f"2026-03-0{number} 19:00")
        clinic.clear(1)
        clinic.at(f"2026-03-0{number + 1} 06:30")
        clinic.tick()
    clinic.at("2026-03-04 16:30")
    clinic.report(1, {"mark_minutes": 50})
    clinic.tick()
    return clinic


def close(clinic: Clinic, closing: Closing = RESUME, version: int | None = None) -> None:
    shown = see_callback(clinic.practice, 1, clinic.now).entry.version
    close_callback(clinic.practice, 1, clinic.runa, version or shown, closing, clinic.now)


def plan_day(clinic: Clinic, on: str) -> WearDay:
    with clinic.practice.store.read() as connection:
        days = load_plan(connection, clinic.practice, 1).days(clinic.now)
    return next(each for each in days if each.on == day(on))


def test_who_takes_a_call_is_named(clinic: Clinic) -> None:
    with_a_call(clinic)
    take_callback(clinic.practice, 1, clinic.runa, clinic.now)
    assert see_queue(clinic.practice, clinic.now)[0].taken_by == "Runa"


def test_a_call_somebody_took_is_not_taken_by_another(clinic: Clinic) -> None:
    with_a_call(clinic)
    take_callback(clinic.practice, 1, clinic.runa, clinic.now)
    with pytest.raises(Conflict) as refused:
        take_callback(clinic.practice, 1, clinic.odd, clinic.now)
    assert refused.value.code == "already_taken"


def test_a_call_given_back_can_be_taken(clinic: Clinic) -> None:
    with_a_call(clinic)
    take_callback(clinic.practice, 1, clinic.runa, clinic.now)
    release_callback(clinic.practice, 1, clinic.runa, clinic.now)
    take_callback(clinic.practice, 1, clinic.odd, clinic.now)
    assert see_queue(clinic.practice, clinic.now)[0].taken_by == "Odd"


def test_no_answer_keeps_the_call_open_with_its_deadline(clinic: Clinic) -> None:
    with_a_call(clinic)
    before = see_queue(clinic.practice, clinic.now)[0]
    note_no_answer(clinic.practice, 1, clinic.runa, clinic.now + timedelta(hours=1), clinic.now)
    (after,) = see_queue(clinic.practice, clinic.now)
    assert (after.due_at, after.tries, after.taken_by) == (before.due_at, 1, "")


def test_the_next_try_is_still_to_come(clinic: Clinic) -> None:
    with_a_call(clinic)
    with pytest.raises(InvalidInput) as refused:
        note_no_answer(clinic.practice, 1, clinic.runa, clinic.now, clinic.now)
    assert refused.value.code == "next_try_past"


@pytest.mark.parametrize(
    ("action", "state", "words"),
    [
        (PlanAction.RESUME, PlanState.WEARING, "tomorrow is day 4. your clinician says that you can wear it again"),
        (PlanAction.RESTART, PlanState.WEARING, "tomorrow is day 4. your clinician says that you can wear it again"),
        (PlanAction.SAME_TIME, PlanState.SAME_TIME, "tomorrow is day 4. it has the same time"),
        (PlanAction.SHORTER, PlanState.SHORTER, "tomorrow is day 4. it has a shorter time"),
        (PlanAction.OFF, PlanState.OFF, "leave it off"),
    ],
)
def test_the_plan_and_the_next_message_follow_the_clinician(
    clinic: Clinic, action: PlanAction, state: PlanState, words: str
) -> None:
    with_a_call(clinic)
    step = 2 if action is PlanAction.RESUME else None
    sent_before = len(clinic.sent())
    close(clinic, replace(RESUME, action=action, step=step))
    clinic.tick()
    assert plan_day(clinic, "2026-03-05").state is state
    (told,) = clinic.sent()[sent_before:]
    assert words in told.lower()


def test_resume_is_at_the_step_the_clinician_named(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic)
    assert plan_day(clinic, "2026-03-05").step == 2


def test_restart_is_at_the_first_step(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic, replace(RESUME, action=PlanAction.RESTART, step=None))
    assert plan_day(clinic, "2026-03-05").step == 1


def test_as_planned_goes_on_at_the_last_clear_step(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic, replace(RESUME, action=PlanAction.AS_PLANNED, step=None))
    assert plan_day(clinic, "2026-03-05").step == 2


def test_a_day_already_issued_is_not_told_anew(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic, replace(RESUME, from_on=day("2026-03-04")))
    clinic.tick()
    assert "Tomorrow is day 4" in clinic.sent()[-1]


def test_a_change_days_ahead_is_told_on_its_own_morning(clinic: Clinic) -> None:
    with_a_call(clinic)
    sent_before = len(clinic.sent())
    close(clinic, replace(RESUME, from_on=day("2026-03-06")))
    clinic.tick()
    assert len(clinic.sent()) == sent_before
    clinic.at("2026-03-06 06:30")
    clinic.tick()
    clinic.at("2026-03-06 08:00")
    clinic.tick()
    assert "Today is day 5" in clinic.sent()[-1]


def test_a_plan_that_is_off_is_looked_at_again_after_two_working_days(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic, replace(RESUME, action=PlanAction.OFF, step=None))
    clinic.at("2026-03-06 17:30")
    assert "the plan is off" in [each.text for each in see_desk(clinic.practice, clinic.now)][-1]


def test_who_was_sent_to_care_is_asked_the_next_working_day(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic, replace(RESUME, outcome=CallOutcome.SENT_TO_CARE))
    clinic.at("2026-03-05 17:30")
    assert "ask how it went" in [each.text for each in see_desk(clinic.practice, clinic.now)][-1]


def test_a_report_that_joined_meanwhile_is_read_first(clinic: Clinic) -> None:
    with_a_call(clinic)
    seen = see_callback(clinic.practice, 1, clinic.now).entry.version
    clinic.report(1, {"skin_open": True})
    before = clinic.rows(plan_event.select())
    with pytest.raises(Conflict) as refused:
        close(clinic, version=seen)
    assert refused.value.code == "changed_meanwhile"
    assert clinic.rows(plan_event.select()) == before


def test_a_closed_call_is_closed_once(clinic: Clinic) -> None:
    with_a_call(clinic)
    close(clinic)
    with pytest.raises(Conflict) as refused:
        close(clinic)
    assert refused.value.code == "closed_meanwhile"


def test_the_front_desk_closes_no_call(clinic: Clinic) -> None:
    with_a_call(clinic)
    version = see_queue(clinic.practice, clinic.now)[0].version
    with pytest.raises(InvalidInput) as refused:
        close_callback(clinic.practice, 1, clinic.odd, version, RESUME, clinic.now)
    assert refused.value.code == "not_a_clinician"
    assert clinic.odd.role is Role.DESK


@pytest.mark.parametrize(
    ("closing", "code"),
    [
        (replace(RESUME, note=" "), "no_note"),
        (replace(RESUME, from_on=day("2026-03-03")), "from_past"),
        (replace(RESUME, step=99), "bad_step"),
        (replace(RESUME, step=0), "bad_step"),
    ],
)
def test_a_closing_that_cannot_be_changes_nothing(clinic: Clinic, closing: Closing, code: str) -> None:
    with_a_call(clinic)
    with pytest.raises(InvalidInput) as refused:
        close(clinic, closing)
    assert (refused.value.code, clinic.rows(callback.select())[0]["state"]) == (code, "open")


def test_a_call_nobody_knows_is_named(clinic: Clinic) -> None:
    with pytest.raises(UnknownId):
        take_callback(clinic.practice, 99, clinic.runa, clinic.now)


def test_an_open_call_shows_what_each_instruction_would_do(clinic: Clinic) -> None:
    with_a_call(clinic)
    shown = see_callback(clinic.practice, 1, clinic.now).next_days
    assert [each.state for each in shown[PlanAction.OFF]] == [PlanState.OFF] * 3
    assert shown[PlanAction.RESTART][0].step == 1


def test_a_change_waiting_for_the_morning_goes_when_the_plan_changes_again(clinic: Clinic) -> None:
    with_a_call(clinic)
    clinic.at("2026-03-04 21:00")
    close(clinic)
    clinic.at("2026-03-04 21:30")
    clinic.report(1, {**clinic.practice.replies[1], "pain": 4})
    clinic.run_until("2026-03-05 09:00")
    told = [row["kind"] for row in clinic.rows(outbox.select()) if row["state"] == "accepted"][-1]
    assert (told, plan_day(clinic, "2026-03-05").state) == ("shorter_time", PlanState.SHORTER)
