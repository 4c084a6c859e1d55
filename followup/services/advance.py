"""One tick: read replies, finish reports left alone, move plans that are due, send, and escalate. It keeps no state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import partial

from sqlalchemy import Connection

from followup.core.callback import Standing, opens_callback
from followup.core.channel import Composer, Inbox, Transport
from followup.core.finding_words import say_finding
from followup.core.message import MessageKind
from followup.core.sentences import duration
from followup.core.triage import Facts, triage
from followup.core.urgency import Urgency, WearInstruction
from followup.services.end_plan import end_if_due
from followup.services.follow_plan import PlanRecord, load_plan, project
from followup.services.follow_up import open_or_join
from followup.services.practice import Practice
from followup.services.queue_messages import alert_on_call, queue_change, queue_day
from followup.services.read_replies import read_replies, take_in
from followup.services.send_outbox import send_outbox
from followup.services.take_report import finish_left_alone
from followup.storage import callbacks, orthoses, plans

IN_HAND = timedelta(minutes=5)
"""How long a worker may take over one plan before another tries it."""
BATCH = 500
TABLE_ENDS = "table_ends"


def tick(
    practice: Practice,
    transport: Transport,
    compose: Composer,
    inboxes: Sequence[Inbox],
    clock: Callable[[], datetime],
) -> Counter[str]:
    """Do everything that is due now; how many of each. One step that fails keeps no other from its turn."""
    done: Counter[str] = Counter()
    steps: list[tuple[str, Callable[[], int | Counter[str]]]] = [
        *(("taken_in", partial(_take_in, practice, inbox, clock)) for inbox in inboxes),
        ("replies", lambda: read_replies(practice, clock())),
        ("finished", lambda: finish_left_alone(practice, clock())),
        ("plans", lambda: move_plans(practice, clock())),
        ("sent", lambda: send_outbox(practice, transport, compose, clock)),
        ("alerts", lambda: escalate(practice, clock())),
    ]
    faults: list[Exception] = []
    for name, step in steps:
        try:
            count = step()
        except Exception as fault:
            faults.append(fault)
            continue
        done.update(count if isinstance(count, Counter) else {name: count})
    if faults:
        raise ExceptionGroup("steps of a tick failed", faults)
    return done


def _take_in(practice: Practice, inbox: Inbox, clock: Callable[[], datetime]) -> int:
    return take_in(practice, inbox, clock())


def move_plans(practice: Practice, now: datetime) -> int:
    """Issue the day of every plan that is due, note silence, and plan its messages; how many plans."""
    with practice.store.read() as connection:
        due = plans.due_plans(connection, now, BATCH)
    moved = 0
    faults: list[Exception] = []
    for orthosis_id in due:
        try:
            moved += _move_if_due(practice, orthosis_id, now)
        except Exception as fault:
            fault.add_note(f"orthosis {orthosis_id}")
            faults.append(fault)
    if faults:
        raise ExceptionGroup("plans could not be moved", faults)
    return moved


def _move_if_due(practice: Practice, orthosis_id: int, now: datetime) -> bool:
    with practice.store.write() as connection:
        orthoses.hold(connection, orthosis_id)
        if not plans.claim_plan(connection, orthosis_id, now, now + IN_HAND):
            return False
        move_plan(connection, practice, load_plan(connection, practice, orthosis_id, now), now)
        return True


def move_plan(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> None:
    """Bring one plan to `now`, or to its end."""
    if end_if_due(connection, practice, record, now):
        return
    before = plans.projection(connection, record.orthosis_id)
    found = project(connection, record, now, next_due_at=now + IN_HAND, changed=0)
    asked = _days_asked(record, now)
    heard_on = before["silence_heard_on"] if before else None
    if found.silent_days and asked and (heard_on is None or heard_on < asked[0]):
        _hear_silence(connection, practice, record, found.silent_days, now, off=found.stopped_since is not None)
        plans.change_projection(connection, record.orthosis_id, {"silence_heard_on": asked[1]})
    _hear_table_end(connection, practice, record, now)
    look_again = queue_day(connection, practice, record, now)
    plans.change_projection(connection, record.orthosis_id, {"next_due_at": look_again})


def _hear_table_end(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> None:
    """A published table that ends before full wear is for a clinician to go on from; asked once for each protocol."""
    issued = [day for day in record.days(now, ahead=0) if day.issued_at <= now]
    ends = bool(issued) and any(reason.code.value == TABLE_ENDS for reason in issued[-1].reasons)
    known = plans.projection(connection, record.orthosis_id)
    if not ends or (known is not None and known["table_end_heard"] == record.protocol.digest):
        return
    minutes = duration(issued[-1].target_minutes, "en")
    reason = f"the published table ends at {minutes}: say how to go on"
    urgency, instruction = Urgency.CLINICIAN_NEXT_DAY, WearInstruction.SAME_TIME_AGAIN
    open_or_join(connection, practice, record.orthosis_id, urgency, instruction, reason, now)
    plans.change_projection(connection, record.orthosis_id, {"table_end_heard": record.protocol.digest})


def _days_asked(record: PlanRecord, now: datetime) -> tuple[date, date] | None:
    """The day on which the last day of wear could be found silent, and the newest day issued.

    A day off asks for nothing, so the silence before it is heard once, and not again when a clinician keeps it off.
    """
    issued = [day for day in record.days(now, ahead=0) if day.issued_at <= now]
    worn = [day.on for day in issued[:-1] if day.target_minutes]
    return (worn[-1] + timedelta(days=1), issued[-1].on) if worn else None


def _hear_silence(
    connection: Connection, practice: Practice, record: PlanRecord, silent_days: int, now: datetime, *, off: bool
) -> None:
    """Silence is a finding, and a stop it leads to is told.

    Nobody was asked anything, so what it comes to is the floor, not what could be.
    """
    facts = Facts(
        {"silent_days": silent_days},
        dict(record.recorded_precautions),
        str(record.without),
        mark_limit_minutes=record.limit_minutes,
    )
    result = triage(practice.rules, facts)
    if opens_callback(result.floor):
        callbacks.close_desk_items_of(connection, record.orthosis_id, "silence", "a clinician rings", now)
        reason = say_finding(practice.rules, "silent_days", silent_days)
        _, deadline = open_or_join(
            connection, practice, record.orthosis_id, result.floor, result.instruction, reason, now
        )
        if off:
            kind, event = MessageKind.OFF_UNTIL_WE_SPEAK, f"silence-{record.on(now)}"
            queue_change(connection, practice, record.orthosis_id, kind, event, now, by=deadline)
    elif result.floor is Urgency.DESK_FOLLOW_UP:
        hours = practice.facts.hours
        next_day = hours.next_working_day(now.astimezone(hours.zone).date())
        callbacks.add_desk_item(
            connection,
            {
                "key": f"silence:{record.orthosis_id}:{record.on(now)}",
                "orthosis_id": record.orthosis_id,
                "kind": "silence",
                "text": "no look at the skin was reported; the times stay the same until they answer",
                "from_at": now,
                "due_at": hours.closes_on_same_day(now) or hours.closing(next_day),
                "opened_at": now,
            },
        )


def escalate(practice: Practice, now: datetime) -> int:
    """Tell the person on call of every callback past its time that nobody took; how many."""
    with practice.store.write() as connection:
        waiting = callbacks.waiting_for_on_call(connection, now)
        for row in waiting:
            alert_on_call(connection, practice, row["id"], Standing(Urgency(row["urgency"]), row["due_at"]), now)
    return len(waiting)
