from __future__ import annotations

from datetime import time, timedelta

import pytest

from followup.core.fixed_points import read_fixed_points
from followup.core.plan_event import (
    Away,
    AwayReason,
    Back,
    ClinicianDecision,
    DecisionKind,
    GoalChange,
    OrthosisChange,
    OrthosisChanged,
    ProtocolChange,
    ZoneChange,
)
from followup.core.wear_day import PlanState, WearDay
from followup.core.wearing_goal import RangeEnd
from followup.errors import Conflict, FollowupError, InvalidInput
from followup.services.change_plan import record_change
from followup.services.check_change import Change
from followup.services.follow_plan import load_plan
from followup.services.see_wearers import see_wearer
from followup.services.work_callbacks import see_queue
from followup.storage.tables import audit, callback, outbox, plan_event, wear_plan
from tests.builders import ALDO, BRANKA, Clinic, day, without_feeling

TODAY = day("2026-03-02")
TOMORROW = TODAY + timedelta(days=1)
TO_HOSPITAL = Away(AwayReason.HOSPITAL, TODAY)
DIALYSIS = GoalChange(TOMORROW, window_start=time(10), window_end=time(20))


def record(clinic: Clinic, change: Change, desk: bool = True, knowingly: bool = False) -> int | None:
    by = clinic.odd if desk else clinic.runa
    return record_change(clinic.practice, 1, change, by, clinic.now, knowingly=knowingly)


def to_s04(clinic: Clinic, step: int | None = None) -> ProtocolChange:
    return ProtocolChange("s04", clinic.practice.protocols["s04"].digest, TOMORROW, "", step)


def plan_day(clinic: Clinic, on: str) -> WearDay:
    with clinic.practice.store.read() as connection:
        days = load_plan(connection, clinic.practice, 1, clinic.now).days(clinic.now)
    return next(each for each in days if each.on == day(on))


def written(clinic: Clinic) -> list[object]:
    return [clinic.rows(table.select()) for table in (plan_event, wear_plan, outbox, audit, callback)]


def test_away_the_plan_rests_and_nobody_is_asked_anything(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    record(clinic, TO_HOSPITAL)
    clinic.run_until("2026-03-05 21:00")
    assert plan_day(clinic, "2026-03-04").state is PlanState.AWAY
    assert [row["kind"] for row in clinic.rows(outbox.select()) if row["state"] == "accepted"] == [
        "delivery_day",
        "rests",
    ]
    assert see_queue(clinic.practice, clinic.now) == ()


def test_a_rest_that_begins_later_is_told_on_its_day(clinic: Clinic) -> None:
    clinic.start()
    record(clinic, Away(AwayReason.TRAVEL, TODAY + timedelta(days=2)))
    (told,) = [row for row in clinic.rows(outbox.select()) if row["kind"] == "rests"]
    clinic.at("2026-03-04 08:00")
    assert told["due_at"] == clinic.now


def test_back_a_clinician_rings_by_the_next_working_day(clinic: Clinic) -> None:
    clinic.start()
    record(clinic, TO_HOSPITAL)
    clinic.at("2026-03-06 09:00")
    record(clinic, Back(day("2026-03-06")))
    (call,) = see_queue(clinic.practice, clinic.now)
    clinic.at("2026-03-09 17:30")
    assert (call.reason, call.due_at) == ("back from hospital: how to go on", clinic.now)


def test_back_they_are_told_that_it_waits_and_who_rings(clinic: Clinic) -> None:
    clinic.start({**ALDO, "without_orthosis": "with_help"})
    record(clinic, TO_HOSPITAL)
    clinic.at("2026-03-04 09:00")
    record(clinic, Back(day("2026-03-04")))
    clinic.tick()
    said = clinic.sent()[-1]
    assert "A clinician rings you by Thursday 17:30." in said
    assert "Take it off sitting or lying" in said


def test_what_protects_stays_on_while_they_are_away(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    record(clinic, TO_HOSPITAL)
    clinic.tick()
    assert "Leave it on as ordered until we speak." in clinic.sent()[-1]
    assert plan_day(clinic, "2026-03-04").state is PlanState.LEAVE_ON


def test_other_hours_of_the_day_are_told_with_the_new_times(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    record(clinic, DIALYSIS)
    clinic.tick()
    periods = plan_day(clinic, "2026-03-03").periods
    assert min(each.on_at for each in periods).time() >= time(10)
    assert "Your times are new, as agreed with us." in clinic.sent()[-1]


def test_fixed_points_shape_the_days_from_then_on(clinic: Clinic) -> None:
    clinic.start()
    points = read_fixed_points("nap off 09:00-11:00")
    record(clinic, GoalChange(TOMORROW, fixed_points=points))
    assert all(not (9 <= each.on_at.hour < 11) for each in plan_day(clinic, "2026-03-03").periods)


def test_another_zone_moves_the_clock_of_family_and_plan(clinic: Clinic) -> None:
    clinic.start()
    record(clinic, ZoneChange("America/New_York", TOMORROW))
    clinic.at("2026-03-03 12:00")
    assert see_wearer(clinic.practice, 1, clinic.now).zone == "America/New_York"


def test_another_protocol_goes_on_at_the_step_the_clinician_says(clinic: Clinic) -> None:
    clinic.start()
    record(clinic, to_s04(clinic, step=3), desk=False)
    assert plan_day(clinic, "2026-03-03").target_minutes == 60
    clinic.at("2026-03-03 09:00")
    assert see_wearer(clinic.practice, 1, clinic.now).facts.protocol_title == clinic.practice.protocols["s04"].title


def test_a_decision_about_marks_changes_how_long_one_may_last(clinic: Clinic) -> None:
    clinic.start(without_feeling(ALDO))
    before = see_wearer(clinic.practice, 1, clinic.now).facts.limit_minutes
    decided = ClinicianDecision(DecisionKind.MARK_LIMIT, TODAY, "Skin marks easily; seen twice.", "", 40)
    record(clinic, decided, desk=False)
    assert (before, see_wearer(clinic.practice, 1, clinic.now).facts.limit_minutes) == (30, 40)


CLINICIANS_ONLY = [
    lambda clinic: to_s04(clinic),
    lambda clinic: GoalChange(TOMORROW, full_wear_minutes=300),
    lambda clinic: GoalChange(TOMORROW, range_end=RangeEnd.HIGH),
    lambda clinic: ClinicianDecision(DecisionKind.APART, TODAY, "The left one is old.", ""),
    lambda clinic: OrthosisChanged(OrthosisChange.ADJUSTED, TODAY),
]


@pytest.mark.parametrize("make", CLINICIANS_ONLY)
def test_the_front_desk_does_not_record_what_only_a_clinician_says(clinic: Clinic, make) -> None:  # type: ignore[no-untyped-def]
    clinic.start()
    before = written(clinic)
    with pytest.raises(InvalidInput, match="ask one to sign in"):
        record(clinic, make(clinic))
    assert written(clinic) == before


REFUSED: list[tuple[Change, str]] = [
    (Away(AwayReason.TRAVEL, TODAY - timedelta(days=1)), "Choose today or a later day"),
    (Away(AwayReason.TRAVEL, TODAY + timedelta(days=15)), "within 14 days"),
    (Back(TODAY), "They are not away"),
    (GoalChange(TOMORROW), "Change something"),
    (GoalChange(TOMORROW, window_start=time(9)), "both ends"),
    (GoalChange(TOMORROW, window_start=time(9), window_end=time(9, 30)), "write a longer window"),
    (GoalChange(TOMORROW, full_wear_minutes=1500), "1440"),
    (ProtocolChange("s99", "", TOMORROW, ""), "Choose a protocol of the list"),
    (ClinicianDecision(DecisionKind.MARK_LIMIT, TODAY, "seen", ""), "Write how long a mark may last"),
    (ClinicianDecision(DecisionKind.MARK_LIMIT, TODAY, "seen", "", 41), "to the published 40"),
    (ClinicianDecision(DecisionKind.APART, TODAY, " ", ""), "Write why you decide so"),
    (OrthosisChanged(OrthosisChange.ADJUSTED, TOMORROW), "on the day it happens"),
]


@pytest.mark.parametrize(("change", "said"), REFUSED)
def test_what_cannot_be_is_refused_with_what_to_do_and_changes_nothing(
    clinic: Clinic, change: Change, said: str
) -> None:
    clinic.start()
    before = written(clinic)
    with pytest.raises(FollowupError, match=said):
        record(clinic, change, desk=False)
    assert written(clinic) == before


def test_a_step_the_other_protocol_does_not_have_is_refused(clinic: Clinic) -> None:
    clinic.start()
    with pytest.raises(InvalidInput, match="Choose a step from 1 to"):
        record(clinic, to_s04(clinic, step=99), desk=False)


def test_a_plan_that_has_not_begun_is_corrected_and_not_changed(clinic: Clinic) -> None:
    clinic.deliver()
    with pytest.raises(Conflict, match="correct the delivery"):
        record(clinic, DIALYSIS)


def test_what_protects_is_changed_only_knowingly(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    with pytest.raises(InvalidInput, match="knowingly"):
        record(clinic, to_s04(clinic), desk=False)
    assert record(clinic, to_s04(clinic), desk=False, knowingly=True)


@pytest.mark.parametrize("change", [TO_HOSPITAL, DIALYSIS, ZoneChange("Europe/Lisbon", TOMORROW)])
def test_the_same_form_twice_changes_nothing(clinic: Clinic, change: Change) -> None:
    clinic.start()
    record(clinic, change)
    before = written(clinic)
    assert record(clinic, change) is None
    assert written(clinic) == before


def test_who_is_away_cannot_go_away_again(clinic: Clinic) -> None:
    clinic.start()
    record(clinic, TO_HOSPITAL)
    with pytest.raises(Conflict, match="record when they are back"):
        record(clinic, Away(AwayReason.TRAVEL, TOMORROW))


def test_messages_a_change_makes_untrue_are_taken_back(clinic: Clinic) -> None:
    clinic.start()
    clinic.at("2026-03-03 06:30")
    clinic.tick()
    record(clinic, Away(AwayReason.ILLNESS, day("2026-03-03")))
    states = {row["kind"]: row["state"] for row in clinic.rows(outbox.select())}
    assert (states["same_time"], states["rests"]) == ("withdrawn", "planned")


def test_each_change_is_in_the_audit_trail_with_who_recorded_it(clinic: Clinic) -> None:
    clinic.start()
    record(clinic, TO_HOSPITAL)
    entry = next(row for row in clinic.rows(audit.select()) if row["action"] == "plan_changed")
    assert (entry["actor"], entry["data"]["type"]) == (f"staff:{clinic.odd.staff_id}", "away")
