from __future__ import annotations

import pytest

from followup.core.delivery_check import DeliveryCheck
from followup.core.plan_event import OrthosisChange, OrthosisChanged, PlanAction
from followup.core.wear_day import PlanState
from followup.errors import Conflict, FollowupError, InvalidInput
from followup.services.change_plan import record_change
from followup.services.check_delivery import record_checks, see_checks
from followup.services.desk import see_desk
from followup.services.follow_plan import load_plan
from followup.services.start_step import give_start_step
from followup.services.work_callbacks import CallOutcome, Closing, close_callback, see_queue
from followup.storage.tables import orthosis, plan_event
from tests.builders import ALDO, CHECKED, Clinic, day

WHY = "The edge was eased; the skin was clear at three hours."


def adjusted(clinic: Clinic, change: OrthosisChange = OrthosisChange.ADJUSTED) -> None:
    """A plan under way whose orthosis is changed on its third day."""
    clinic.start()
    for number in (2, 3):
        clinic.at(f"2026-03-0{number} 19:00")
        clinic.clear(1)
    clinic.at("2026-03-04 10:00")
    clinic.tick()
    record_change(clinic.practice, 1, OrthosisChanged(change, day("2026-03-04")), clinic.runa, clinic.now)


def check_again(clinic: Clinic) -> None:
    record_checks(clinic.practice, 1, CHECKED, clinic.odd.staff_id, clinic.now)


def state(clinic: Clinic, on: str) -> tuple[PlanState, int]:
    with clinic.practice.store.read() as connection:
        days = load_plan(connection, clinic.practice, 1, clinic.now).days(clinic.now)
    found = next(each for each in days if each.on == day(on))
    return found.state, found.step


@pytest.mark.parametrize("change", [OrthosisChange.ADJUSTED, OrthosisChange.REMADE, OrthosisChange.LOAN])
def test_a_change_of_the_fit_opens_every_delivery_check_again_and_the_plan_waits(
    clinic: Clinic, change: OrthosisChange
) -> None:
    adjusted(clinic, change)
    assert see_checks(clinic.practice, 1).blocked_by == tuple(DeliveryCheck)
    assert state(clinic, "2026-03-05")[0] is PlanState.OFF


@pytest.mark.parametrize("change", [OrthosisChange.REPAIRED, OrthosisChange.RETURNED_UNCHANGED])
def test_a_repair_opens_no_check_and_the_plan_goes_on(clinic: Clinic, change: OrthosisChange) -> None:
    adjusted(clinic, change)
    assert see_checks(clinic.practice, 1).blocked_by == ()
    assert state(clinic, "2026-03-05")[0] is not PlanState.OFF


def test_the_desk_does_the_checks_and_then_a_clinician_is_asked(clinic: Clinic) -> None:
    adjusted(clinic)
    assert "do the delivery checks again" in see_desk(clinic.practice, clinic.now)[0].text
    check_again(clinic)
    assert see_desk(clinic.practice, clinic.now) == ()
    assert see_queue(clinic.practice, clinic.now)[0].reason.endswith("say the step to start with")


def test_the_family_is_told_that_it_waits(clinic: Clinic) -> None:
    adjusted(clinic)
    clinic.tick()
    assert "Your plan waits. We check that it fits and is safe" in clinic.sent()[-1]


def test_with_the_step_the_plan_goes_on_and_the_call_is_answered(clinic: Clinic) -> None:
    adjusted(clinic)
    check_again(clinic)
    give_start_step(clinic.practice, 1, 2, WHY, clinic.runa, clinic.now)
    clinic.tick()
    assert state(clinic, "2026-03-05") == (PlanState.WEARING, 2)
    assert see_queue(clinic.practice, clinic.now) == ()
    assert "Your clinician says that you can wear it again." in clinic.sent()[-1]


def test_the_reason_is_kept_with_the_step(clinic: Clinic) -> None:
    adjusted(clinic)
    check_again(clinic)
    give_start_step(clinic.practice, 1, 2, WHY, clinic.runa, clinic.now)
    assert clinic.rows(plan_event.select())[-1]["data"]["why"] == WHY


def test_no_step_is_given_before_the_checks_were_made_again(clinic: Clinic) -> None:
    adjusted(clinic)
    with pytest.raises(Conflict, match="delivery checks come first"):
        give_start_step(clinic.practice, 1, 2, WHY, clinic.runa, clinic.now)


@pytest.mark.parametrize(
    ("step", "why", "said"), [(0, WHY, "step from 1 to"), (99, WHY, "step from 1 to"), (2, " ", "Write why")]
)
def test_a_step_that_cannot_be_is_refused(clinic: Clinic, step: int, why: str, said: str) -> None:
    adjusted(clinic)
    check_again(clinic)
    with pytest.raises(InvalidInput, match=said):
        give_start_step(clinic.practice, 1, step, why, clinic.runa, clinic.now)


def test_the_desk_gives_no_step(clinic: Clinic) -> None:
    adjusted(clinic)
    check_again(clinic)
    with pytest.raises(InvalidInput, match="Only a clinician"):
        give_start_step(clinic.practice, 1, 2, WHY, clinic.odd, clinic.now)


def test_the_same_step_twice_is_given_once(clinic: Clinic) -> None:
    adjusted(clinic)
    check_again(clinic)
    give_start_step(clinic.practice, 1, 2, WHY, clinic.runa, clinic.now)
    assert give_start_step(clinic.practice, 1, 2, WHY, clinic.runa, clinic.now) is None


def test_a_plan_that_waits_for_nothing_is_given_no_start_step(clinic: Clinic) -> None:
    clinic.start()
    with pytest.raises(Conflict, match="does not wait"):
        give_start_step(clinic.practice, 1, 2, WHY, clinic.runa, clinic.now)


def test_no_call_lets_a_changed_orthosis_begin_before_its_checks(clinic: Clinic) -> None:
    adjusted(clinic)
    clinic.report(1, {"mark_minutes": 50})
    (call,) = see_queue(clinic.practice, clinic.now)
    resume = Closing(CallOutcome.SPOKEN, "All is well.", PlanAction.RESUME, day("2026-03-05"), 2)
    with pytest.raises(FollowupError, match="delivery checks again first"):
        close_callback(clinic.practice, call.callback_id, clinic.runa, call.version, resume, clinic.now)


REPLACEMENT = {**ALDO, "identifier": "Q-9", "replaces": "Q-1", "delivered_on": "2026-03-05"}


def replaced(clinic: Clinic, step: int | None) -> None:
    clinic.start()
    clinic.at("2026-03-05 10:00")
    orthosis_id = clinic.deliver(REPLACEMENT)
    if step is not None:
        give_start_step(clinic.practice, orthosis_id, step, WHY, clinic.runa, clinic.now)
    record_checks(clinic.practice, orthosis_id, CHECKED, clinic.odd.staff_id, clinic.now)


@pytest.mark.parametrize(("given", "starts"), [(None, 1), (4, 4)])
def test_a_replacement_starts_at_the_first_step_unless_a_clinician_says_otherwise(
    clinic: Clinic, given: int | None, starts: int
) -> None:
    replaced(clinic, given)
    with clinic.practice.store.read() as connection:
        first = load_plan(connection, clinic.practice, 2, clinic.now).days(clinic.now)[0]
    assert first.step == starts


def test_the_plan_of_what_is_replaced_ends_and_nobody_is_told_of_two(clinic: Clinic) -> None:
    replaced(clinic, None)
    clinic.run_until("2026-03-06 09:00")
    earlier = next(row for row in clinic.rows(orthosis.select()) if row["id"] == 1)
    assert earlier["ended_why"] == "withdrawn"
    assert not any("our last message" in each for each in clinic.sent())
