"""Finding a wearer, and everything about one of their orthoses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from followup.core.delivery_check import DeliveryCheck, what_blocks
from followup.core.wear_day import WearDay
from followup.services.follow_plan import load_plan
from followup.services.practice import Practice
from followup.services.see_today import DayView, day_view
from followup.services.tell_story import StoryLine, WearerFacts, facts_of_wearer, story_of
from followup.storage import callbacks, orthoses

STORY = timedelta(days=42)


@dataclass(frozen=True, slots=True)
class WearerLine:
    """One orthosis in the list of wearers; `state` and `day` are None before the plan has started."""

    orthosis_id: int
    wearer_name: str
    reference: str
    side: str
    delivered_on: date
    state: str | None
    day: int | None
    target_minutes: int | None
    ended_why: str


@dataclass(frozen=True, slots=True)
class WearerView:
    """One orthosis and its wearer. `open_callback_id` is set while somebody waits for a call."""

    orthosis_id: int
    facts: WearerFacts
    days: tuple[DayView, ...]
    plan: tuple[WearDay, ...]
    story: tuple[StoryLine, ...]
    open_callback_id: int | None
    open_callback_reason: str
    open_callback_urgency: int | None
    blocked_by: tuple[DeliveryCheck, ...]
    started_at: datetime | None
    zone: str


def list_wearers(practice: Practice, words: str = "") -> tuple[WearerLine, ...]:
    """Wearers by name, at most 200; `words` narrows to a name, reference or identifier."""
    with practice.store.read() as connection:
        rows = orthoses.list_orthoses(connection, words.strip())
    return tuple(
        WearerLine(
            row["id"],
            row["name"],
            row["reference"],
            row["side"],
            row["delivered_on"],
            row["state"],
            row["day"],
            row["target_minutes"],
            row["ended_why"] or "",
        )
        for row in rows
    )


def see_wearer(practice: Practice, orthosis_id: int, now: datetime) -> WearerView:
    """One orthosis and its wearer; `UnknownId` if there is none of that id."""
    with practice.store.read() as connection:
        record = load_plan(connection, practice, orthosis_id, now)
        waiting = callbacks.open_of(connection, orthosis_id)
        plan = record.days(now) if record.started_at else ()
        past = tuple(day for day in plan if day.on <= record.on(now))[-7:]
        return WearerView(
            orthosis_id,
            facts_of_wearer(connection, record),
            tuple(day_view(record, day) for day in past),
            plan,
            story_of(connection, practice, record, now - STORY),
            waiting["id"] if waiting else None,
            waiting["reason"] if waiting else "",
            waiting["urgency"] if waiting else None,
            what_blocks(orthoses.checks_of(connection, orthosis_id)),
            record.started_at,
            str(record.goal.zone),
        )
