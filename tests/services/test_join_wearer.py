from __future__ import annotations

import pytest

from followup.core.urgency import Urgency
from followup.errors import Conflict, UnknownId
from followup.services.follow_plan import load_plan
from followup.services.join_wearer import join_wearer
from followup.services.see_callback import see_callback
from followup.services.take_report import ReportSource, begin_report, finish_report, see_report
from followup.services.work_callbacks import QueueEntry, see_queue, take_callback
from followup.storage.tables import audit, outbox, triage_result
from tests.builders import ALDO, BRANKA, Clinic, day, without_feeling


def an_unknown_call(clinic: Clinic, finish: bool = True, **stated: object) -> QueueEntry:
    """Somebody nobody knows reports; the call that opens."""
    source = ReportSource("phone", staff_id=clinic.odd.staff_id, text="A neighbour, 01632 960222")
    begun = begin_report(clinic.practice, source, stated, clinic.now)
    if finish:
        finish_report(clinic.practice, begun.report_id, clinic.now)
    return next(each for each in see_queue(clinic.practice, clinic.now) if each.orthosis_id is None)


def only(clinic: Clinic) -> QueueEntry:
    (entry,) = see_queue(clinic.practice, clinic.now)
    return entry


def test_one_report_of_an_unknown_caller_opens_one_call(clinic: Clinic) -> None:
    an_unknown_call(clinic, breathless=True)
    assert only(clinic).urgency is Urgency.EMERGENCY_NOW


def test_the_call_becomes_the_wearers_and_the_plan_stops(clinic: Clinic) -> None:
    clinic.start()
    clinic.at("2026-03-03 11:00")
    call = an_unknown_call(clinic, skin_open=True)
    assert join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now) == call.callback_id
    entry = only(clinic)
    assert (entry.orthosis_id, entry.contact_name) == (1, "Maj Torvenn")
    assert (entry.urgency, entry.due_at, entry.opened_at) == (call.urgency, call.due_at, call.opened_at)
    with clinic.practice.store.read() as connection:
        days = {each.on: each for each in load_plan(connection, clinic.practice, 1).days(clinic.now)}
    assert days[day("2026-03-04")].target_minutes == 0
    assert [each["kind"] for each in clinic.rows(outbox.select())][-1] == "off_until_we_speak"


def test_the_report_is_triaged_again_with_the_wearers_precautions(clinic: Clinic) -> None:
    clinic.start(BRANKA)
    call = an_unknown_call(clinic, skin_open=True)
    join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now)
    assert clinic.rows(triage_result.select())[-1]["instruction"] == "leave_on_as_ordered"
    progress = see_report(clinic.practice, 1, clinic.now)
    assert (progress.orthosis_id, progress.facts.protective, progress.state) == (1, True, "done")


def test_it_joins_the_wearers_open_call_which_never_relaxes(clinic: Clinic) -> None:
    clinic.start(without_feeling(ALDO))
    clinic.report(1, {"skin_open": True})
    theirs = only(clinic)
    call = an_unknown_call(clinic, breathless=True)
    assert join_wearer(clinic.practice, call.callback_id, 1, clinic.runa, clinic.now) == theirs.callback_id
    entry = only(clinic)
    assert (entry.urgency, entry.due_at) == (Urgency.EMERGENCY_NOW, min(call.due_at, theirs.due_at))
    assert see_report(clinic.practice, 2, clinic.now).callback_id == theirs.callback_id
    assert see_callback(clinic.practice, call.callback_id, clinic.now).entry.state == "closed"


def test_an_urgency_that_the_record_would_lower_stays(clinic: Clinic) -> None:
    clinic.start()
    call = an_unknown_call(clinic)
    assert call.urgency >= Urgency.CLINICIAN_NEXT_DAY
    clinic.at("2026-03-02 15:00")
    join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now)
    assert (only(clinic).urgency, only(clinic).due_at) >= (call.urgency, call.due_at)
    assert only(clinic).due_at == call.due_at


def test_a_report_still_open_is_finished_as_it_stands(clinic: Clinic) -> None:
    clinic.start()
    call = an_unknown_call(clinic, finish=False, breathless=True)
    join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now)
    assert see_report(clinic.practice, 1, clinic.now).state == "done"


def test_who_took_the_call_keeps_it_and_the_audit_trail_says_who_joined_it(clinic: Clinic) -> None:
    clinic.start()
    clinic.report(1, {"skin_open": True})
    call = an_unknown_call(clinic, breathless=True)
    take_callback(clinic.practice, call.callback_id, clinic.runa, clinic.now)
    join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now)
    assert only(clinic).taken_by == "Runa"
    (entry,) = [each for each in clinic.rows(audit.select()) if each["action"] == "callback_joined_to_wearer"]
    assert (entry["actor"], entry["data"]) == (f"staff:{clinic.odd.staff_id}", {"orthosis": 1, "callback": 1})


def test_a_call_can_be_joined_once_and_only_to_an_orthosis_that_is_known(clinic: Clinic) -> None:
    clinic.start()
    call = an_unknown_call(clinic, skin_open=True)
    with pytest.raises(UnknownId):
        join_wearer(clinic.practice, call.callback_id, 99, clinic.odd, clinic.now)
    assert only(clinic).orthosis_id is None
    join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now)
    with pytest.raises(Conflict) as refused:
        join_wearer(clinic.practice, call.callback_id, 1, clinic.odd, clinic.now)
    assert refused.value.code == "wearer_known"
