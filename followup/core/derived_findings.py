"""Findings that nobody is asked for: derived from earlier reports and from the days of the plan."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from followup.core.plan_event import PlanEvent, SkinCheck
from followup.core.skin_check import worn_enough
from followup.core.wear_day import WearDay

REPEAT_PLACE, DAYS_WORN_TOO_LITTLE = "repeat_place", "days_worn_too_little"
DERIVED = frozenset({REPEAT_PLACE, DAYS_WORN_TOO_LITTLE})
SAME_PLACE_WITHIN = timedelta(hours=48)
LOOKED_BACK_DAYS = 7


@dataclass(frozen=True, slots=True)
class EarlierMark:
    """A mark reported before, with its place on the leg."""

    at: datetime
    place: str


def repeats_at(place: str | None, earlier: Sequence[EarlierMark], at: datetime) -> int:
    """How many marks were reported at the same place within the 48 hours before, this one not counted."""
    return sum(1 for mark in earlier if mark.place == place and timedelta() < at - mark.at <= SAME_PLACE_WITHIN)


def days_worn_too_little(
    days: Sequence[WearDay], events: Iterable[PlanEvent], reported_on: date, worn_minutes: int
) -> int:
    """How many of the seven plan days up to `reported_on` had less than 80 % worn; 0 where that day had enough.

    A day counts by the most that was said to be worn once it was over, the day itself by `worn_minutes`. It does not
    count where nobody said, where nothing was planned, or where it was stopped: no more was asked then.
    """
    counted = {day.on: day for day in days if timedelta() <= reported_on - day.on < timedelta(LOOKED_BACK_DAYS)}
    worn = _most_worn(counted, events) | {reported_on: worn_minutes}
    too_little = {on for on, minutes in worn.items() if on in counted and _too_little(counted[on], minutes)}
    return len(too_little) if reported_on in too_little else 0


def _most_worn(days: dict[date, WearDay], events: Iterable[PlanEvent]) -> dict[date, int]:
    worn: dict[date, int] = {}
    for event in events:
        check = event.data
        if not isinstance(check, SkinCheck) or check.worn_minutes is None or check.plan_on not in days:
            continue
        if _is_over(days[check.plan_on], check.looked_at or event.occurred_at):
            worn[check.plan_on] = max(check.worn_minutes, worn.get(check.plan_on, 0))
    return worn


def _is_over(day: WearDay, at: datetime) -> bool:
    return bool(day.periods) and at >= day.periods[-1].off_at


def _too_little(day: WearDay, worn_minutes: int) -> bool:
    return day.target_minutes > 0 and day.stopped_at is None and not worn_enough(worn_minutes, day.target_minutes)
