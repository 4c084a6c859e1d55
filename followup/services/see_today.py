"""What a caregiver's page shows: today's times and why, tomorrow's, the way to full wear, what was heard so far."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from followup.core.plan_event import CheckResult, SkinCheck
from followup.core.plan_reason import day_sentence
from followup.core.precaution import Precaution
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wear_day import PlanState, WearDay
from followup.services.follow_plan import PlanRecord, load_plan
from followup.services.links import CaregiverLink
from followup.services.practice import Practice
from followup.storage import callbacks, orthoses


@dataclass(frozen=True, slots=True)
class DayView:
    """A plan day with what is known of it: stretches worn, and looks at the skin with whether they were clear.

    `worn` is empty unless somebody said how long it was worn: a look at the skin alone tells nothing about that.
    """

    day: WearDay
    worn: tuple[tuple[datetime, datetime], ...]
    seen: tuple[tuple[datetime, bool], ...]


@dataclass(frozen=True, slots=True)
class Today:
    """The facts of a caregiver's page. Without the right to be told, a contact sees no plan and may still report.

    `resumes` is the next day with times while today is off, None until somebody has said when it goes on. `urgency` is
    that of the open callback, None where there is none. Nobody is told to take a `protective` orthosis off. `side` is
    ``left`` or ``right`` where the wearer has an orthosis on each leg, else empty.
    """

    days: tuple[WearDay, ...]
    today: DayView | None
    tomorrow: WearDay | None
    limit_minutes: int
    full_wear_minutes: int
    reason: str
    started: bool
    off: bool
    leave_on: bool
    protective: bool
    cannot_stand: bool
    callback_due_at: datetime | None
    urgency: Urgency | None
    resumes: WearDay | None
    side: str

    @property
    def needs_other_care(self) -> bool:
        """True while an open callback says that somebody else than the practice is needed today or now."""
        return self.urgency is not None and self.urgency >= Urgency.MEDICAL_TODAY


def see_today(practice: Practice, link: CaregiverLink, now: datetime) -> Today:
    """What the page behind a link shows at `now`."""
    with practice.store.read() as connection:
        record = load_plan(connection, practice, link.orthosis_id, now)
        waiting = callbacks.open_of(connection, link.orthosis_id)
        side = orthoses.sides_where_two(connection, [link.orthosis_id]).get(link.orthosis_id, "")
    tells = link.may_be_told and record.started_at is not None
    days = record.days(now) if tells else ()
    today = next((day for day in days if day.on == record.on(now)), None)
    asked = WearInstruction(waiting["instruction"]) if waiting else None
    off = today is not None and _is_off(today, now)
    return Today(
        days=_to_full_wear(days),
        today=day_view(record, today) if today else None,
        tomorrow=next((day for day in days if day.on == record.on(now) + timedelta(days=1)), None),
        limit_minutes=record.limit_minutes,
        full_wear_minutes=record.goal.full_wear_minutes,
        reason=day_sentence(today.reasons, link.language) if today else "",
        started=record.started_at is not None,
        off=off or (today is None and asked is WearInstruction.OFF_UNTIL_WE_SPEAK),
        leave_on=WearInstruction.LEAVE_ON_AS_ORDERED in {asked, today.instruction if today else None},
        protective=Precaution.PROTECTIVE in record.precautions,
        cannot_stand=record.without.cannot_stand_alone,
        callback_due_at=waiting["due_at"] if waiting else None,
        urgency=Urgency(waiting["urgency"]) if waiting else None,
        resumes=next((day for day in days if off and day.on > record.on(now) and day.periods), None),
        side=side,
    )


def day_view(record: PlanRecord, day: WearDay) -> DayView:
    """A plan day with the checks recorded for it. Worn minutes are laid over the planned periods in order."""
    checks = [
        (event, event.data)
        for event in record.events
        if isinstance(event.data, SkinCheck) and event.data.plan_on == day.on
    ]
    seen = tuple((data.looked_at or event.occurred_at, data.result is CheckResult.CLEAR) for event, data in checks)
    told = [data.worn_minutes for _, data in checks if data.worn_minutes is not None]
    return DayView(day, _laid_over(day, max(told)) if told else (), seen)


def _laid_over(day: WearDay, minutes: int) -> tuple[tuple[datetime, datetime], ...]:
    stretches: list[tuple[datetime, datetime]] = []
    left = minutes
    for index, period in enumerate(day.periods):
        last = index == len(day.periods) - 1
        share = left if last else min(left, period.minutes)
        if share > 0:
            stretches.append((period.on_at, period.on_at + timedelta(minutes=share)))
        left -= share
    return tuple(stretches)


def _is_off(today: WearDay, now: datetime) -> bool:
    return today.state is PlanState.OFF or (today.stopped_at is not None and today.stopped_at <= now)


def _to_full_wear(days: Iterable[WearDay]) -> tuple[WearDay, ...]:
    shown: list[WearDay] = []
    for day in days:
        shown.append(day)
        if day.at_full_wear:
            break
    return tuple(shown)
