"""What a triage result leads to: a plan event, a callback that opens or is joined, a desk item, a message, an alert."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from followup.core.callback import Standing, due_at, needs_on_call, opens_callback
from followup.core.finding_words import say_why
from followup.core.message import MessageKind
from followup.core.plan_event import EventData, TriageOutcome
from followup.core.skin_report import complaint_of, skin_check_of
from followup.core.triage import Facts, TriageResult
from followup.core.urgency import Urgency, WearInstruction, strongest
from followup.services.follow_plan import PlanRecord, record_events
from followup.services.practice import Practice
from followup.services.queue_messages import alert_on_call, queue_change
from followup.storage import callbacks, orthoses, outbox, plans, reports
from followup.storage.audit import write_entry

CARE = {Urgency.MEDICAL_TODAY: "doctor", Urgency.EMERGENCY_NOW: "emergency"}
"""What a message says first where other care cannot wait for the practice."""


def follow_up(
    connection: Connection,
    practice: Practice,
    report: Mapping[str, Any],
    facts: Facts,
    result: TriageResult,
    record: PlanRecord | None,
    now: datetime,
    *,
    final: bool,
) -> None:
    """Act on the triage result of a report. Before the report is finished only a rise since last time is acted on."""
    known = reports.newest_result(connection, report["id"])
    if not final and known and (known["urgency"], known["instruction"]) == (result.urgency.id, result.instruction):
        return
    reports.add_result(connection, _result_row(report["id"], result, now))
    event_id = None
    was_off = record is not None and _is_off(connection, record.orthosis_id)
    if record is not None and record.started_at is not None:
        event_id = _tell_plan(connection, practice, report, facts, result, record, now, final=final)
        callbacks.close_desk_items_of(connection, record.orthosis_id, "silence", "answered", now)
    orthosis_id = report["orthosis_id"]
    if orthosis_id is not None:
        orthoses.hold(connection, orthosis_id)
    waiting = _waiting(connection, orthosis_id, report["id"])
    urgency_before = waiting["urgency"] if waiting else Urgency.KEEP_TO_PLAN
    why = say_why(practice.rules, practice.places, facts, report["place"], result)
    if opens_callback(result.urgency):
        callback_id, deadline = open_or_join(
            connection, practice, orthosis_id, result.urgency, result.instruction, why, now, report["id"]
        )
        callbacks.join_report(connection, callback_id, report["id"])
        knows = was_off and outbox.told_only_off(connection, orthosis_id)
        if event_id is not None and _is_to_be_told(result, knows, worse=result.urgency > urgency_before):
            _tell_family(connection, practice, orthosis_id, result, event_id, deadline, now)
    elif final and result.urgency is Urgency.DESK_FOLLOW_UP:
        _tell_desk(connection, practice, report, why, now)


def _is_to_be_told(result: TriageResult, knows: bool, worse: bool) -> bool:
    """A stop is told once; that other care is needed is told whenever it becomes so, also where it is to be left on."""
    if result.instruction is WearInstruction.OFF_UNTIL_WE_SPEAK and not knows:
        return True
    stays = result.instruction in {WearInstruction.OFF_UNTIL_WE_SPEAK, WearInstruction.LEAVE_ON_AS_ORDERED}
    return stays and worse and result.urgency >= Urgency.MEDICAL_TODAY


def _tell_family(
    connection: Connection,
    practice: Practice,
    orthosis_id: int,
    result: TriageResult,
    event_id: int,
    deadline: datetime,
    now: datetime,
) -> None:
    care = CARE.get(result.urgency, "")
    kind, stays_on = MessageKind.OFF_UNTIL_WE_SPEAK, result.instruction is WearInstruction.LEAVE_ON_AS_ORDERED
    queue_change(connection, practice, orthosis_id, kind, str(event_id), now, by=deadline, care=care, leave_on=stays_on)


def open_or_join(
    connection: Connection,
    practice: Practice,
    orthosis_id: int | None,
    urgency: Urgency,
    instruction: WearInstruction,
    reason: str,
    now: datetime,
    report_id: int | None = None,
) -> tuple[int, datetime]:
    """The open callback of an orthosis, or of an unknown caller's report, opened or raised; its id and its deadline.

    It is never postponed.
    """
    hours = practice.facts.hours
    fresh = Standing(urgency, due_at(urgency, now, hours))
    if orthosis_id is not None:
        orthoses.hold(connection, orthosis_id)
    known = _waiting(connection, orthosis_id, report_id)
    if known is None:
        values = {"urgency": fresh.urgency, "due_at": fresh.due_at, "instruction": instruction, "reason": reason}
        callback_id = callbacks.add_callback(connection, {**values, "orthosis_id": orthosis_id, "opened_at": now})
        standing = fresh
        write_entry(connection, now, "program", "callback_opened", f"callback:{callback_id}", {"urgency": urgency.id})
    else:
        callback_id = known["id"]
        standing = Standing(Urgency(known["urgency"]), known["due_at"]).joined_by(fresh)
        values = {
            "urgency": standing.urgency,
            "due_at": standing.due_at,
            "instruction": strongest((instruction, WearInstruction(known["instruction"]))),
            "reason": reason if urgency >= known["urgency"] else known["reason"],
        }
        callbacks.change_callback(connection, callback_id, values)
        write_entry(connection, now, "program", "callback_joined", f"callback:{callback_id}", {"urgency": urgency.id})
    if needs_on_call(urgency, now, hours):
        alert_on_call(connection, practice, callback_id, standing, now)
    return callback_id, standing.due_at


def _waiting(connection: Connection, orthosis_id: int | None, report_id: int | None) -> Mapping[str, Any] | None:
    """The open callback of an orthosis; of a report where nobody knows whom it is about."""
    if orthosis_id is not None:
        return callbacks.open_of(connection, orthosis_id)
    found = callbacks.open_of_report(connection, report_id) if report_id is not None else []
    return found[0] if found else None


def _tell_plan(
    connection: Connection,
    practice: Practice,
    report: Mapping[str, Any],
    facts: Facts,
    result: TriageResult,
    record: PlanRecord,
    now: datetime,
    *,
    final: bool,
) -> int:
    reason = result.fired[0].id if result.fired else ""
    outcome = TriageOutcome(result.instruction, result.urgency, report["place"], reason)
    told = [*(_told_of_day(practice, report, facts) if final else ()), outcome]
    return record_events(connection, practice, record.orthosis_id, told, report["begun_at"], now)[-1]


def _told_of_day(practice: Practice, report: Mapping[str, Any], facts: Facts) -> list[EventData]:
    """The skin check and the complaint a finished report stands for, as far as it says either."""
    plan_on, place = report["plan_on"], report["place"]
    best = {id: finding.best for id, finding in practice.rules.findings.items()}
    check = skin_check_of(facts, plan_on, report["begun_at"], report["by_touch"], place)
    complaint = complaint_of(facts, best, plan_on, place)
    return [each for each in (check, complaint) if each is not None]


def _is_off(connection: Connection, orthosis_id: int) -> bool:
    plan = plans.projection(connection, orthosis_id)
    return plan is not None and plan["stopped"]


def _tell_desk(connection: Connection, practice: Practice, report: Mapping[str, Any], why: str, now: datetime) -> None:
    callbacks.add_desk_item(
        connection,
        {
            "key": f"report:{report['id']}",
            "orthosis_id": report["orthosis_id"],
            "contact_id": report["contact_id"],
            "kind": "follow_up",
            "text": why,
            "from_at": now,
            "due_at": due_at(Urgency.CLINICIAN_NEXT_DAY, now, practice.facts.hours),
            "opened_at": now,
        },
    )


def _result_row(report_id: int, result: TriageResult, now: datetime) -> dict[str, Any]:
    fired = [
        {key: value for key, value in asdict(rule).items() if key != "words"}
        | {"urgency": rule.urgency.id, "instruction": rule.instruction.value, "sources": list(rule.sources)}
        | {"staff": rule.words["en"].staff if "en" in rule.words else rule.label}
        for rule in result.fired
    ]
    return {
        "report_id": report_id,
        "rule_set": result.rule_set,
        "digest": result.digest,
        "urgency": result.urgency.id,
        "floor": result.floor.id,
        "ceiling": result.ceiling.id,
        "instruction": result.instruction.value,
        "fired": fired,
        "unanswered": list(result.still_matters),
        "causes": list(result.causes),
        "at": now,
    }
