"""One day of a wear plan in local time: its wearing periods, its skin checks, and the instant it is issued."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from followup.core.plan_reason import Reason
from followup.core.urgency import WearInstruction
from followup.core.wear_protocol import LookKind
from followup.core.wearing_goal import WearingGoal

ISSUED_LOCAL = time(6, 0)
BEFORE_THE_NIGHT = timedelta(hours=2)
FIRST_STARTS_LOCAL = time(9, 0)
SECOND_STARTS_LOCAL = time(15, 0)
LAST_REMOVAL_LOCAL = time(18, 0)
LAST_LOOK_LOCAL = time(18, 30)
LONGEST_SINGLE_PERIOD = 60
USUAL_BREAK = 60
TO_GET_READY = timedelta(minutes=15)
"""Between the handing over and the first period; common practice, no source."""
HALF_HOUR = timedelta(minutes=30)


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


@dataclass(frozen=True, slots=True)
class WearPeriod:
    """On and off at aware UTC instants; `minutes` are elapsed minutes between them."""

    on_at: datetime
    off_at: datetime
    minutes: int


@dataclass(frozen=True, slots=True)
class SkinCheckTime:
    """When to look at the skin (aware UTC)."""

    at: datetime
    kind: LookKind


@dataclass(frozen=True, slots=True)
class WearDay:
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
    stopped_at: datetime | None = field(default=None)

    @property
    def open_periods(self) -> tuple[WearPeriod, ...]:
        """The periods that may still begin: all of them, or those begun before the stop."""
        return tuple(each for each in self.periods if self.stopped_at is None or each.on_at < self.stopped_at)


def local_instant(on: date, at: time, goal: WearingGoal) -> datetime:
    """The instant of a local time, aware UTC.

    A time that does not exist moves forward by the length of the gap, one that happens twice is its first happening
    (both as RFC 5545, section 3.3.5, reads local times).
    """
    return datetime.combine(on, at, goal.zone).astimezone(UTC)


def issue_instant(on: date, goal: WearingGoal) -> datetime:
    """When the day's plan is fixed: 06:00 local (common practice), or the window's start where that is earlier.

    A window that crosses midnight is fixed two hours before it opens, so that the look in the morning counts.
    """
    if goal.window_end < goal.window_start:
        return local_instant(on, goal.window_start, goal) - BEFORE_THE_NIGHT
    return local_instant(on, min(ISSUED_LOCAL, goal.window_start), goal)


def lay_out(on: date, target_minutes: int, mark_limit_minutes: int, goal: WearingGoal) -> tuple[WearPeriod, ...]:
    """The wearing periods of a day, never overlapping, inside the window, together never more than the target.

    Up to an hour is one period, more is two equal ones with a break of at least the mark limit, of an hour where it
    fits (common practice). They begin at 09:00 and 15:00 and are pulled earlier so that the last removal is by 18:00.
    What the window cannot hold is left out.
    """
    start_at = local_instant(on, goal.window_start, goal)
    room = _window_minutes(on, start_at, goal)
    lengths, pause = _divide(target_minutes, mark_limit_minutes, room)
    if not lengths:
        return ()
    starts = _starts(on, start_at, room, lengths, pause, mark_limit_minutes, goal)
    return tuple(_period(start_at, start, length) for start, length in zip(starts, lengths, strict=True))


def goal_from(goal: WearingGoal, on: date, begins_at: datetime) -> WearingGoal | None:
    """The goal of the first day `on`, its window opening at the first half hour a quarter of an hour after `begins_at`.

    None where the window has closed by then.
    """
    ready = begins_at.astimezone(goal.zone) + TO_GET_READY
    past_the_hour = timedelta(minutes=ready.minute, seconds=ready.second, microseconds=ready.microsecond)
    opens = ready + (-past_the_hour) % HALF_HOUR
    if opens.date() > on:
        return None
    if opens.date() < on or opens.time() <= goal.window_start:
        return goal
    if goal.window_start < goal.window_end <= opens.time():
        return None
    return replace(goal, window_start=opens.time())


def looks_after(
    periods: tuple[WearPeriod, ...], mark_limit_minutes: int, kinds: tuple[LookKind, ...]
) -> tuple[SkinCheckTime, ...]:
    """The skin checks of a day: at each removal, and again once the mark limit has passed."""
    waits = {LookKind.REMOVAL: timedelta(0), LookKind.AFTER_LIMIT: timedelta(minutes=mark_limit_minutes)}
    return tuple(SkinCheckTime(each.off_at + waits[kind], kind) for each in periods for kind in kinds)


def _window_minutes(on: date, start_at: datetime, goal: WearingGoal) -> int:
    ends_on = on if goal.window_start < goal.window_end else on + timedelta(days=1)
    return max(0, _minutes_between(start_at, local_instant(ends_on, goal.window_end, goal)))


def _divide(target: int, limit: int, room: int) -> tuple[tuple[int, ...], int]:
    """Lengths of the periods and the break between them, cut to what the window holds."""
    if target <= 0 or room <= 0:
        return (), 0
    if target <= LONGEST_SINGLE_PERIOD or room - limit <= LONGEST_SINGLE_PERIOD:
        return (min(target, room, LONGEST_SINGLE_PERIOD),), 0
    pause = max(limit, USUAL_BREAK)
    if target + pause > room:
        pause = limit
    fits = min(target, room - pause)
    return (fits - fits // 2, fits // 2), pause


def _starts(
    on: date,
    start_at: datetime,
    room: int,
    lengths: tuple[int, ...],
    pause: int,
    limit: int,
    goal: WearingGoal,
) -> tuple[int, ...]:
    """Minutes from the window's start at which each period begins."""

    def wanted(at: time, otherwise: int) -> int:
        minutes = _minutes_between(start_at, local_instant(on, at, goal))
        return minutes if 0 <= minutes < room else otherwise

    needed = sum(lengths) + pause
    removed_by = min(wanted(LAST_REMOVAL_LOCAL, room), wanted(LAST_LOOK_LOCAL, room + limit) - limit)
    latest = min(room, max(removed_by, needed))
    first = wanted(FIRST_STARTS_LOCAL, 0)
    if len(lengths) == 1:
        return (min(first, latest - lengths[0]),)
    after_first = lengths[0] + pause
    second = min(max(wanted(SECOND_STARTS_LOCAL, 0), first + after_first), latest - lengths[1])
    return min(first, second - after_first), second


def _period(start_at: datetime, start: int, minutes: int) -> WearPeriod:
    on_at = start_at + timedelta(minutes=start)
    return WearPeriod(on_at, on_at + timedelta(minutes=minutes), minutes)


def _minutes_between(earlier: datetime, later: datetime) -> int:
    return int((later - earlier).total_seconds() // 60)
