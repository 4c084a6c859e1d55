"""What staff need to see before they change a plan: how it stands, and what the next days would become."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from followup.core.delivery_check import what_blocks
from followup.core.goal_in_force import is_away, waits_for_start
from followup.core.plan_event import EventData, OrthosisChange, PlanEvent, PlanInstruction, ProtocolChange
from followup.core.plan_event_json import event_type
from followup.core.wear_day import WearDay
from followup.core.wearing_goal import WearingGoal
from followup.services.check_change import Change, check_change
from followup.services.follow_plan import PlanRecord, load_plan
from followup.services.practice import Practice
from followup.services.sign_in import Role
from followup.services.start_step import start_word
from followup.storage import orthoses

SHOWN_DAYS = 3


@dataclass(frozen=True, slots=True)
class PlanStanding:
    """How a plan stands as far as changes go. `waits_for` is the change after which no start step was given yet.

    `replaces` is the identifier of an earlier orthosis; `two` is True where the wearer has another plan beside it.
    """

    orthosis_id: int
    wearer_name: str
    side: str
    today: date
    goal: WearingGoal
    protocol_id: str
    mark_limit_minutes: int
    step_minutes: tuple[int, ...]
    started: bool
    ended_why: str
    away: bool
    waits_for: OrthosisChange | None
    checks_open: bool
    protective: bool
    replaces: str
    two: bool


def see_standing(practice: Practice, orthosis_id: int, now: datetime) -> PlanStanding:
    """How the plan of an orthosis stands; `UnknownId` if there is none of that id."""
    with practice.store.read() as connection:
        record = load_plan(connection, practice, orthosis_id, now)
        waits = waits_for_start(record.events)
        return PlanStanding(
            orthosis_id,
            record.wearer["name"],
            record.orthosis["side"],
            record.on(now),
            record.goal,
            record.protocol.id,
            record.limit_minutes,
            record.step_minutes,
            record.started_at is not None,
            record.orthosis["ended_why"] or "",
            is_away(record.events),
            waits.change if waits is not None else None,
            bool(what_blocks(orthoses.checks_of(connection, orthosis_id))),
            record.terms.protective,
            record.orthosis["replaces"] or "",
            orthoses.count_running(connection, record.wearer["id"]) > 1,
        )


def preview_change(
    practice: Practice, orthosis_id: int, change: Change, role: Role, now: datetime, *, knowingly: bool
) -> tuple[WearDay, ...]:
    """The next days, were this recorded now; refused as recording it would be."""

    def allowed(record: PlanRecord) -> EventData:
        check_change(practice, record, change, role, now, knowingly=knowingly)
        return change

    return _next_days(practice, orthosis_id, allowed, now)


def preview_start_step(practice: Practice, orthosis_id: int, step: int, now: datetime) -> tuple[WearDay, ...]:
    """The next days, were that start step given now."""

    def word(record: PlanRecord) -> PlanInstruction:
        return start_word(record, step, "preview", "preview", now)

    return _next_days(practice, orthosis_id, word, now)


def _next_days(
    practice: Practice, orthosis_id: int, told: Callable[[PlanRecord], EventData], now: datetime
) -> tuple[WearDay, ...]:
    with practice.store.read() as connection:
        record = load_plan(connection, practice, orthosis_id, now)
        data = told(record)
    if record.started_at is None:
        return ()
    event = PlanEvent("preview", event_type(data), now, now, data)
    if isinstance(data, ProtocolChange):
        record = record.with_change(event, practice.protocol_form(data.digest))
    else:
        record = record.with_event(event)
    first = max(record.on(now) + timedelta(days=1), getattr(data, "from_on", date.min))
    ahead = (first - record.on(now)).days + SHOWN_DAYS - 1
    return tuple(day for day in record.days(now, ahead=ahead) if day.on >= first)
