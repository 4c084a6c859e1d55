"""Recording what changes a running plan: away and back, the orthosis, protocol, goal and zone, decisions, the end.

Each is one transaction: the event, the projection, messages it makes untrue, the word to the family, the audit entry.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from followup.core.message import MessageKind
from followup.core.plan_event import (
    Away,
    AwayReason,
    Back,
    ClinicianDecision,
    DecisionKind,
    EventData,
    GoalChange,
    OrthosisChanged,
    PlanEnd,
    ProtocolChange,
    ZoneChange,
)
from followup.core.plan_event_json import data_as_json, event_type
from followup.core.urgency import Urgency, WearInstruction
from followup.services.check_change import Change, check_change
from followup.services.end_plan import end_plan
from followup.services.follow_plan import PlanRecord, load_plan, record_event
from followup.services.follow_up import open_or_join
from followup.services.practice import Practice
from followup.services.queue_messages import queue_change
from followup.services.sign_in import Session
from followup.storage import callbacks, orthoses
from followup.storage.audit import write_entry

BACK_FROM = {
    AwayReason.HOSPITAL: "back from hospital: how to go on",
    AwayReason.TRAVEL: "back from a journey: how to go on",
    AwayReason.ILLNESS: "well again after an illness: how to go on",
}


def record_change(
    practice: Practice, orthosis_id: int, change: Change, by: Session, now: datetime, *, knowingly: bool = False
) -> int | None:
    """Record a change and all that follows from it; the event's id, None where just this is recorded already.

    `InvalidInput` or `Conflict` says what to do, and then nothing is changed. `knowingly` is said of a change to the
    wear of an orthosis that protects a fracture or a repair.
    """
    signed = _signed(change, by)
    with practice.store.write() as connection:
        orthoses.hold(connection, orthosis_id)
        record = load_plan(connection, practice, orthosis_id, now)
        if _is_known(record, signed):
            return None
        check_change(practice, record, signed, by.role, now, knowingly=knowingly)
        if isinstance(signed, PlanEnd):
            return end_plan(connection, practice, record, signed, by.staff_id, now)
        event_id = record_event(connection, practice, orthosis_id, signed, now, now)
        data = {"type": event_type(signed).value, "event": event_id}
        write_entry(connection, now, f"staff:{by.staff_id}", "plan_changed", f"orthosis:{orthosis_id}", data)
        _follow(connection, practice, record, signed, event_id, now)
        return event_id


def _signed(change: Change, by: Session) -> Change:
    """The change with who recorded it, where its event says so."""
    if isinstance(change, Away | Back | ZoneChange):
        return change
    return replace(change, by=f"staff:{by.staff_id}")


def _is_known(record: PlanRecord, change: Change) -> bool:
    """True where the newest event of its kind says the same: the same form came twice."""
    mine = [event.data for event in record.events if isinstance(event.data, type(change))]
    if not mine or isinstance(change, OrthosisChanged):
        return False
    return _said(mine[-1]) == _said(change)


def _said(change: EventData) -> dict[str, Any]:
    """What a change says, whoever recorded it."""
    return {name: value for name, value in data_as_json(change).items() if name != "by"}


def _follow(
    connection: Connection, practice: Practice, record: PlanRecord, change: Change, event_id: int, now: datetime
) -> None:
    """What a change leads to beside the plan itself."""
    orthosis_id, key = record.orthosis_id, str(event_id)
    match change:
        case Away():
            leave_on = record.terms.protective
            queue_change(
                connection, practice, orthosis_id, MessageKind.RESTS, key, now, on=change.from_on, leave_on=leave_on
            )
        case Back():
            _ask_how_to_go_on(connection, practice, record, key, now)
        case OrthosisChanged() if change.change.needs_start_step:
            _check_again(connection, practice, record, change, key, now)
        case ProtocolChange() | GoalChange() | ZoneChange():
            kind = MessageKind.HOURS_CHANGED
            queue_change(connection, practice, orthosis_id, kind, key, now, on=change.from_on)
        case ClinicianDecision(kind=DecisionKind.APART):
            _say_of_both(connection, practice, record, change, now)


def _ask_how_to_go_on(connection: Connection, practice: Practice, record: PlanRecord, key: str, now: datetime) -> None:
    """They are back: a clinician rings by the next working day, and until then the plan waits."""
    left = next(event.data for event in reversed(record.events) if isinstance(event.data, Away))
    instruction = waiting_instruction(record)
    urgency = Urgency.CLINICIAN_NEXT_DAY
    _, deadline = open_or_join(connection, practice, record.orthosis_id, urgency, instruction, BACK_FROM[left.why], now)
    _say_it_waits(connection, practice, record, key, now, deadline)


def _check_again(
    connection: Connection, practice: Practice, record: PlanRecord, change: OrthosisChanged, key: str, now: datetime
) -> None:
    """The delivery checks are made again, then a clinician says the step to start with; until then the plan waits."""
    orthoses.reopen_checks(connection, record.orthosis_id)
    hours = practice.facts.hours
    due = hours.closing(hours.next_working_day(now.astimezone(hours.zone).date()))
    what = {"loan": "a loan was handed out"}.get(change.change.value, f"the orthosis was {change.change.value}")
    values = {"key": f"checks:{record.orthosis_id}:{key}", "orthosis_id": record.orthosis_id, "kind": "checks"}
    text = f"{what}: do the delivery checks again; then a clinician says the step to start with"
    callbacks.add_desk_item(connection, {**values, "text": text, "from_at": now, "due_at": due, "opened_at": now})
    _say_it_waits(connection, practice, record, key, now, None)


def _say_it_waits(
    connection: Connection, practice: Practice, record: PlanRecord, key: str, now: datetime, by: datetime | None
) -> None:
    leave_on = record.terms.protective
    queue_change(connection, practice, record.orthosis_id, MessageKind.WAITS, key, now, by=by, leave_on=leave_on)


def waiting_instruction(record: PlanRecord) -> WearInstruction:
    """What holds until a clinician has spoken; one that protects stays on."""
    if record.terms.protective:
        return WearInstruction.LEAVE_ON_AS_ORDERED
    return WearInstruction.OFF_UNTIL_WE_SPEAK


def _say_of_both(
    connection: Connection, practice: Practice, record: PlanRecord, change: ClinicianDecision, now: datetime
) -> None:
    """That two orthoses go their own ways is said of both."""
    for other in orthoses.of_wearer(connection, record.wearer["id"]):
        if other != record.orthosis_id and load_plan(connection, practice, other, now).started_at is not None:
            record_event(connection, practice, other, change, now, now)
