from __future__ import annotations

from datetime import timedelta

from followup.core.urgency import Urgency
from followup.services.desk import close_desk_item, see_desk
from followup.services.see_callback import see_callback
from followup.services.work_callbacks import QueueEntry, see_queue
from followup.storage.tables import outbox, report, triage_result
from tests.builders import BRANKA, Clinic

LONG_MARK = {"mark_minutes": 50}


def only_call(clinic: Clinic) -> QueueEntry:
    (entry,) = see_queue(clinic.practice, clinic.now)
    return entry


def fired(clinic: Clinic) -> list[dict[str, str]]:
    return [rule for row in clinic.rows(triage_result.select()) for rule in row["fired"]]


def test_a_mark_that_outlasts_the_limit_opens_a_call_for_today(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    assert only_call(clinic).urgency is Urgency.CLINICIAN_TODAY
    assert only_call(clinic).due_at.hour == 17


def test_a_milder_report_joins_and_never_postpones_or_lowers(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    before = only_call(clinic)
    clinic.now += timedelta(hours=2)
    clinic.report(1, {**clinic.practice.replies[1], "wants_call": True})
    after = only_call(clinic)
    assert (after.urgency, after.due_at, after.reason) == (before.urgency, before.due_at, before.reason)


def test_a_worse_report_joins_and_raises(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    clinic.report(1, {"chest_pain": True})
    assert only_call(clinic).urgency is Urgency.EMERGENCY_NOW
    assert only_call(clinic).due_at == clinic.now + timedelta(minutes=15)


def test_a_call_shows_every_report_that_joined_it(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    clinic.report(1, {"chest_pain": True})
    view = see_callback(clinic.practice, 1, clinic.now)
    assert len(clinic.rows(report.select())) == 2
    assert {"mark_outlasts_limit", "chest_pain"} <= {each["id"] for each in fired(clinic)}
    assert view.floor is Urgency.EMERGENCY_NOW


def test_level_one_is_for_the_desk_and_nobody_else(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, {**clinic.practice.replies[1], "shoe_tight": True})
    assert see_queue(clinic.practice, clinic.now) == ()
    assert [each.kind for each in see_desk(clinic.practice, clinic.now)] == ["follow_up"]


def test_the_desk_closes_its_item(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, {**clinic.practice.replies[1], "shoe_tight": True})
    close_desk_item(clinic.practice, see_desk(clinic.practice, clinic.now)[0].id, clinic.odd, "rang", clinic.now)
    assert see_desk(clinic.practice, clinic.now) == ()


def test_all_well_opens_nothing(clinic: Clinic) -> None:
    clinic.start()
    clinic.clear(1)
    assert (see_queue(clinic.practice, clinic.now), see_desk(clinic.practice, clinic.now)) == ((), ())


def test_out_of_hours_the_person_on_call_is_told_at_once(clinic: Clinic) -> None:
    clinic.start()
    clinic.at("2026-03-07 11:00")
    clinic.report(1, LONG_MARK)
    (alert,) = [each for each in clinic.rows(outbox.select()) if each["kind"] == "on_call"]
    assert alert["address"] == "oncall@quillmere.example"
    assert only_call(clinic).due_at == clinic.now + timedelta(hours=1)


def test_in_clinic_hours_nobody_on_call_is_woken(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    assert [each for each in clinic.rows(outbox.select()) if each["kind"] == "on_call"] == []


def test_the_alert_says_who_it_is_about_by_number_only(clinic: Clinic) -> None:
    clinic.start()
    clinic.at("2026-03-07 11:00")
    clinic.report(1, LONG_MARK)
    clinic.tick()
    (alert,) = [each for each in clinic.server.tried if each.recipient == "oncall@quillmere.example"]
    assert b"/callbacks/1" in alert.content
    assert b"Torvenn" not in alert.content


def test_the_family_is_told_to_take_it_off_and_when_somebody_rings(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    clinic.tick()
    (told,) = [each for each in clinic.sent() if "leave it off" in each]
    assert "17:30" in told


def test_who_cannot_stand_alone_is_told_not_to(clinic: Clinic) -> None:
    clinic.start({**BRANKA, "protective": "no"})
    clinic.report(1, LONG_MARK)
    clinic.tick()
    (told,) = [each for each in clinic.sent() if "leave it off" in each]
    assert "stand" in told


def test_a_callback_nobody_took_in_time_is_told_to_the_person_on_call_once(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, LONG_MARK)
    clinic.at("2026-03-02 17:31")
    first = clinic.tick()["alerts"]
    assert (first, clinic.tick()["alerts"]) == (1, 0)
