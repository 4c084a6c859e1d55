"""Stops are told and come back to a person, buttons pressed twice count once, and one fault stops nothing else."""

from __future__ import annotations

from datetime import timedelta

import pytest

from followup.core.plan_event import PlanAction
from followup.errors import InvalidInput
from followup.services.desk import close_desk_item, see_desk
from followup.services.follow_plan import load_plan
from followup.services.see_callback import see_callback
from followup.services.take_report import ReportSource, begin_report
from followup.services.work_callbacks import CallOutcome, Closing, close_callback
from followup.storage.tables import orthosis, report
from tests.builders import ALDO, Clinic


def stopped(clinic: Clinic, action: PlanAction = PlanAction.OFF, days: int = 0) -> None:
    """A mark that outlasts its limit, and a call closed with that word."""
    clinic.start()
    clinic.report(1, {"mark_minutes": 50})
    version = see_callback(clinic.practice, 1, clinic.now).entry.version
    closing = Closing(CallOutcome.SEEN, "Trimmed the edge.", action, clinic.now.date() + timedelta(days=days))
    close_callback(clinic.practice, 1, clinic.runa, version, closing, clinic.now)


def test_a_stop_by_silence_is_told(clinic: Clinic) -> None:
    clinic.start()
    clinic.run_until("2026-03-04 12:00")
    assert "leave it off until we speak" in clinic.sent()[-1]


def test_a_stopped_plan_comes_back_as_long_as_it_is_off(clinic: Clinic) -> None:
    stopped(clinic)
    for on in ("2026-03-04 18:00", "2026-03-06 18:00"):
        clinic.at(on)
        (item,) = see_desk(clinic.practice, clinic.now)
        assert "the plan is off" in item.text
        close_desk_item(clinic.practice, item.id, clinic.odd, "still off", clinic.now)


def test_nobody_is_told_to_wait_for_a_day_weeks_ahead(clinic: Clinic) -> None:
    with pytest.raises(InvalidInput, match="within 14 days"):
        stopped(clinic, PlanAction.RESUME, days=15)


def test_a_button_pressed_twice_begins_one_report(clinic: Clinic) -> None:
    clinic.start()
    for _ in range(2):
        begin_report(clinic.practice, ReportSource("link", 1), {"mark_minutes": 0}, clinic.now)
    assert len(clinic.rows(report.select())) == 1


def test_another_button_begins_another_report(clinic: Clinic) -> None:
    clinic.start()
    begin_report(clinic.practice, ReportSource("link", 1), {"mark_minutes": 0}, clinic.now)
    begin_report(clinic.practice, ReportSource("link", 1), {"sore_or_broken": True}, clinic.now)
    assert len(clinic.rows(report.select())) == 2


def test_a_plan_that_cannot_be_moved_keeps_no_other_and_no_alert_from_its_turn(clinic: Clinic) -> None:
    clinic.start()
    clinic.start({**ALDO, "wearer_reference": "W7", "wearer_name": "Una Reeve", "identifier": "Q-7"})
    clinic.report(2, {"mark_minutes": 50})
    with clinic.practice.store.write() as connection:
        connection.execute(orthosis.update().where(orthosis.c.id == 1).values(protocol_id="gone"))
    clinic.at("2026-03-02 18:00")
    with pytest.raises(ExceptionGroup) as failed:
        clinic.tick()
    assert failed.group_contains(Exception, depth=2)
    assert any("leave it off" in text for text in clinic.sent())


def test_a_night_of_wear_is_earned_by_the_look_next_morning(clinic: Clinic) -> None:
    clinic.start({**ALDO, "window": "21:00-07:00"})
    for number in (3, 4, 5):
        clinic.run_until(f"2026-03-0{number} 08:30")
        clinic.clear(1)
    with clinic.practice.store.read() as connection:
        days = load_plan(connection, clinic.practice, 1).days(clinic.now)
    assert [each.target_minutes for each in days[:4]] == [30, 60, 60, 120]


def test_no_message_promises_a_call_at_a_time_that_is_past(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, {**clinic.practice.replies[1], "top_edge_digs": True})
    clinic.run_until("2026-03-04 12:00")
    clinic.report(1, {"mark_minutes": 50})
    clinic.tick()
    assert "A clinician rings you. If you need us sooner" in clinic.sent()[-1]
