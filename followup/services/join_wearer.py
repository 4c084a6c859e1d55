"""Whom an unknown caller's report was about: it is joined to that orthosis and triaged again with what is known."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from followup.core.triage import triage
from followup.core.urgency import Urgency, WearInstruction, strongest
from followup.errors import Conflict, UnknownId
from followup.services.follow_plan import PlanRecord, day_reported_on, load_plan
from followup.services.follow_up import follow_up
from followup.services.practice import Practice
from followup.services.sign_in import Session
from followup.services.take_report import facts_of
from followup.services.work_callbacks import standing_of
from followup.storage import callbacks, orthoses, reports
from followup.storage.audit import write_entry


def join_wearer(practice: Practice, callback_id: int, orthosis_id: int, by: Session, now: datetime) -> int:
    """Say whom a call is about; the callback that stands for it from now on.

    The call becomes the wearer's open one, or joins it. Its urgency never falls and its deadline is never later. A
    report still open is finished as it stands. `UnknownId` or `Conflict` change nothing.
    """
    with practice.store.write() as connection:
        row = _unknown_call(connection, callback_id)
        orthoses.hold(connection, orthosis_id)
        record = load_plan(connection, practice, orthosis_id, now)
        told = callbacks.reports_of_callback(connection, callback_id)
        target_id = _make_room(connection, row, orthosis_id)
        for each in told:
            callbacks.join_report(connection, target_id, each["id"])
            _triage_again(connection, practice, each, record, now)
        _hold_to(connection, target_id, row)
        if target_id != callback_id:
            _go_on_in(connection, row, target_id, record, by, now)
        subject, data = f"callback:{callback_id}", {"orthosis": orthosis_id, "callback": target_id}
        write_entry(connection, now, f"staff:{by.staff_id}", "callback_joined_to_wearer", subject, data)
        return target_id


def _unknown_call(connection: Connection, callback_id: int) -> Mapping[str, Any]:
    row = callbacks.callback_row(connection, callback_id)
    if row is None:
        raise UnknownId("unknown_callback", f"There is no callback {callback_id}.")
    if row["state"] != "open":
        raise Conflict("closed_meanwhile", "Somebody has closed this call meanwhile.")
    if row["orthosis_id"] is not None:
        raise Conflict("wearer_known", "Somebody has already written down whom this call is about.")
    return row


def _make_room(connection: Connection, row: Mapping[str, Any], orthosis_id: int) -> int:
    """The wearer's open call, or this one made so; already held to the earlier deadline."""
    theirs = callbacks.open_of(connection, orthosis_id)
    if theirs is not None:
        callbacks.change_callback(connection, theirs["id"], {"due_at": min(theirs["due_at"], row["due_at"])})
        return int(theirs["id"])
    # Until the transaction ends the urgency stands at its lowest: what the wearer's family is told depends on the rise.
    values = {"orthosis_id": orthosis_id, "urgency": Urgency.KEEP_TO_PLAN}
    if not callbacks.change_callback(connection, row["id"], values, row["version"]):
        raise Conflict("changed_meanwhile", "Something was added to this call meanwhile. Read it again.")
    return int(row["id"])


def _triage_again(
    connection: Connection, practice: Practice, report: Mapping[str, Any], record: PlanRecord, now: datetime
) -> None:
    begun_at = report["begun_at"]
    begun = record.started_at is not None and record.started_at <= begun_at
    day = day_reported_on(record, begun_at) if begun else None
    known: dict[str, Any] = {"orthosis_id": record.orthosis_id, "plan_on": day.on if day else None}
    known |= {"state": "done", "finished_at": report["finished_at"] or now}
    reports.change_report(connection, report["id"], known)
    row = {**report, **known}
    facts = facts_of(connection, practice, row, record, now)
    result = triage(practice.rules, facts)
    follow_up(connection, practice, row, facts, result, record, now, final=True)
    data = {"urgency": result.urgency.id}
    write_entry(connection, now, "program", "report_triaged_again", f"report:{report['id']}", data)


def _hold_to(connection: Connection, target_id: int, row: Mapping[str, Any]) -> None:
    """What the unknown caller's call was held to never relaxes, and who took one of the two calls keeps it."""
    target = callbacks.callback_row(connection, target_id)
    assert target is not None
    held = standing_of(target).joined_by(standing_of(row))
    taken = target if target["taken_by"] is not None else row
    values = {
        "urgency": held.urgency,
        "due_at": held.due_at,
        "instruction": strongest((WearInstruction(target["instruction"]), WearInstruction(row["instruction"]))),
        "taken_by": taken["taken_by"],
        "taken_at": taken["taken_at"],
        "opened_at": min(target["opened_at"], row["opened_at"]),
    }
    callbacks.change_callback(connection, target_id, values)


def _go_on_in(
    connection: Connection, row: Mapping[str, Any], target_id: int, record: PlanRecord, by: Session, now: datetime
) -> None:
    note = f"It is about {record.wearer['name']} and goes on in call {target_id}."
    values = {"state": "closed", "note": note, "closed_at": now, "closed_by": by.staff_id}
    if not callbacks.change_callback(connection, row["id"], values, row["version"]):
        raise Conflict("changed_meanwhile", "Something was added to this call meanwhile. Read it again.")
    data = {"callback": target_id}
    write_entry(connection, now, f"staff:{by.staff_id}", "callback_goes_on", f"callback:{row['id']}", data)
