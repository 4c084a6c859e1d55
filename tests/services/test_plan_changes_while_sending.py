from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from followup.core.channel import Outgoing
from followup.core.outbox import OutboxState
from followup.core.plan_event import PlanAction
from followup.services.see_callback import see_callback
from followup.services.send_outbox import send_outbox
from followup.services.work_callbacks import CallOutcome, Closing, close_callback
from followup.storage.tables import contact, outbox
from tests.builders import Clinic, day


def test_a_message_is_taken_back_if_the_plan_changes_while_it_is_written(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    clinic.at("2026-03-02 16:00")
    clinic.tick()
    clinic.at("2026-03-02 18:30")

    def compose(row: Mapping[str, Any], now: datetime) -> Outgoing:
        if row["kind"] == "question":
            clinic.report(1, {"mark_minutes": 50})
        return clinic.compose(row, now)

    send_outbox(clinic.practice, clinic.server, compose, clinic.clock)
    asked = [row["state"] for row in clinic.rows(outbox.select()) if row["kind"] == "question"]
    assert asked == [OutboxState.WITHDRAWN]
    assert "leave it off" in clinic.sent()[-1]


def begin_again_from_wednesday(clinic: Clinic, spoken: str = "2026-03-03 21:00") -> None:
    """Off since Monday; on Tuesday at 21:00 wear may begin again on Wednesday, told at 8 if spoken late."""
    clinic.start()
    clinic.at("2026-03-02 18:00")
    clinic.report(1, {"mark_minutes": 50})
    clinic.tick()
    clinic.at(spoken)
    version = see_callback(clinic.practice, 1, clinic.now).entry.version
    closing = Closing(CallOutcome.SPOKEN, "strap moved", PlanAction.RESUME, day("2026-03-04"))
    close_callback(clinic.practice, 1, clinic.runa, version, closing, clinic.now)


def told(clinic: Clinic) -> list[str]:
    rows = clinic.rows(outbox.select().where(outbox.c.slot.like("event-%"), outbox.c.state == OutboxState.ACCEPTED))
    return [row["kind"] for row in rows]


def test_begin_again_is_not_sent_once_a_blister_was_reported(clinic: Clinic) -> None:
    begin_again_from_wednesday(clinic)
    clinic.at("2026-03-03 21:40")
    clinic.report(1, {"blister": True})
    clinic.run_until("2026-03-04 12:00")
    assert told(clinic) == ["off_until_we_speak"]


def test_who_was_told_to_begin_again_is_told_of_a_stop_before_that_day(clinic: Clinic) -> None:
    begin_again_from_wednesday(clinic, "2026-03-03 15:00")
    clinic.at("2026-03-03 16:00")
    clinic.tick()
    clinic.report(1, {"blister": True})
    clinic.tick()
    assert told(clinic) == ["off_until_we_speak", "resume", "off_until_we_speak"]


def test_a_change_is_not_told_for_a_day_that_has_other_minutes_by_then(clinic: Clinic) -> None:
    begin_again_from_wednesday(clinic)
    clinic.at("2026-03-03 21:40")
    clinic.report(1, {"skin_open": True})
    with clinic.practice.store.write() as connection:
        connection.execute(outbox.update().where(outbox.c.kind == "resume").values(state=OutboxState.PLANNED))
    clinic.run_until("2026-03-04 12:00")
    assert told(clinic) == ["off_until_we_speak"]


def test_nothing_planned_before_is_sent_to_one_who_is_no_longer_on_duty(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    clinic.at("2026-03-02 16:00")
    clinic.tick()
    with clinic.practice.store.write() as connection:
        connection.execute(contact.update().values(on_duty=False))
    clinic.run_until("2026-03-02 20:00")
    assert [row["state"] for row in clinic.rows(outbox.select()) if row["kind"] == "question"] == [
        OutboxState.WITHDRAWN
    ]
