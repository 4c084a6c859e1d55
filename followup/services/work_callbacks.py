"""Working the callback queue: see it in order, take a call, try again, close it with an outcome and an instruction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection

from followup.core.callback import Part, Standing, part_of_queue, queue_order
from followup.core.delivery_check import what_blocks
from followup.core.goal_in_force import START_WORDS, waits_for_start
from followup.core.message import MessageKind
from followup.core.plan_event import PlanAction, PlanInstruction
from followup.core.precaution import Precaution
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import Conflict, InvalidInput, UnknownId
from followup.services.check_change import check_from_on
from followup.services.follow_plan import PlanRecord, load_plan, record_event
from followup.services.practice import Practice
from followup.services.queue_messages import queue_change
from followup.services.review_stops import put_review
from followup.services.sign_in import Role, Session
from followup.storage import callbacks, orthoses, people, plans
from followup.storage.audit import write_entry
from followup.storage.people import Contact

CHANGE_MESSAGES: Mapping[PlanAction, MessageKind] = {
    PlanAction.RESUME: MessageKind.RESUME,
    PlanAction.RESTART: MessageKind.RESUME,
    PlanAction.SAME_TIME: MessageKind.SAME_TIME,
    PlanAction.SHORTER: MessageKind.SHORTER_TIME,
    PlanAction.OFF: MessageKind.OFF_UNTIL_WE_SPEAK,
    PlanAction.LEAVE_ON: MessageKind.SAME_TIME,
}


STAYS_OFF = frozenset({PlanAction.OFF, PlanAction.LEAVE_ON})
LEAVES_ON = frozenset({PlanAction.AS_PLANNED, PlanAction.LEAVE_ON})


class CallOutcome(StrEnum):
    """How a callback ended. Nobody reached is not among them: the call stays open and is tried again."""

    SPOKEN = "spoken"
    SEEN = "seen"
    SENT_TO_CARE = "sent_to_care"


@dataclass(frozen=True, slots=True)
class Closing:
    """What a clinician writes down at the end of a call. `step` is for resume only.

    `knowingly` is said of anything but leaving it on, where the orthosis protects a fracture or a repair.
    """

    outcome: CallOutcome
    note: str
    action: PlanAction
    from_on: date
    step: int | None = None
    knowingly: bool = False


@dataclass(frozen=True, slots=True)
class QueueEntry:
    """One callback as the queue's sentence: whom to ring, why, by when. `late_minutes` is 0 while there is time."""

    callback_id: int
    orthosis_id: int | None
    part: Part
    wearer_name: str
    contact_name: str
    relation: str
    phone: str
    side: str
    reason: str
    urgency: Urgency
    instruction: WearInstruction
    opened_at: datetime
    due_at: datetime
    late_minutes: int
    taken_by: str
    taken_by_id: int | None
    taken_at: datetime | None
    next_try_at: datetime | None
    tries: int
    version: int
    state: str


def see_queue(practice: Practice, now: datetime) -> tuple[QueueEntry, ...]:
    """Every open callback, most pressing first."""
    with practice.store.read() as connection:
        rows = callbacks.open_callbacks(connection)
        everyone = people.contacts_of(connection, [row["wearer_id"] for row in rows if row["wearer_id"]])
        names = people.staff_names(connection)
    rows.sort(key=lambda row: queue_order(standing_of(row), row["opened_at"], now))
    return tuple(entry_of(practice, row, everyone.get(row["wearer_id"], []), names, now) for row in rows)


def entry_of(
    practice: Practice, row: Mapping[str, Any], contacts: list[Contact], names: Mapping[int, str], now: datetime
) -> QueueEntry:
    """The sentence of one callback row."""
    whom = contacts[0] if contacts else None
    standing = standing_of(row)
    late = max(int((now - standing.due_at).total_seconds() // 60), 0)
    return QueueEntry(
        row["id"],
        row["orthosis_id"],
        part_of_queue(standing, now, practice.facts.hours),
        row["wearer_name"] or "",
        whom.name if whom else "",
        whom.relation if whom else "",
        whom.phone if whom else "",
        row["side"] or "",
        row["reason"],
        standing.urgency,
        WearInstruction(row["instruction"]),
        row["opened_at"],
        standing.due_at,
        late,
        names.get(row["taken_by"], "") if row["taken_by"] else "",
        row["taken_by"],
        row["taken_at"],
        row["next_try_at"],
        row["tries"],
        row["version"],
        row["state"],
    )


def standing_of(row: Mapping[str, Any]) -> Standing:
    """What a callback row is held to."""
    return Standing(Urgency(row["urgency"]), row["due_at"])


def take_callback(practice: Practice, callback_id: int, by: Session, now: datetime) -> None:
    """Say that one will ring; `Conflict` names who already does, and since when.

    `InvalidInput` where the desk would take a call of the two highest urgencies, which it could never close.
    """
    with practice.store.write() as connection:
        row = _open_row(connection, callback_id)
        if by.role is not Role.CLINICIAN and only_a_clinician_takes(Urgency(row["urgency"])):
            raise InvalidInput("not_a_clinician", "Only a clinician takes a call this urgent: fetch one now.", "take")
        if row["taken_by"] not in (None, by.staff_id):
            raise Conflict("already_taken", _who_took(connection, practice, row))
        callbacks.change_callback(connection, callback_id, {"taken_by": by.staff_id, "taken_at": now})
        write_entry(connection, now, f"staff:{by.staff_id}", "callback_taken", f"callback:{callback_id}")


def only_a_clinician_takes(urgency: Urgency) -> bool:
    """True for calls to somebody who was told to see a doctor or to ring the emergency number."""
    return urgency >= Urgency.MEDICAL_TODAY


def _who_took(connection: Connection, practice: Practice, row: Mapping[str, Any]) -> str:
    """Who took a call and when, by the clock of the practice."""
    who = people.staff_names(connection).get(row["taken_by"], "Somebody")
    at = row["taken_at"].astimezone(practice.facts.hours.zone)
    return f"{who} took this call at {at:%H:%M}."


def release_callback(practice: Practice, callback_id: int, by: Session, now: datetime) -> None:
    """Give a taken call back to the list."""
    with practice.store.write() as connection:
        _open_row(connection, callback_id)
        callbacks.change_callback(connection, callback_id, {"taken_by": None, "taken_at": None})
        write_entry(connection, now, f"staff:{by.staff_id}", "callback_released", f"callback:{callback_id}")


def note_no_answer(practice: Practice, callback_id: int, by: Session, next_try_at: datetime, now: datetime) -> None:
    """Called, nobody answered: the call stays open, its deadline stays, and the next try is named."""
    if next_try_at <= now:
        raise InvalidInput("next_try_past", "Choose a time still to come for the next try.", "next_try")
    with practice.store.write() as connection:
        row = _open_row(connection, callback_id)
        values = {"tries": row["tries"] + 1, "next_try_at": next_try_at, "taken_by": None, "taken_at": None}
        callbacks.change_callback(connection, callback_id, values)
        write_entry(connection, now, f"staff:{by.staff_id}", "no_answer", f"callback:{callback_id}")


def close_callback(
    practice: Practice, callback_id: int, by: Session, version: int, closing: Closing, now: datetime
) -> None:
    """Close a call with what was agreed; the plan and the family follow in the same transaction, or nothing changes.

    `Conflict` if the callback changed meanwhile, so that a report that joined it is read first.
    """
    if by.role is not Role.CLINICIAN:
        raise InvalidInput("not_a_clinician", "Only a clinician closes a callback; ask one to sign in.", "close")
    if not closing.note.strip():
        raise InvalidInput("no_note", "Write in a sentence or two what was said and agreed.", "note")
    with practice.store.write() as connection:
        row = _open_row(connection, callback_id)
        if row["orthosis_id"] is not None:
            orthoses.hold(connection, row["orthosis_id"])
        record = load_plan(connection, practice, row["orthosis_id"], now) if row["orthosis_id"] is not None else None
        if record is not None:
            _check_instruction(record, closing, now)
            _check_start(connection, record, closing)
        values = {
            "state": "closed",
            "outcome": closing.outcome,
            "note": closing.note.strip(),
            "action": closing.action,
            "closed_at": now,
            "closed_by": by.staff_id,
        }
        if not callbacks.change_callback(connection, callback_id, values, version):
            if row["taken_by"] not in (None, by.staff_id):
                raise Conflict("taken_meanwhile", _who_took(connection, practice, row))
            raise Conflict("changed_meanwhile", "Something was added to this call meanwhile.")
        write_entry(
            connection,
            now,
            f"staff:{by.staff_id}",
            "callback_closed",
            f"callback:{callback_id}",
            {"outcome": closing.outcome, "action": closing.action},
        )
        if record is not None and record.started_at is not None:
            _instruct(connection, practice, record, closing, by, now)


def _check_instruction(record: PlanRecord, closing: Closing, now: datetime) -> None:
    check_from_on(record, closing.from_on, now)
    protects = Precaution.PROTECTIVE in record.precautions
    if protects and closing.action not in LEAVES_ON and not closing.knowingly:
        raise InvalidInput(
            "protective",
            "This orthosis protects a fracture or a repair. Leave it on, or say that you change it knowingly.",
            "knowingly",
        )
    highest = record.terms.top
    if closing.step is not None and not 1 <= closing.step <= highest:
        raise InvalidInput("bad_step", f"Choose a step from 1 to {highest}.", "step")


def _check_start(connection: Connection, record: PlanRecord, closing: Closing) -> None:
    """After a change of the orthosis nothing begins again before the delivery checks were made again."""
    waits = record.started_at is not None and waits_for_start(record.events) is not None
    if not waits or closing.action in STAYS_OFF:
        return
    if what_blocks(orthoses.checks_of(connection, record.orthosis_id)):
        raise InvalidInput("checks_first", "Do the delivery checks again first; until then choose “off”.", "action")
    if closing.action is PlanAction.RESUME and closing.step is None:
        raise InvalidInput("no_step", "The orthosis was changed: say the step to begin with.", "step")
    if closing.action not in START_WORDS:
        raise InvalidInput("no_step", "The orthosis was changed: say at which step it begins again.", "action")


def _instruct(
    connection: Connection, practice: Practice, record: PlanRecord, closing: Closing, by: Session, now: datetime
) -> None:
    plan = plans.projection(connection, record.orthosis_id)
    was_off = plan is not None and plan["stopped"]
    instruction = PlanInstruction(closing.action, closing.from_on, closing.step, f"staff:{by.staff_id}")
    event_id = record_event(connection, practice, record.orthosis_id, instruction, now, now)
    kind = CHANGE_MESSAGES.get(closing.action)
    if closing.action is PlanAction.AS_PLANNED and was_off:
        kind = MessageKind.RESUME
    if kind is not None:
        queue_change(connection, practice, record.orthosis_id, kind, str(event_id), now, on=closing.from_on)
    if closing.action is PlanAction.OFF:
        _review_later(connection, practice, record, event_id, now)
    if closing.outcome is CallOutcome.SENT_TO_CARE:
        _check_next_day(connection, practice, record, event_id, now)


def _review_later(connection: Connection, practice: Practice, record: PlanRecord, event_id: int, now: datetime) -> None:
    put_review(connection, practice, record.orthosis_id, f"{event_id}", now)


def _check_next_day(
    connection: Connection, practice: Practice, record: PlanRecord, event_id: int, now: datetime
) -> None:
    hours = practice.facts.hours
    on = hours.next_working_day(now.astimezone(hours.zone).date())
    _open_later(
        connection, record, f"sent:{event_id}", "they were sent to other care: ask how it went", hours.closing(on), now
    )


def _open_later(connection: Connection, record: PlanRecord, key: str, text: str, due: datetime, now: datetime) -> None:
    values = {"key": key, "orthosis_id": record.orthosis_id, "kind": "follow_up", "text": text}
    callbacks.add_desk_item(connection, {**values, "from_at": due, "due_at": due, "opened_at": now})


def _open_row(connection: Connection, callback_id: int) -> Mapping[str, Any]:
    row = callbacks.callback_row(connection, callback_id)
    if row is None:
        raise UnknownId("unknown_callback", f"There is no callback {callback_id}.")
    if row["state"] != "open":
        raise Conflict("closed_meanwhile", "Somebody has closed this call meanwhile.")
    return row
