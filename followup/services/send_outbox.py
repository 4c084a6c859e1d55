"""Sending: claim a small batch, mark it as being sent, talk to the server with no transaction open, record.

A crash at any point leaves a row whose state says what is known: claimed rows go back, rows being sent are in doubt.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from followup.core.callback import due_at
from followup.core.channel import Composer, Outgoing, Transport
from followup.core.message import UNTIL_WE_SPEAK, MessageKind
from followup.core.outbox import LEASE, MICRO_BATCH, AttemptResult, OutboxState, backoff
from followup.core.urgency import Urgency
from followup.errors import InvalidInput
from followup.services.follow_plan import AHEAD_DAYS, PlanRecord, load_plan
from followup.services.practice import Practice
from followup.storage import callbacks, orthoses, outbox, people, plans

Clock = Callable[[], datetime]


def send_outbox(
    practice: Practice, transport: Transport, compose: Composer, clock: Clock, most: int = 2000
) -> Counter[str]:
    """Send what is due, at most `most` messages; how many reached each state."""
    tally: Counter[str] = Counter()
    tidy_outbox(practice, clock())
    while sum(tally.values()) < most:
        rows = _claim(practice, clock())
        if not rows:
            break
        ready = _make_ready(practice, compose, rows, clock, tally)
        results = asyncio.run(transport.send_all(ready)) if ready else []
        _record(practice, ready, results, clock(), tally)
    return tally


def tidy_outbox(practice: Practice, now: datetime) -> None:
    """Give up stale messages, take back those a worker lost, and put what may not have arrived before a person."""
    with practice.store.write() as connection:
        for row in outbox.expire(connection, now):
            _tell_desk(connection, practice, row, "undelivered", "a message could not be sent in time", now)
        _, doubtful = outbox.run_out_leases(connection, now)
        for row in doubtful:
            _tell_desk(connection, practice, row, "in_doubt", "a message may not have arrived", now)


def _claim(practice: Practice, now: datetime) -> Sequence[Mapping[str, Any]]:
    with practice.store.write() as connection:
        return outbox.claim(connection, now, now + LEASE, MICRO_BATCH)


def _make_ready(
    practice: Practice, compose: Composer, rows: Sequence[Mapping[str, Any]], clock: Clock, tally: Counter[str]
) -> list[Outgoing]:
    """Compose what is still true, then commit the whole batch as being sent just before the socket is touched."""
    composed: dict[int, Outgoing | InvalidInput] = {}
    for row in rows:
        try:
            composed[row["id"]] = compose(row, clock())
        except InvalidInput as error:
            composed[row["id"]] = error
    now = clock()
    ready: list[Outgoing] = []
    with practice.store.write() as connection:
        for row in rows:
            outcome = composed[row["id"]]
            if not _still_true(connection, practice, row, now):
                _settle(connection, row, OutboxState.CLAIMED, OutboxState.WITHDRAWN, now, tally)
            elif isinstance(outcome, InvalidInput):
                _settle(connection, row, OutboxState.CLAIMED, OutboxState.REFUSED, now, tally)
                _tell_desk(connection, practice, row, "undelivered", f"a message was not sent: {outcome.message}", now)
            elif outbox.move(connection, row["id"], row["attempt"], OutboxState.CLAIMED, OutboxState.SENDING, {}):
                ready.append(outcome)
    return ready


def _still_true(connection: Connection, practice: Practice, row: Mapping[str, Any], now: datetime) -> bool:
    """A message of a plan is sent only while the plan is the one it was made from, to one who may still be told."""
    if row["orthosis_id"] is None or row["slot"] == "reply":
        return True
    contact = people.contact_of(connection, row["contact_id"])
    if contact is None or not contact.as_recipient().reachable:
        return False
    orthosis = orthoses.orthosis_row(connection, row["orthosis_id"])
    if orthosis is None or orthosis["ended_at"] is not None:
        return orthosis is not None and row["kind"] == MessageKind.PLAN_ENDED and orthosis["ended_why"] != "died"
    if row["slot"].startswith("test-") or row["kind"] in UNTIL_WE_SPEAK:
        return True
    if row["slot"].startswith("event-"):
        return _says_what_the_day_is(load_plan(connection, practice, row["orthosis_id"], now), row, now)
    plan = plans.projection(connection, row["orthosis_id"])
    return plan is not None and plan["revision"] == row["revision"]


def _says_what_the_day_is(record: PlanRecord, row: Mapping[str, Any], now: datetime) -> bool:
    """True while the day a change was told of still has the minutes that were told."""
    day = next((day for day in record.days(now, ahead=AHEAD_DAYS) if day.on == row["plan_on"]), None)
    return day is not None and day.stopped_at is None and day.target_minutes == row["payload"]["total_minutes"]


def _record(
    practice: Practice,
    batch: Sequence[Outgoing],
    results: Sequence[AttemptResult],
    now: datetime,
    tally: Counter[str],
) -> None:
    if not batch:
        return
    with practice.store.write() as connection:
        for outgoing, result in zip(batch, results, strict=True):
            row = outbox.message_row(connection, outgoing.row_id)
            assert row is not None
            _note_attempt(connection, outgoing, result, now)
            if result.state is OutboxState.PLANNED:
                later = {"not_before_at": now + backoff(outgoing.attempt, row["key"]), "lease_until": None}
                outbox.move(connection, row["id"], outgoing.attempt, OutboxState.SENDING, OutboxState.PLANNED, later)
                tally[OutboxState.PLANNED] += 1
            elif _settle(
                connection, {**row, "attempt": outgoing.attempt}, OutboxState.SENDING, result.state, now, tally
            ):
                _tell_of(connection, practice, row, result, now)


def _tell_of(
    connection: Connection, practice: Practice, row: Mapping[str, Any], result: AttemptResult, now: datetime
) -> None:
    if result.state is OutboxState.IN_DOUBT:
        _tell_desk(connection, practice, row, "in_doubt", "a message may not have arrived", now)
    if result.state is OutboxState.REFUSED:
        if result.against_address and row["contact_id"] is not None:
            people.suspend_contact(connection, row["contact_id"], now)
            outbox.withdraw_of_contact(connection, row["contact_id"], now)
        _tell_desk(connection, practice, row, "undelivered", "the network refused their address", now)


def _settle(
    connection: Connection,
    row: Mapping[str, Any],
    before: OutboxState,
    after: OutboxState,
    now: datetime,
    tally: Counter[str],
) -> bool:
    moved = outbox.move(connection, row["id"], row["attempt"], before, after, {"settled_at": now, "lease_until": None})
    tally[after] += int(moved)
    return moved


def _note_attempt(connection: Connection, outgoing: Outgoing, result: AttemptResult, now: datetime) -> None:
    outbox.record_attempt(
        connection,
        {
            "outbox_id": outgoing.row_id,
            "number": outgoing.attempt,
            "at": now,
            "phase": result.phase,
            "outcome": result.state,
            "code": result.code,
            "answer": result.answer[:500],
        },
    )


def _tell_desk(
    connection: Connection, practice: Practice, row: Mapping[str, Any], kind: str, text: str, now: datetime
) -> None:
    """One open item for each contact and kind: ten refused messages are one thing to do."""
    callbacks.add_desk_item(
        connection,
        {
            "key": f"{kind}:{row['contact_id']}:{row['plan_on'] or row['id']}",
            "orthosis_id": row["orthosis_id"],
            "contact_id": row["contact_id"],
            "kind": kind,
            "text": text,
            "from_at": now,
            "due_at": due_at(Urgency.CLINICIAN_TODAY, now, practice.facts.hours),
            "opened_at": now,
        },
    )
