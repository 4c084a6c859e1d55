from __future__ import annotations

from datetime import timedelta

import pytest

from followup.core.plan_event import PlanAction
from followup.core.urgency import Urgency
from followup.core.wear_day import PlanState
from followup.services.advance import move_plans
from followup.services.desk import see_desk
from followup.services.work_callbacks import CallOutcome, Closing, close_callback, see_queue
from followup.storage import plans
from followup.storage.tables import outbox, wear_plan
from tests.builders import ALDO, BRANKA, Clinic, day, without_feeling


def desk(clinic: Clinic) -> list[str]:
    return [each.kind for each in see_desk(clinic.practice, clinic.now)]


def state(clinic: Clinic) -> str:
    return str(clinic.rows(wear_plan.select())[0]["state"])


def test_the_first_missed_check_gives_the_same_time_and_a_desk_item(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-03 07:00")
    assert (state(clinic), desk(clinic)) == (PlanState.SAME_TIME, ["silence"])
    assert see_queue(clinic.practice, clinic.now) == ()


def test_the_second_takes_it_off_and_a_clinician_rings(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-04 07:00")
    (call,) = see_queue(clinic.practice, clinic.now)
    assert (state(clinic), call.urgency) == (PlanState.OFF, Urgency.CLINICIAN_NEXT_DAY)


def test_the_clinicians_call_takes_the_place_of_the_desks(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-04 07:00")
    assert desk(clinic) == []


def test_with_reduced_sensation_the_first_missed_check_takes_it_off(clinic: Clinic) -> None:
    clinic.start(without_feeling(ALDO))
    clinic.run_until("2026-03-03 07:00")
    assert (state(clinic), len(see_queue(clinic.practice, clinic.now))) == (PlanState.OFF, 1)


def test_a_protective_orthosis_stays_on_through_silence_and_they_are_rung(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    clinic.run_until("2026-03-04 07:00")
    (call,) = see_queue(clinic.practice, clinic.now)
    assert state(clinic) != PlanState.OFF
    assert call.urgency >= Urgency.CLINICIAN_TODAY


def test_an_answer_ends_the_desks_item(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-03 12:00")
    clinic.clear(1)
    assert desk(clinic) == []


def test_silence_is_heard_once_a_day(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-03 20:00")
    assert desk(clinic) == ["silence"]


def test_silence_a_clinician_has_dealt_with_opens_no_further_call(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-04 12:00")
    closing = Closing(CallOutcome.SPOKEN, "rests until Monday", PlanAction.OFF, day("2026-03-05"))
    version = see_queue(clinic.practice, clinic.now)[0].version
    close_callback(clinic.practice, 1, clinic.runa, version, closing, clinic.now)
    clinic.run_until("2026-03-08 12:00")
    assert see_queue(clinic.practice, clinic.now) == ()


def test_silence_is_heard_late_where_nothing_ticked_that_morning(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-03 07:00")
    clinic.at("2026-03-06 09:00")
    clinic.tick()
    assert [each.reason for each in see_queue(clinic.practice, clinic.now)] == [
        "no look at the skin was reported for 2 days"
    ]


def test_a_plan_looked_at_in_the_night_still_hears_the_silence_of_the_morning(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-03 21:00")
    clinic.at("2026-03-04 02:00")
    with clinic.practice.store.write() as connection:
        plans.change_projection(connection, 1, {"next_due_at": clinic.now})
    clinic.tick()
    clinic.run_until("2026-03-04 07:00")
    assert len(see_queue(clinic.practice, clinic.now)) == 1


def test_a_family_no_longer_told_to_wear_hears_why(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-04 12:00")
    assert "leave it off" in clinic.sent()[-1]


def test_a_plan_not_due_is_left_alone(clinic: Clinic) -> None:
    clinic.start()
    assert (move_plans(clinic.practice, clinic.now), move_plans(clinic.practice, clinic.now)) == (1, 0)


def test_a_delivery_without_its_checks_is_sent_nothing(clinic: Clinic) -> None:
    clinic.deliver()
    clinic.run_until("2026-03-03 20:00")
    assert clinic.rows(outbox.select()) == []


def messages_with_a_tick_every(clinic: Clinic, minutes: int) -> list[tuple[object, ...]]:
    clinic.start()
    clinic.tick()
    clinic.run_until("2026-03-03 20:00", timedelta(minutes=minutes))
    return [(each["plan_on"].day, each["slot"], each["state"]) for each in clinic.rows(outbox.select())]


@pytest.mark.parametrize("minutes", [10, 60, 55])
def test_whether_it_ticks_often_or_seldom_the_same_messages_leave(clinic: Clinic, minutes: int) -> None:
    assert messages_with_a_tick_every(clinic, minutes) == [
        (2, "start", "accepted"),
        (2, "question", "accepted"),
        (3, "times", "accepted"),
        (3, "question", "accepted"),
    ]


def test_a_plan_goes_up_step_by_step_to_full_wear_on_clear_checks(clinic: Clinic) -> None:
    clinic.start()
    targets = []
    for number in range(2, 22):
        clinic.at(f"2026-03-{number:02d} 06:30")
        clinic.tick()
        targets.append(clinic.rows(wear_plan.select())[0]["target_minutes"])
        clinic.at(f"2026-03-{number:02d} 21:00")
        clinic.clear(1)
    assert targets == sorted(targets)
    assert targets[-1] == 480
