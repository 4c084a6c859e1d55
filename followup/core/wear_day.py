"""One day of a wear plan in local time: its wearing periods, its skin checks, and the instant it is issued.

A local time that does not exist moves forward by the length of the gap, one that happens twice is its first happening
(both as RFC 5545, section 3.3.5, reads local times), and minutes are elapsed minutes. A date that the zone skips
altogether has no periods.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple
from zoneinfo import ZoneInfo

from followup.core.day_layout import lay_minutes
from followup.core.day_window import DayWindow, build_window, plain_window
from followup.core.plan_reason import Reason
from followup.core.step_shape import WearStep
from followup.core.urgency import WearInstruction
from followup.core.wear_protocol import LookKind
from followup.core.wearing_goal import WearingGoal

ISSUED_LOCAL = time(6, 0)
BEFORE_THE_NIGHT = timedelta(hours=2)
TO_GET_READY = timedelta(minutes=15)
"""Between the handing over and the first period; common practice, no source."""
HALF_HOUR = timedelta(minutes=30)
ONE_MINUTE = timedelta(minutes=1)
ONE_DAY = timedelta(days=1)
MIDNIGHT = time()
SOME_MIDNIGHT = datetime(2001, 1, 1, tzinfo=UTC)


class PlanState(StrEnum):
    """What a day of the plan is."""

    WEARING = "wearing"
    SAME_TIME = "same_time"
    SHORTER = "shorter"
    OFF = "off"
    FULL_WEAR = "full_wear"
    LEAVE_ON = "leave_on"
    AWAY = "away"
    ENDED = "ended"


class Basis(StrEnum):
    """Whether a day had been issued by the instant the plan was asked for, or is foreseen."""

    RECORDED = "recorded"
    PROJECTED = "projected"


class WearPeriod(NamedTuple):
    """On and off at aware UTC instants; `minutes` are elapsed minutes between them."""

    on_at: datetime
    off_at: datetime
    minutes: int


class SkinCheckTime(NamedTuple):
    """When to look at the skin (aware UTC)."""

    at: datetime
    kind: LookKind


class WearDay(NamedTuple):
    """A plan day as it was or will be issued at `issued_at`; later reports never change it.

    `target_minutes` is the sum of `periods`. `stopped_at` is set when a stop was recorded after the day was issued: no
    period may begin from then on (`open_periods`).
    """

    day: int
    on: date
    issued_at: datetime
    basis: Basis
    state: PlanState
    step: int
    target_minutes: int
    range_minutes: tuple[int, int]
    instruction: WearInstruction
    reasons: tuple[Reason, ...]
    periods: tuple[WearPeriod, ...]
    checks: tuple[SkinCheckTime, ...]
    at_full_wear: bool = False
    silent_days: int = 0
    stopped_since: date | None = None
    stopped_at: datetime | None = None

    @property
    def open_periods(self) -> tuple[WearPeriod, ...]:
        """The periods that may still begin: all of them, or those begun before the stop."""
        return tuple(each for each in self.periods if self.stopped_at is None or each.on_at < self.stopped_at)


class LocalDay(NamedTuple):
    """A date in a zone: when its plan is issued, and the instant of its midnight.

    `midnight` is None where the clock changes on that date or the next: each local time must then be looked up.
    """

    on: date
    issued_at: datetime
    midnight: datetime | None


class DayTimes(NamedTuple):
    """Periods and looks of a day as time after its midnight, for every date on which the clock does not change."""

    target_minutes: int
    periods: tuple[tuple[timedelta, timedelta, int], ...]
    looks: tuple[tuple[timedelta, LookKind], ...]

    def after(self, midnight: datetime) -> tuple[tuple[WearPeriod, ...], tuple[SkinCheckTime, ...]]:
        """The periods and looks of the date that begins at `midnight`."""
        # Made as bare tuples of their class: a plan has hundreds, and this takes half the time of calling it.
        new = tuple.__new__
        return (
            tuple([new(WearPeriod, (midnight + on, midnight + off, minutes)) for on, off, minutes in self.periods]),
            tuple([new(SkinCheckTime, (midnight + at, kind)) for at, kind in self.looks]),
        )


def local_instant(on: date, at: time, goal: WearingGoal) -> datetime:
    """The instant of a local time, aware UTC."""
    return datetime.combine(on, at, goal.zone).astimezone(UTC)


def issue_instant(on: date, goal: WearingGoal, after: datetime | None = None) -> datetime:
    """When the day's plan is fixed: 06:00 local (common practice), or the window's start where that is earlier.

    A window that crosses midnight is fixed two hours before it opens, so that the look in the morning counts. Always
    later than `after`, the issue of the day before, whatever zone that was in.
    """
    at, earlier = _issue_time(goal)
    issued_at = local_instant(on, at, goal) - earlier
    return issued_at if after is None or issued_at > after else after + ONE_MINUTE


def local_days(first_on: date, count: int, goal: WearingGoal) -> list[LocalDay]:
    """So many dates from `first_on` on, with one look at the zone for each."""
    at, earlier = _issue_time(goal)
    issued_after = timedelta(hours=at.hour, minutes=at.minute) - earlier
    first = datetime(first_on.year, first_on.month, first_on.day)  # noqa: DTZ001 (the zone is asked about it)
    offsets = [goal.zone.utcoffset(first + days) for days in _days(count + 2)]
    found: list[LocalDay] = []
    for offset, run in groupby(offsets):
        on = first_on + ONE_DAY * len(found)
        midnight = datetime.combine(on, MIDNIGHT, UTC) - (offset or timedelta(0))
        issued_at, steady = midnight + issued_after, max(0, len(list(run)) - 2)
        found += [tuple.__new__(LocalDay, (on + days, issued_at + days, midnight + days)) for days in _days(steady)]
        changing = [first_on + ONE_DAY * number for number in range(len(found), min(len(found) + 2, count))]
        found += [LocalDay(on, issue_instant(on, goal), None) for on in changing]
    return found


@lru_cache(maxsize=256)
def _days(count: int) -> tuple[timedelta, ...]:
    return tuple(timedelta(days=number) for number in range(count))


@lru_cache(maxsize=4096)
def day_times(
    step: WearStep,
    wanted_minutes: int,
    break_minutes: int,
    goal: WearingGoal,
    looks: tuple[LookKind, ...],
    every_minutes: int | None = None,
    weekday: int = 0,
) -> DayTimes:
    """What `lay_out` and `looks_after` say of any date without a clock change; `weekday` matters for fixed points."""
    window = plain_window(goal, weekday)
    opens_at = datetime.combine(SOME_MIDNIGHT, goal.window_start, UTC)
    periods = _place(lay_minutes(step, wanted_minutes, break_minutes, window), opens_at)
    awake_until = opens_at + timedelta(minutes=window.room)
    checks = looks_after(periods, break_minutes, looks, every_minutes, awake_until)
    return DayTimes(
        sum(each.minutes for each in periods),
        tuple((each.on_at - SOME_MIDNIGHT, each.off_at - SOME_MIDNIGHT, each.minutes) for each in periods),
        tuple((each.at - SOME_MIDNIGHT, each.kind) for each in checks),
    )


def lay_out(
    on: date,
    step: WearStep,
    wanted_minutes: int,
    break_minutes: int,
    goal: WearingGoal,
    not_before: datetime | None = None,
) -> tuple[WearPeriod, ...]:
    """The wearing periods of a date, never overlapping, together never more than `wanted_minutes`.

    They lie in the window; nights, and what is worn all the time, reach into the next day and belong to the one on
    which they begin. Breaks last `break_minutes` or more. No period begins before `not_before`: the last removal and
    its break, the handing over. What does not fit is left out. Where they lie: `day_layout` and `day_search`.
    """
    opens_at, window = _window_on(on, goal)
    earliest = None if not_before is None else -int((opens_at - not_before).total_seconds() // 60)
    return _place(lay_minutes(step, wanted_minutes, break_minutes, window, earliest), opens_at)


def looks_after(
    periods: Sequence[WearPeriod],
    mark_limit_minutes: int,
    kinds: tuple[LookKind, ...],
    every_minutes: int | None = None,
    awake_until: datetime | None = None,
) -> tuple[SkinCheckTime, ...]:
    """The skin checks of a day in order: at each removal, again once the mark limit has passed, and while it is worn.

    With `every_minutes` the skin is also looked at that often while it is on, up to `awake_until`.
    """
    waits = {LookKind.REMOVAL: timedelta(0), LookKind.AFTER_LIMIT: timedelta(minutes=mark_limit_minutes)}
    found = [SkinCheckTime(each.off_at + waits[kind], kind) for each in periods for kind in kinds if kind in waits]
    for each in periods if every_minutes else ():
        while_on = (each.on_at + timedelta(minutes=passed) for passed in range(0, each.minutes, every_minutes or 1))
        found += [
            SkinCheckTime(at, LookKind.WHILE_ON)
            for at in while_on
            if at > each.on_at and (awake_until is None or at <= awake_until)
        ]
    return tuple(sorted(found, key=lambda look: look.at))


def ready_at(begins_at: datetime, zone: ZoneInfo) -> datetime:
    """The first half hour by the local clock that is a quarter of an hour or more after the handing over."""
    ready = begins_at.astimezone(zone) + TO_GET_READY
    past_the_hour = timedelta(minutes=ready.minute, seconds=ready.second, microseconds=ready.microsecond)
    return ready + (-past_the_hour) % HALF_HOUR


def goal_from(goal: WearingGoal, on: date, begins_at: datetime) -> WearingGoal | None:
    """The goal of the first day `on`, its window opening when the wearer is ready (`ready_at`).

    None where the window has closed by then.
    """
    opens = ready_at(begins_at, goal.zone)
    if opens.date() > on:
        return None
    if opens.date() < on or opens.time() <= goal.window_start:
        return goal
    if goal.window_start < goal.window_end <= opens.time():
        return None
    return replace(goal, window_start=opens.time())


def _issue_time(goal: WearingGoal) -> tuple[time, timedelta]:
    if goal.window_end < goal.window_start:
        return goal.window_start, BEFORE_THE_NIGHT
    return min(ISSUED_LOCAL, goal.window_start), timedelta(0)


@lru_cache(maxsize=4096)
def _window_on(on: date, goal: WearingGoal) -> tuple[datetime, DayWindow]:
    """When the window of a date opens, and what it holds in elapsed minutes."""
    opens_at = local_instant(on, goal.window_start, goal)

    def minute(days: int, at: time) -> int:
        return int((local_instant(on + ONE_DAY * days, at, goal) - opens_at).total_seconds() // 60)

    window = build_window(goal, on.weekday(), minute)
    skipped = minute(0, MIDNIGHT) == minute(1, MIDNIGHT)
    return opens_at, window._replace(room=0) if skipped else window


def _place(periods: Sequence[tuple[int, int]], opens_at: datetime) -> tuple[WearPeriod, ...]:
    return tuple(
        WearPeriod(opens_at + timedelta(minutes=start), opens_at + timedelta(minutes=end), end - start)
        for start, end in periods
    )
