"""One callback laid open: the history, the last three days, likely causes, and why a clinician."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from followup.core.finding_words import say_finding
from followup.core.plan_event import PlanAction, PlanEvent, PlanInstruction
from followup.core.plan_event_json import event_type
from followup.core.urgency import Urgency
from followup.core.wear_day import WearDay
from followup.errors import UnknownId
from followup.services.follow_plan import PlanRecord, load_plan
from followup.services.practice import Practice
from followup.services.see_today import DayView, day_view
from followup.services.tell_story import (
    StoryLine,
    WearerFacts,
    facts_of_wearer,
    story_of,
    story_of_reports,
)
from followup.services.work_callbacks import QueueEntry, entry_of
from followup.storage import callbacks, people, reports

STORY = timedelta(days=14)
SHOWN_DAYS = 3


@dataclass(frozen=True, slots=True)
class WhyLine:
    """One rule that fired: what it says, its published sources, and what it asks for."""

    known: str
    rule: str
    sources: tuple[str, ...]
    urgency: Urgency


@dataclass(frozen=True, slots=True)
class Cause:
    """A likely cause and what to check."""

    label: str
    check: str


@dataclass(frozen=True, slots=True)
class CallbackView:
    """Everything a clinician needs before and during one call. `next_days` previews three days for each instruction.

    `said_since` is when the first report of this call began: what was said before it is earlier history.
    `step_minutes` are the minutes of each wear step from the first to full wear.
    """

    entry: QueueEntry
    story: tuple[StoryLine, ...]
    days: tuple[DayView, ...]
    causes: tuple[Cause, ...]
    why: tuple[WhyLine, ...]
    unanswered: tuple[str, ...]
    floor: Urgency | None
    ceiling: Urgency | None
    facts: WearerFacts | None
    next_days: Mapping[PlanAction, tuple[WearDay, ...]]
    step: int
    step_minutes: tuple[int, ...]
    said_since: datetime
    zone: str
    outcome: str
    note: str

    @property
    def highest_step(self) -> int:
        """The first step of full wear, 1 where no wearer is known."""
        return max(len(self.step_minutes), 1)


def see_callback(practice: Practice, callback_id: int, now: datetime) -> CallbackView:
    """A callback laid open; `UnknownId` if there is none of that id."""
    with practice.store.read() as connection:
        row = callbacks.callback_row(connection, callback_id)
        if row is None:
            raise UnknownId("unknown_callback", f"There is no callback {callback_id}.")
        record = load_plan(connection, practice, row["orthosis_id"], now) if row["orthosis_id"] is not None else None
        facts = facts_of_wearer(connection, record) if record else None
        contacts = list(facts.contacts) if facts else []
        results = _results(connection, callback_id)
        days = _past_days(record, now)
        return CallbackView(
            entry=entry_of(practice, row, contacts, people.staff_names(connection), now),
            story=_story(connection, practice, record, callback_id, now),
            days=tuple(day_view(record, day) for day in days) if record else (),
            causes=_causes(practice, results),
            why=_why(practice, results),
            unanswered=_unanswered(practice, results),
            floor=max((Urgency.from_id(each["floor"]) for each in results), default=None),
            ceiling=max((Urgency.from_id(each["ceiling"]) for each in results), default=None),
            facts=facts,
            next_days=previews(record, now) if record and row["state"] == "open" else {},
            step=days[-1].step if days else 1,
            step_minutes=_step_minutes(record),
            said_since=_said_since(connection, callback_id, row["opened_at"]),
            zone=str(record.goal.zone) if record else str(practice.facts.hours.zone),
            outcome=row["outcome"] or "",
            note=row["note"] or "",
        )


def _story(
    connection: Connection, practice: Practice, record: PlanRecord | None, callback_id: int, now: datetime
) -> tuple[StoryLine, ...]:
    if record is not None:
        return story_of(connection, practice, record, now - STORY)
    return story_of_reports(connection, practice, callbacks.reports_of_callback(connection, callback_id))


def previews(record: PlanRecord, now: datetime) -> dict[PlanAction, tuple[WearDay, ...]]:
    """The next three days as each instruction would make them, were it given now for tomorrow."""
    if record.started_at is None:
        return {}
    return {action: _preview(record, action, now) for action in PlanAction}


def _preview(record: PlanRecord, action: PlanAction, now: datetime) -> tuple[WearDay, ...]:
    tomorrow = record.on(now) + timedelta(days=1)
    told = PlanInstruction(action, tomorrow, None, "preview")
    event = PlanEvent("preview", event_type(told), now, now, told)
    days = record.with_event(event).days(now, ahead=SHOWN_DAYS)
    return tuple(day for day in days if day.on >= tomorrow)


def _past_days(record: PlanRecord | None, now: datetime) -> tuple[WearDay, ...]:
    if record is None or record.started_at is None:
        return ()
    return tuple(day for day in record.days(now, ahead=0) if day.on <= record.on(now))[-SHOWN_DAYS:]


def _step_minutes(record: PlanRecord | None) -> tuple[int, ...]:
    return record.step_minutes if record is not None else ()


def _said_since(connection: Connection, callback_id: int, opened_at: datetime) -> datetime:
    begun: list[datetime] = [each["begun_at"] for each in callbacks.reports_of_callback(connection, callback_id)]
    return min([*begun, opened_at])


def _results(connection: Connection, callback_id: int) -> list[Mapping[str, Any]]:
    rows = [
        reports.newest_result(connection, each["id"]) for each in callbacks.reports_of_callback(connection, callback_id)
    ]
    return [row for row in rows if row]


def _why(practice: Practice, results: list[Mapping[str, Any]]) -> tuple[WhyLine, ...]:
    lines: dict[str, WhyLine] = {}
    for result in results:
        for rule in result["fired"]:
            cited = tuple(_source(practice, each) for each in rule["sources"])
            lines[rule["id"]] = WhyLine(rule["staff"], rule["label"], cited, Urgency.from_id(rule["urgency"]))
    return tuple(sorted(lines.values(), key=lambda line: -line.urgency))


def _source(practice: Practice, key: str) -> str:
    source = practice.rules.sources.get(key)
    if source is None:
        return key
    return ", ".join(filter(None, (source.get("publisher"), source.get("title"), source.get("year"))))


def _causes(practice: Practice, results: list[Mapping[str, Any]]) -> tuple[Cause, ...]:
    ids = dict.fromkeys(cause for result in reversed(results) for cause in result["causes"])
    known = practice.rules.causes
    words = [known[id].get("en", {}) for id in ids if id in known]
    return tuple(Cause(each.get("label", ""), each.get("check", "")) for each in words)


def _unanswered(practice: Practice, results: list[Mapping[str, Any]]) -> tuple[str, ...]:
    if not results:
        return ()
    known = practice.rules.findings
    return tuple(
        say_finding(practice.rules, id, True) for id in results[-1]["unanswered"] if id in known and known[id].urgent
    )
