"""One wearer's first days, once on SQLite and once on PostgreSQL; and what two processes may not do at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from followup.core.plan_event import PlanAction
from followup.core.wear_day import PlanState
from followup.services.read_replies import read_replies, take_in
from followup.services.see_callback import see_callback
from followup.services.see_wearers import see_wearer
from followup.services.work_callbacks import CallOutcome, Closing, close_callback, see_queue, take_callback
from followup.storage.engine import Store, open_store
from followup.storage.tables import outbox, plan_event, report, wear_plan
from tests.builders import ALDO, Clinic, Letters, clinic_on, day, letter

KINDS = ["delivery_day", "question", "times", "question", "times", "off_until_we_speak", "resume"]


def first_days(clinic: Clinic) -> Clinic:
    """Two clear days, a mark that lasted fifty minutes, a call, and wear again from the next morning."""
    clinic.start()
    clinic.tick()
    clinic.run_until("2026-03-02 19:00")
    clinic.tick(Letters({"letter": letter("1")}))
    clinic.run_until("2026-03-03 19:00")
    clinic.clear(1)
    clinic.run_until("2026-03-04 10:30")
    clinic.report(1, {"mark_minutes": 50})
    take_callback(clinic.practice, 1, clinic.runa, clinic.now)
    version = see_callback(clinic.practice, 1, clinic.now).entry.version
    closing = Closing(CallOutcome.SPOKEN, "strap moved", PlanAction.RESUME, day("2026-03-05"), 2)
    clinic.tick()
    close_callback(clinic.practice, 1, clinic.runa, version, closing, clinic.now)
    clinic.tick()
    return clinic


def test_the_first_days_go_as_they_should(store: Store) -> None:
    clinic = first_days(clinic_on(store))
    assert [row["kind"] for row in clinic.rows(outbox.select().order_by(outbox.c.id))] == KINDS
    assert {row["state"] for row in clinic.rows(outbox.select())} == {"accepted"}


def test_what_was_said_is_told_in_order(store: Store) -> None:
    clinic = first_days(clinic_on(store))
    story = see_wearer(clinic.practice, 1, clinic.now).story
    assert [each.at for each in story] == sorted(each.at for each in story)
    assert "strap moved" in str(story)
    clinic.at("2026-03-05 07:00")
    clinic.tick()
    assert clinic.rows(wear_plan.select())[0]["state"] == PlanState.WEARING


def report_from(url: str, together: Barrier) -> None:
    store = open_store(url)
    clinic = clinic_on(store)
    clinic.rows(report.select())
    together.wait(20)
    clinic.report(1, {"mark_minutes": 50}, channel="phone")
    store.close()


def read_from(url: str, together: Barrier) -> None:
    store = open_store(url)
    clinic = clinic_on(store)
    together.wait(20)
    read_replies(clinic.practice, clinic.now)
    store.close()


def test_one_reply_read_by_several_workers_at_once_is_one_report(store_url: str, store: Store) -> None:
    clinic = clinic_on(store)
    clinic.start()
    for number in range(6):
        take_in(clinic.practice, Letters({f"letter {number}": letter("3")}), clinic.now)
    together = Barrier(4)
    with ThreadPoolExecutor(4) as workers:
        list(workers.map(lambda _: read_from(store_url, together), range(4)))
    assert len(clinic.rows(report.select())) == 6


def report_together(url: str) -> None:
    together = Barrier(4)
    with ThreadPoolExecutor(4) as callers:
        list(callers.map(lambda _: report_from(url, together), range(4)))


@pytest.mark.parametrize("started", [True, False])
def test_reports_that_come_at_once_share_one_call_and_none_is_lost(store_url: str, store: Store, started: bool) -> None:
    clinic = clinic_on(store)
    clinic.start() if started else clinic.deliver()
    report_together(store_url)
    assert (len(see_queue(clinic.practice, clinic.now)), len(clinic.rows(report.select()))) == (1, 4)


def test_each_of_several_events_at_once_is_a_revision_of_its_own(store_url: str, store: Store) -> None:
    clinic = clinic_on(store)
    clinic.start()
    report_together(store_url)
    assert clinic.rows(wear_plan.select())[0]["revision"] == 1 + len(clinic.rows(plan_event.select()))


def tick_from(url: str) -> list[str]:
    store = open_store(url)
    clinic = clinic_on(store)
    clinic.tick()
    store.close()
    return [each.recipient for each in clinic.server.tried]


def test_workers_side_by_side_send_each_message_once(store_url: str, store: Store) -> None:
    clinic = clinic_on(store)
    for number in range(6):
        row = {"wearer_reference": f"W{number}", "identifier": f"Q{number}"}
        clinic.start({**ALDO, **row, "contact1_address": f"maj{number}@phones.example"})
    with ThreadPoolExecutor(3) as workers:
        sent = [each for hand in workers.map(tick_from, [store_url] * 3) for each in hand]
    assert sorted(sent) == [f"maj{number}@phones.example" for number in range(6)]
