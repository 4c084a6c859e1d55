"""Planning: what is due becomes rows of the outbox, ahead of time, once for each slot of a plan day.

Work grows with what is due: plans are found by their next due instant, never by going through who is enrolled.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from followup.core.callback import Standing
from followup.core.goal_in_force import rests_on
from followup.core.message import (
    QUIET_UNTIL,
    UNTIL_WE_SPEAK,
    DueMessage,
    MessageKind,
    Recipient,
    change_message,
    daily_messages,
    first_after,
    local_instant,
)
from followup.core.outbox import message_id, message_key
from followup.core.sentences import day_and_time
from followup.core.wear_day import WearDay
from followup.services.follow_plan import AHEAD_DAYS, PlanRecord, load_plan, next_issue
from followup.services.links import link_for, page_address
from followup.services.practice import Practice
from followup.storage import callbacks, orthoses, outbox, people, plans

TELLS_A_STOP = UNTIL_WE_SPEAK | {MessageKind.PLAN_ENDED}
AHEAD = timedelta(hours=3)
"""How far ahead messages are planned: long enough to ride out a restart, short enough to rarely be taken back."""


def queue_day(connection: Connection, practice: Practice, record: PlanRecord, now: datetime) -> datetime:
    """Plan the messages of days already issued that fall due within three hours; when to look again.

    A day not issued yet may still be held back by a check that is missing, so nothing is planned for it.
    """
    days = record.days(now, ahead=1)
    issued = {day.on for day in days if day.issued_at <= now and (record.on(now) - day.on).days <= 1}
    facts = record.for_messages(days)
    asked = {on for on in issued if not rests_on(record.events, on)}
    due = [
        message
        for recipient in recipients(connection, record)
        for message in daily_messages(facts, recipient)
        if message.plan_on in asked and message.expires_at > now
    ]
    revision = _revision(connection, record.orthosis_id)
    taken = outbox.slots_taken(connection, record.orthosis_id, now - timedelta(days=2))
    for message in due:
        slot = (message.recipient.contact_id, message.plan_on, message.slot)
        if message.due_at <= now + AHEAD and slot not in taken:
            _put(connection, practice, message, record.orthosis_id, revision, now)
    later = first_after(due, now + AHEAD)
    looks = [next_issue(record, now), *([later - AHEAD] if later else [])]
    return min(look for look in looks if look > now)


def queue_change(
    connection: Connection,
    practice: Practice,
    orthosis_id: int,
    kind: MessageKind,
    event_id: str,
    now: datetime,
    by: datetime | None = None,
    on: date | None = None,
    care: str = "",
    leave_on: bool = False,
) -> None:
    """Plan a message about a plan that changes from the local date `on`, to everyone on duty.

    Earlier ones not sent yet are taken back. A day already issued stays as it is, so but for a stop the first later
    one is told of; beyond tomorrow that day's own message tells it, and a rest is told on the day it begins. `by` is
    when a clinician rings, left out once it is past. `care` says first that other care cannot wait; `leave_on`, that a
    stop means "leave it on as ordered". Once a plan has ended nothing is told.
    """
    record = load_plan(connection, practice, orthosis_id, now)
    if record.started_at is None or record.ended_at is not None:
        return
    days = record.days(now, ahead=AHEAD_DAYS)
    stops = kind in TELLS_A_STOP
    today = record.on(now)
    at_once = on is None or (stops and kind is not MessageKind.RESTS)
    told = _day_told_of(days, today if at_once or on is None else on, now, stops=stops)
    outbox.withdraw_events(connection, orthosis_id, now)
    everyone = recipients(connection, record)
    for recipient in everyone if stops or (told.on - today).days <= 1 else ():
        leaves_at = max(now, local_instant(told.on, QUIET_UNTIL, recipient.zone)) if told.on > today and stops else now
        message = change_message(kind, record.for_messages(days), told, recipient, event_id, leaves_at)
        message.payload["care"] = care
        if stops:
            message.payload["leave_on"] = leave_on
        _put(connection, practice, message, orthosis_id, _revision(connection, orthosis_id), now, by)
    if not any(recipient.channel == "email" for recipient in everyone):
        _ring_instead(connection, practice, record, event_id, now)


def _day_told_of(days: Sequence[WearDay], changed_on: date, now: datetime, *, stops: bool) -> WearDay:
    return next((day for day in days if day.on >= changed_on and (stops or day.issued_at > now)), days[-1])


def alert_on_call(
    connection: Connection, practice: Practice, callback_id: int, standing: Standing, now: datetime
) -> None:
    """Tell the person on call that a callback cannot wait; once for each callback and urgency."""
    callbacks.change_callback(connection, callback_id, {"on_call_alerted_at": now})
    if not practice.facts.on_call_address:
        return
    key = f"on-call:{callback_id}:{int(standing.urgency)}"
    payload = {
        **_facts(practice),
        "link": f"{practice.facts.public_address}/callbacks/{callback_id}",
        "urgency": standing.urgency.id,
        "by": _said(standing.due_at, now, practice.facts.hours.zone, "en"),
        "late": standing.due_at <= now,
    }
    values = {"kind": "on_call", "slot": "on-call", "language": "en", "payload": payload}
    address = {"channel": "email", "address": practice.facts.on_call_address}
    times = {"due_at": now, "expires_at": now + timedelta(hours=24)}
    known = {"key": key, "revision": 0, "message_id": message_id(key, practice.secret, practice.mail_domain)}
    outbox.add_message(connection, {**values, **address, **times, **known})


def queue_answer(
    connection: Connection, practice: Practice, recipient: Recipient, kind: MessageKind, source_id: str, now: datetime
) -> None:
    """Answer a text that asked for help or to stop: once for each item that came in; never after a death."""
    contact = people.contact_of(connection, recipient.contact_id)
    if contact is not None and orthoses.has_died(connection, contact.wearer_id):
        return
    key = f"answer:{source_id}:{kind}"
    values = {"kind": kind, "slot": "reply", "language": recipient.language, "contact_id": recipient.contact_id}
    address = {"channel": recipient.channel, "address": recipient.address, "payload": _facts(practice)}
    times = {"due_at": now, "expires_at": now + timedelta(hours=12)}
    known = {"key": key[:200], "revision": 0, "message_id": message_id(key, practice.secret, practice.mail_domain)}
    outbox.add_message(connection, {**values, **address, **times, **known})


def queue_test(connection: Connection, practice: Practice, record: PlanRecord, contact_id: int, now: datetime) -> None:
    """Send a contact the test message of the delivery checks; quiet hours do not apply, the family is in the room."""
    contact = people.contact_of(connection, contact_id)
    if contact is None or not contact.as_recipient().reachable:
        return
    day = record.days(now, ahead=0)[0]
    message = DueMessage(
        contact.as_recipient(), MessageKind.TEST, f"test-{now:%H%M%S}", day.on, now, now + timedelta(hours=2), {}
    )
    _put(connection, practice, message, record.orthosis_id, 0, now)


def recipients(connection: Connection, record: PlanRecord) -> list[Recipient]:
    """The contacts of a plan who are sent messages."""
    wearer_id = record.wearer["id"]
    everyone = people.contacts_of(connection, [wearer_id])[wearer_id]
    return [recipient for recipient in (each.as_recipient() for each in everyone) if recipient.reachable]


def _put(
    connection: Connection,
    practice: Practice,
    message: DueMessage,
    orthosis_id: int,
    revision: int,
    now: datetime,
    by: datetime | None = None,
) -> None:
    who = message.recipient
    key = message_key(message, orthosis_id, revision)
    link = ""
    if message.kind is not MessageKind.PLAN_ENDED:
        link = page_address(practice, link_for(connection, practice, who.contact_id, orthosis_id, now))
    side = orthoses.sides_where_two(connection, [orthosis_id]).get(orthosis_id, "")
    deadline = _said(by, now, ZoneInfo(who.zone), who.language) if by and by > now else ""
    outbox.add_message(
        connection,
        {
            "key": key,
            "orthosis_id": orthosis_id,
            "contact_id": who.contact_id,
            "kind": message.kind,
            "slot": message.slot,
            "plan_on": message.plan_on,
            "channel": who.channel,
            "address": who.address,
            "language": who.language,
            "revision": revision,
            "payload": {**_facts(practice), **message.payload, "link": link, "by": deadline, "side": side},
            "due_at": message.due_at,
            "expires_at": message.expires_at,
            "message_id": message_id(key, practice.secret, practice.mail_domain),
        },
    )


def _facts(practice: Practice) -> dict[str, Any]:
    return {
        "practice": practice.facts.name,
        "phone": practice.facts.phone,
        "emergency": practice.facts.emergency_number,
    }


def _said(at: datetime, now: datetime, zone: ZoneInfo, language: str) -> str:
    return day_and_time(at.astimezone(zone), now.astimezone(zone).date(), language)


def _revision(connection: Connection, orthosis_id: int) -> int:
    row = plans.projection(connection, orthosis_id)
    return int(row["revision"]) if row else 0


def _ring_instead(connection: Connection, practice: Practice, record: PlanRecord, event_id: str, now: datetime) -> None:
    """A change that matters never rests on a channel that cannot confirm: the desk rings."""
    callbacks.add_desk_item(
        connection,
        {
            "key": f"tell:{record.orthosis_id}:{event_id}",
            "orthosis_id": record.orthosis_id,
            "kind": "call_list",
            "text": "the plan has changed, and no message can be relied on to tell them",
            "from_at": now,
            "due_at": now + timedelta(hours=2),
            "opened_at": now,
        },
    )
