"""One tick: read replies, finish reports left alone, move plans that are due, send, and escalate. It keeps no state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta

from sqlalchemy import Connection

from followup.core.callback import Standing, opens_callback
from followup.core.channel import Composer, Inbox, Transport
from followup.core.finding_words import say_finding
from followup.core.triage import Facts, triage
from followup.core.urgency import Urgency
from followup.services.follow_plan import PlanRecord, load_plan, project
from followup.services.follow_up import open_or_join
from followup.services.practice import Practice
from followup.services.queue_messages import alert_on_call, queue_day
from followup.services.read_replies import read_replies, take_in
from followup.services.send_outbox import send_outbox
from followup.services.take_report import finish_left_alone
from followup.storage import callbacks, orthoses, plans

IN_HAND = timedelta(minutes=5)
"""How long a worker may take over one plan before another tries it."""
BATCH = 500


def tick(
    practice: Practice,
    transport: Transport,
    compose: Composer,
    inboxes: Sequence[Inbox],
    clock: Callable[[], datetime],
) -> Counter[str]:
    """Do everything that is due now; how many of each."""
    done: Counter[str] = Counter()
    for inbox in inboxes:
        done["taken_in"] += take_in(practice, inbox, clock())
    done["replies"] += read_replies(practice, clock())
    done["finished"] += finish_left_alone(practice, clock())
    done["plans"] += move_plans(practice, clock())
    done.update(send_outbox(practice, transport, compose, clock))
    done["alerts"] += escalate(practice, clock())
    return done


def move_plans(practice: Practice, now: datetime) -> int:
    """Issue the day of every plan that is due, note silence, and plan its messages; how many plans."""
    with practice.store.read() as connection:
        due = plans.due_plans(connection, now, BATCH)
    moved = 0
    for orthosis_id in due:
        with practice.store.write() as connection:
            orthoses.hold(connection, orthosis_id)
            if plans.claim_plan(connection, orthosis_id, now, now + IN_HAND):
                move_plan(connection, practice, load_plan(connection, practice, orthosis_id), now)
                moved += 1
    return moved


def move_plan(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> None:
    """Bring one plan to `now`."""
    before = plans.projection(connection, record.orthosis_id)
    found = project(connection, record, now, next_due_at=now + IN_HAND, changed=False)
    asked = _days_asked(record, now)
    heard_on = before["silence_heard_on"] if before else None
    if found.silent_days and asked and (heard_on is None or heard_on < asked[0]):
        _hear_silence(connection, practice, record, found.silent_days, now)
        plans.change_projection(connection, record.orthosis_id, {"silence_heard_on": asked[1]})
    look_again = queue_day(connection, practice, record, now)
    plans.change_projection(connection, record.orthosis_id, {"next_due_at": look_again})


def _days_asked(record: PlanRecord, now: datetime) -> tuple[date, date] | None:
    """The day on which the last day of wear could be found silent, and the newest day issued.

    A day off asks for nothing, so the silence before it is heard once, and not again when a clinician keeps it off.
    """
    issued = [day for day in record.days(now, ahead=0) if day.issued_at <= now]
    worn = [day.on for day in issued[:-1] if day.target_minutes]
    return (worn[-1] + timedelta(days=1), issued[-1].on) if worn else None


def _hear_silence(
    connection: Connection, practice: Practice, record: PlanRecord, silent_days: int, now: datetime
) -> None:
    """Silence is a finding. Nobody was asked anything, so what it comes to is the floor, not what could be."""
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
        open_or_join(connection, practice, record.orthosis_id, result.floor, result.instruction, reason, now)
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
