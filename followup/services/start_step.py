"""The step a plan starts with, said by a clinician: after a change of the orthosis, or for one in place of another."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection

from followup.core.delivery_check import what_blocks
from followup.core.goal_in_force import waits_for_start
from followup.core.message import MessageKind
from followup.core.plan_event import PlanAction, PlanInstruction
from followup.core.plan_event_json import data_as_json, event_type
from followup.core.urgency import Urgency
from followup.errors import Conflict, InvalidInput
from followup.services.change_plan import waiting_instruction
from followup.services.follow_plan import PlanRecord, load_plan, record_event
from followup.services.follow_up import open_or_join
from followup.services.practice import Practice
from followup.services.queue_messages import queue_change
from followup.services.sign_in import Role, Session
from followup.storage import callbacks, orthoses, plans
from followup.storage.audit import write_entry

START_STEP_WANTED = "the delivery checks are done again: say the step to start with"
CHECKS_FIRST = "The delivery checks come first: do them again after the change, then say the step."


def give_start_step(
    practice: Practice, orthosis_id: int, step: int, why: str, by: Session, now: datetime, *, knowingly: bool = False
) -> int | None:
    """Say the step a plan starts with; the event's id, None where just this is recorded already.

    A clinician says it, with the reason. A plan that waits after a change starts again from today; one that has not
    begun starts so once its delivery checks are done. `InvalidInput` or `Conflict` otherwise.
    """
    if by.role is not Role.CLINICIAN:
        raise InvalidInput("not_a_clinician", "Only a clinician says the step to start with.", "step")
    if not why.strip():
        raise InvalidInput("no_reason", "Write why it starts at this step.", "why")
    with practice.store.write() as connection:
        orthoses.hold(connection, orthosis_id)
        record = load_plan(connection, practice, orthosis_id, now)
        if _said_already(record, step):
            return None
        _check(connection, record, step, knowingly=knowingly)
        told = start_word(record, step, f"staff:{by.staff_id}", why.strip(), now)
        subject, data = f"orthosis:{orthosis_id}", {"step": step}
        write_entry(connection, now, f"staff:{by.staff_id}", "start_step_given", subject, data)
        if record.started_at is None:
            return plans.add_event(connection, orthosis_id, event_type(told), data_as_json(told), now, now)
        event_id = record_event(connection, practice, orthosis_id, told, now, now)
        _close_what_asked(connection, record, told, by.staff_id, now)
        queue_change(connection, practice, orthosis_id, MessageKind.RESUME, str(event_id), now, on=told.from_on)
        return event_id


def start_word(record: PlanRecord, step: int, by: str, why: str, now: datetime) -> PlanInstruction:
    """The clinician's word that a plan starts at that step from today."""
    return PlanInstruction(PlanAction.RESUME, record.on(now), step, by, why)


def _said_already(record: PlanRecord, step: int) -> bool:
    told = [event.data for event in record.events if isinstance(event.data, PlanInstruction)]
    same = bool(told) and (told[-1].action, told[-1].step) == (PlanAction.RESUME, step)
    return same and waits_for_start(record.events) is None


def _check(connection: Connection, record: PlanRecord, step: int, *, knowingly: bool) -> None:
    if record.ended_at is not None:
        raise Conflict("plan_ended", "This plan has ended; a new orthosis is written down as a delivery.")
    if record.started_at is not None and waits_for_start(record.events) is None:
        raise Conflict("not_waiting", "This plan does not wait for a start step; say at a call how it goes on.")
    if record.started_at is not None and what_blocks(orthoses.checks_of(connection, record.orthosis_id)):
        raise Conflict("checks_first", CHECKS_FIRST)
    if not 1 <= step <= record.terms.top:
        raise InvalidInput("bad_step", f"Choose a step from 1 to {record.terms.top}.", "step")
    if record.terms.protective and not knowingly:
        raise InvalidInput(
            "protective", "This orthosis protects a fracture or a repair. Say that you decide knowingly.", "knowingly"
        )


def ask_for_start_step(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> None:
    """The checks after a change are done: a clinician is asked for the step."""
    callbacks.close_desk_items_of(connection, record.orthosis_id, "checks", "the checks are done", now)
    instruction, urgency = waiting_instruction(record), Urgency.CLINICIAN_NEXT_DAY
    open_or_join(connection, practice, record.orthosis_id, urgency, instruction, START_STEP_WANTED, now)


def _close_what_asked(
    connection: Connection, record: PlanRecord, told: PlanInstruction, staff_id: int, now: datetime
) -> None:
    """The call that asked for the step alone is answered by it; one with a report in it stays."""
    waiting = callbacks.open_of(connection, record.orthosis_id)
    if waiting is not None and waiting["reason"] == START_STEP_WANTED:
        values = {"state": "closed", "outcome": "seen", "note": told.why, "action": told.action}
        callbacks.change_callback(connection, waiting["id"], {**values, "closed_at": now, "closed_by": staff_id})
        write_entry(connection, now, f"staff:{staff_id}", "callback_closed", f"callback:{waiting['id']}")
