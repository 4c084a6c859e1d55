"""What is sent to whom and when: a pure function of the plan, the contact on duty, consent and quiet hours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from followup.core.plan_guards import FULL_WEAR_CHECKS, FULL_WEAR_CHECKS_WATCHED
from followup.core.plan_reason import day_sentence
from followup.core.plan_terms import PlanTerms
from followup.core.sentences import clock_time, duration
from followup.core.urgency import WearInstruction
from followup.core.wear_day import PlanState, WearDay
from followup.core.wear_protocol import LookKind

QUIET_UNTIL = time(8)
QUIET_FROM = time(20)
TIMES_AT = time(8)
QUESTION_AT = time(18, 30)
QUESTION_LATEST = time(19, 45)
MOST_PROMPTS = 5
CHECKS_AFTER_STOP_DAYS = 3
FIRST_DAYS = 7
MONDAY, THURSDAY = 0, 3
NOTHING_ASKED = frozenset({PlanState.AWAY, PlanState.ENDED})


class MessageKind(StrEnum):
    """One kind a template; `ON_CALL` goes to the practice's own people."""

    TEST = "test"
    DELIVERY_DAY = "delivery_day"
    TIMES = "times"
    CHECK_PROMPT = "check_prompt"
    QUESTION = "question"
    SAME_TIME = "same_time"
    SHORTER_TIME = "shorter_time"
    OFF_UNTIL_WE_SPEAK = "off_until_we_speak"
    RESUME = "resume"
    RESTS = "rests"
    WAITS = "waits"
    HOURS_CHANGED = "hours_changed"
    PLAN_ENDED = "plan_ended"
    HELP = "help"
    STOPPED = "stopped"


UNTIL_WE_SPEAK = frozenset({MessageKind.OFF_UNTIL_WE_SPEAK, MessageKind.WAITS, MessageKind.RESTS})
"""What stays true until a clinician has spoken."""


@dataclass(frozen=True, slots=True)
class Recipient:
    """A contact as far as sending is concerned. `consents` is the newest recorded word, False when none is recorded."""

    contact_id: int
    channel: str
    address: str
    language: str
    zone: str
    on_duty: bool
    may_be_told: bool
    consents: bool
    suspended: bool

    @property
    def reachable(self) -> bool:
        """True if messages may be sent to this contact at all."""
        willing = self.consents and self.may_be_told and not self.suspended
        return self.on_duty and willing and self.channel in {"email", "text"}


@dataclass(frozen=True, slots=True)
class DueMessage:
    """One message to plan. `slot` and `plan_on` say which it is; a second one of the same slot is never sent."""

    recipient: Recipient
    kind: MessageKind
    slot: str
    plan_on: date
    due_at: datetime
    expires_at: datetime
    payload: dict[str, Any] = field(hash=False)


@dataclass(frozen=True, slots=True)
class PlanForMessages:
    """What messages are made from: the days of one wear plan, and facts that shape the words.

    `looked_at` is the last look at the skin that was reported for a plan day.
    """

    days: Sequence[WearDay]
    zone: str
    terms: PlanTerms
    started_at: datetime
    looked_at: Mapping[date, datetime]


def daily_messages(plan: PlanForMessages, recipient: Recipient) -> tuple[DueMessage, ...]:
    """The messages of the plan's days for one recipient, in order of time; none for someone not reachable."""
    if not recipient.reachable:
        return ()
    found = [message for day in plan.days for message in _messages_of(plan, day, recipient)]
    return tuple(sorted(found, key=lambda message: message.due_at))


def _messages_of(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> Iterator[DueMessage]:
    if day.stopped_at is None:
        yield from _about_wearing(plan, day, recipient)
    if _gets_question(plan, day) and not _all_looked_at(plan, day):
        yield _question(plan, day, recipient)


def _about_wearing(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> Iterator[DueMessage]:
    """Times and looks of a day; none once the day was stopped, though it stays as it was issued."""
    if day.day == 1 and _is_worn(day):
        yield _delivery_day(plan, day, recipient)
    elif _gets_times(plan, day):
        yield _times(plan, day, recipient)
    if day.target_minutes:
        yield from _check_prompts(plan, day, recipient)


def _is_worn(day: WearDay) -> bool:
    return day.target_minutes > 0 or day.state is PlanState.LEAVE_ON


def _gets_times(plan: PlanForMessages, day: WearDay) -> bool:
    return _is_worn(day) and (_needs_looks(plan, day) or day.on.weekday() == MONDAY)


def _gets_question(plan: PlanForMessages, day: WearDay) -> bool:
    if day.state in NOTHING_ASKED:
        return False
    if day.state is PlanState.OFF:
        return 0 <= _days_off(plan.days, day) < CHECKS_AFTER_STOP_DAYS
    return _needs_looks(plan, day) or day.on.weekday() in {MONDAY, THURSDAY}


def _needs_looks(plan: PlanForMessages, day: WearDay) -> bool:
    """True until full wear has been looked at as often as the plan waits for; nobody is blamed who was not asked."""
    if day.state is not PlanState.FULL_WEAR:
        return True
    before = [each for each in plan.days if each.state is PlanState.FULL_WEAR and each.on < day.on]
    looked_at = sum(1 for each in before if each.on in plan.looked_at)
    return looked_at < (FULL_WEAR_CHECKS_WATCHED if plan.terms.watched else FULL_WEAR_CHECKS)


def _all_looked_at(plan: PlanForMessages, day: WearDay) -> bool:
    """True if a look after the day's last removal was reported, so that nothing is left to ask."""
    last = max((check.at for check in day.checks), default=None)
    return last is not None and day.on in plan.looked_at and plan.looked_at[day.on] >= last


def _days_off(days: Sequence[WearDay], day: WearDay) -> int:
    worn = [each.on for each in days if each.on < day.on and each.state not in {PlanState.OFF, *NOTHING_ASKED}]
    return (day.on - max(worn)).days - 1 if worn else CHECKS_AFTER_STOP_DAYS


def _check_prompts(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> Iterator[DueMessage]:
    looks = [check.at for check in day.checks if check.kind is LookKind.AFTER_LIMIT]
    if plan.terms.watched:
        wanted = looks[:MOST_PROMPTS]
    else:
        wanted = looks[:1] if day.day <= FIRST_DAYS and len(looks) > 1 else []
    for number, at in enumerate(wanted, 1):
        due = not_in_quiet_hours(at, recipient.zone)
        heard = plan.looked_at.get(day.on)
        if due != at or (heard is not None and heard >= at):
            continue
        payload = {**base_payload(plan, day, recipient), "checks": [_clock(at, plan.zone)]}
        yield DueMessage(
            recipient, MessageKind.CHECK_PROMPT, f"check-{number}", day.on, due, due + timedelta(hours=2), payload
        )


def _delivery_day(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> DueMessage:
    started = not_in_quiet_hours(plan.started_at, recipient.zone)
    due = max(started, local_instant(day.on, QUIET_UNTIL, recipient.zone))
    payload = base_payload(plan, day, recipient)
    return DueMessage(recipient, MessageKind.DELIVERY_DAY, "start", day.on, due, _stale_at(day, due), payload)


def _times(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> DueMessage:
    due = local_instant(day.on, TIMES_AT, recipient.zone)
    payload = base_payload(plan, day, recipient)
    return DueMessage(recipient, _kind_of_day(day), "times", day.on, due, _stale_at(day, due), payload)


def _stale_at(day: WearDay, due: datetime) -> datetime:
    """When "put it on at" is no longer true: as the first period begins, an hour after it was due at the earliest."""
    begins = day.periods[0].on_at if day.periods else due
    return max(begins, due + timedelta(hours=1))


def _kind_of_day(day: WearDay) -> MessageKind:
    if day.state is PlanState.SAME_TIME or day.state is PlanState.LEAVE_ON:
        return MessageKind.SAME_TIME
    if day.state is PlanState.SHORTER:
        return MessageKind.SHORTER_TIME
    return MessageKind.TIMES


def _question(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> DueMessage:
    last_look = max((check.at for check in day.checks), default=None)
    due = local_instant(day.on, QUESTION_AT, recipient.zone)
    if last_look is not None:
        due = min(max(due, last_look), local_instant(day.on, QUESTION_LATEST, recipient.zone))
    expires = local_instant(day.on, time(22), recipient.zone)
    if last_look is not None and last_look.astimezone(ZoneInfo(plan.zone)).date() > day.on:
        due = not_in_quiet_hours(last_look, recipient.zone)
        expires = due + timedelta(hours=6)
    return DueMessage(
        recipient, MessageKind.QUESTION, "question", day.on, due, expires, base_payload(plan, day, recipient)
    )


def change_message(
    kind: MessageKind, plan: PlanForMessages, day: WearDay, recipient: Recipient, event_id: str, now: datetime
) -> DueMessage:
    """A message about a plan that just changed: as soon as quiet hours allow, once for each event.

    It says "tomorrow" where the day told of comes after the day it leaves on.
    """
    due = not_in_quiet_hours(now, recipient.zone)
    tomorrow = day.on > due.astimezone(ZoneInfo(plan.zone)).date()
    payload = {**base_payload(plan, day, recipient), "tomorrow": tomorrow}
    return DueMessage(recipient, kind, f"event-{event_id}", day.on, due, due + timedelta(hours=24), payload)


def base_payload(plan: PlanForMessages, day: WearDay, recipient: Recipient) -> dict[str, Any]:
    """The facts every template may use, as local strings: no name, diagnosis or answer among them."""
    return {
        "day": day.day,
        "total": duration(day.target_minutes, recipient.language),
        "total_minutes": day.target_minutes,
        "periods": [
            {"on": _clock(each.on_at, plan.zone), "off": _clock(each.off_at, plan.zone)} for each in day.periods
        ],
        "checks": [_clock(check.at, plan.zone) for check in day.checks if check.kind is LookKind.AFTER_LIMIT],
        "reason": day_sentence(day.reasons, recipient.language),
        "limit": plan.terms.mark_limit_minutes,
        "cannot_stand": plan.terms.cannot_stand_alone,
        "leave_on": day.instruction is WearInstruction.LEAVE_ON_AS_ORDERED,
        "protective": plan.terms.protective,
    }


def not_in_quiet_hours(at: datetime, zone: str) -> datetime:
    """`at`, or the end of quiet hours after it where it lies in them (UTC)."""
    local = at.astimezone(ZoneInfo(zone))
    if local.time() < QUIET_UNTIL:
        return local_instant(local.date(), QUIET_UNTIL, zone)
    if local.time() >= QUIET_FROM:
        return local_instant(local.date() + timedelta(days=1), QUIET_UNTIL, zone)
    return at


def local_instant(on: date, at: time, zone: str) -> datetime:
    """The instant (UTC) of a local time; one that does not exist moves forward, one that happens twice is the first."""
    wanted = datetime.combine(on, at, ZoneInfo(zone))
    return wanted.astimezone(UTC)


def _clock(at: datetime, zone: str) -> str:
    return clock_time(at.astimezone(ZoneInfo(zone)))


def first_after(messages: Iterable[DueMessage], at: datetime) -> datetime | None:
    """When the next of these messages is due after `at`, if any."""
    return min((message.due_at for message in messages if message.due_at > at), default=None)
