"""The end of a plan: one event ends the plan, its messages, its links, and what is still to be done about it."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection

from followup.core.message import MessageKind
from followup.core.plan_event import PlanEnd, PlanEnding
from followup.core.plan_event_json import data_as_json, event_type
from followup.services.follow_plan import PlanRecord, load_plan, project
from followup.services.practice import Practice
from followup.services.queue_messages import queue_change
from followup.storage import callbacks, orthoses, outbox, people, plans
from followup.storage.audit import write_entry

DIED = "the wearer has died"
NOTES = {
    PlanEnding.TRANSFERRED: "the plan has ended: another practice goes on with it",
    PlanEnding.WITHDRAWN: "the plan has ended: they go on without us",
    PlanEnding.DIED: DIED,
}


def end_plan(
    connection: Connection, practice: Practice, record: PlanRecord, end: PlanEnd, staff_id: int | None, now: datetime
) -> int:
    """Record the end of a plan, and end it if the day has come; a death ends every plan of the wearer. The event's id.

    Calls that are open stay with the clinicians, who may still want to speak to the family; after a death they are
    closed. Nothing is ever sent after a death.
    """
    event_id = _end_one(connection, practice, record, end, staff_id, now)
    if end.why is PlanEnding.DIED:
        for other in orthoses.of_wearer(connection, record.wearer["id"]):
            also = load_plan(connection, practice, other, now)
            if also.ended_at is None:
                _end_one(connection, practice, also, end, staff_id, now)
    return event_id


def end_if_due(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> bool:
    """End a plan whose recorded last day has come; True if it has ended."""
    ends = [event for event in record.events if isinstance(event.data, PlanEnd)]
    if record.ended_at is None and ends and _end_of(ends[0].data).from_on <= record.on(now):
        _close(connection, practice, record, _end_of(ends[0].data).why, ends[0].id, None, now, tell=True)
        return True
    return record.ended_at is not None


def end_replaced(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> None:
    """A plan that begins ends that of the orthosis it stands in for; the family hears of the new one only."""
    replaced = record.orthosis["replaces"]
    row = orthoses.by_identifier(connection, replaced) if replaced else None
    if row is not None and row["ended_at"] is None:
        earlier = load_plan(connection, practice, row["id"], now)
        end = PlanEnd(PlanEnding.WITHDRAWN, record.on(now), "program")
        _end_one(connection, practice, earlier, end, None, now, tell=False)


def _end_of(data: object) -> PlanEnd:
    assert isinstance(data, PlanEnd)
    return data


def _end_one(
    connection: Connection,
    practice: Practice,
    record: PlanRecord,
    end: PlanEnd,
    staff_id: int | None,
    now: datetime,
    *,
    tell: bool = True,
) -> int:
    orthosis_id, actor = record.orthosis_id, f"staff:{staff_id}" if staff_id is not None else "program"
    event_id = plans.add_event(connection, orthosis_id, event_type(end), data_as_json(end), now, now)
    write_entry(connection, now, actor, "plan_end_recorded", f"orthosis:{orthosis_id}", {"why": end.why.value})
    if end.from_on <= record.on(now):
        _close(connection, practice, record, end.why, str(event_id), staff_id, now, tell=tell)
    if record.started_at is not None:
        project(connection, load_plan(connection, practice, orthosis_id, now), now, next_due_at=now, changed=1)
    return event_id


def _close(
    connection: Connection,
    practice: Practice,
    record: PlanRecord,
    why: PlanEnding,
    key: str,
    staff_id: int | None,
    now: datetime,
    *,
    tell: bool,
) -> None:
    orthosis_id, died = record.orthosis_id, why is PlanEnding.DIED
    outbox.withdraw_all(connection, orthosis_id, now)
    callbacks.close_all_desk_items_of(connection, orthosis_id, NOTES[why], now)
    if died:
        _say_nothing_more(connection, record, staff_id, now)
    elif tell and record.started_at is not None:
        queue_change(connection, practice, orthosis_id, MessageKind.PLAN_ENDED, key, now)
    people.revoke_links(connection, orthosis_id, now)
    orthoses.end(connection, orthosis_id, why.value, now)
    write_entry(connection, now, "program", "plan_ended", f"orthosis:{orthosis_id}", {"why": why.value})


def _say_nothing_more(connection: Connection, record: PlanRecord, staff_id: int | None, now: datetime) -> None:
    wearer_id = record.wearer["id"]
    for contact in people.contacts_of(connection, [wearer_id])[wearer_id]:
        outbox.withdraw_of_contact(connection, contact.id, now)
    waiting = callbacks.open_of(connection, record.orthosis_id)
    if waiting is not None:
        closed = {"state": "closed", "note": f"Closed by the program: {DIED}.", "closed_at": now}
        callbacks.change_callback(connection, waiting["id"], {**closed, "closed_by": staff_id})
        write_entry(connection, now, "program", "callback_closed", f"callback:{waiting['id']}", {"why": "died"})


def ended_words(why: str) -> str:
    """Why a plan has ended, in words for staff."""
    return NOTES[PlanEnding(why)]
