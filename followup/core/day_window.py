"""The part of a day in which the orthosis may be worn, in minutes from the start of its window."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import time
from functools import lru_cache
from typing import NamedTuple

from followup.core.wearing_goal import FixedPoint, PointKind, WearingGoal

DAY_MINUTES = 1440
FIRST_STARTS_LOCAL = time(9, 0)
SECOND_STARTS_LOCAL = time(15, 0)
LAST_REMOVAL_LOCAL = time(18, 0)
LAST_LOOK_LOCAL = time(18, 30)
DAYS_SEEN = range(3)
"""Fixed points are read for the day, the next (nights), and the one after (when the next day's first removal is)."""

Stretch = tuple[int, int]
"""Start and end, in minutes from the start of the window."""
Minute = Callable[[int, time], int]
"""Elapsed minutes from the window's start to a local time so many days later."""


class DayWindow(NamedTuple):
    """One day of a goal in elapsed minutes from the start of its window; what is negative lies before it.

    `until_next`: when the next day's window starts. `clock_room`: what the window holds by the clock face; `room`
    differs where the clock changes or the window begins late. `first_at` to `look_by` are the usual times. `off`, `on`
    and `home` are the fixed points, in order and apart; `home` is None where the skin can be looked at at any time.
    """

    room: int
    until_next: int
    clock_room: int
    first_at: int
    second_at: int
    removal_by: int
    look_by: int
    off: tuple[Stretch, ...] = ()
    on: tuple[Stretch, ...] = ()
    home: tuple[Stretch, ...] | None = None

    @property
    def has_points(self) -> bool:
        """True where something stands in the way of the usual layout, or asks for another."""
        return bool(self.off or self.on or self.home is not None)

    def opening_at(self, minute: int) -> DayWindow:
        """The same day with its window opening that much later, in minutes from there."""
        if minute <= 0:
            return self
        return self._replace(
            room=self.room - minute,
            until_next=self.until_next - minute,
            first_at=self.first_at - minute,
            second_at=self.second_at - minute,
            removal_by=self.removal_by - minute,
            look_by=self.look_by - minute,
            off=_earlier(self.off, minute),
            on=_earlier(self.on, minute),
            home=None if self.home is None else _earlier(self.home, minute),
        )

    def removals(self, look_minutes: int) -> tuple[Stretch, ...] | None:
        """When it may come off so that the look `look_minutes` later is still seen by somebody; None: at any time."""
        if self.home is None:
            return None
        return tuple((start, end - look_minutes) for start, end in self.home if end - start >= look_minutes)


def build_window(goal: WearingGoal, weekday: int, minute: Minute) -> DayWindow:
    """The window of a goal on a weekday (Monday is 0), with `minute` to place its local times."""
    crosses = goal.window_end <= goal.window_start
    opens, closes = _face(goal.window_start), _face(goal.window_end)
    return DayWindow(
        max(0, minute(int(crosses), goal.window_end)),
        minute(1, goal.window_start),
        (closes - opens) % DAY_MINUTES or DAY_MINUTES,
        minute(0, FIRST_STARTS_LOCAL),
        minute(0, SECOND_STARTS_LOCAL),
        minute(0, LAST_REMOVAL_LOCAL),
        minute(0, LAST_LOOK_LOCAL),
        _points(goal, PointKind.OFF, weekday, minute),
        _points(goal, PointKind.ON, weekday, minute),
        _home(goal, weekday, minute),
    )


@lru_cache(maxsize=4096)
def plain_window(goal: WearingGoal, weekday: int = 0) -> DayWindow:
    """The window of a goal on a weekday without a clock change."""
    opens = _face(goal.window_start)
    return build_window(goal, weekday, lambda days, at: days * DAY_MINUTES + _face(at) - opens)


def _points(goal: WearingGoal, kind: PointKind, weekday: int, minute: Minute) -> tuple[Stretch, ...]:
    named = [point for point in goal.fixed_points if point.kind is kind]
    return _apart(
        (minute(days, point.start), minute(days, point.end))
        for days in DAYS_SEEN
        for point in _on_weekday(named, weekday + days)
    )


def _home(goal: WearingGoal, weekday: int, minute: Minute) -> tuple[Stretch, ...] | None:
    """When somebody can look: only then on weekdays for which the family says it, else at any time."""
    named = [point for point in goal.fixed_points if point.kind is PointKind.CHECKER_HOME]
    if not named:
        return None
    found: list[Stretch] = []
    for days in DAYS_SEEN:
        today = [(minute(days, point.start), minute(days, point.end)) for point in _on_weekday(named, weekday + days)]
        found += today or [(minute(days, time()), minute(days + 1, time()))]
    return _apart(found)


def _on_weekday(points: Iterable[FixedPoint], weekday: int) -> list[FixedPoint]:
    return [point for point in points if weekday % 7 in point.weekdays]


def _apart(stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """The same time in stretches that neither touch nor overlap, from the window's start on."""
    joined: list[Stretch] = []
    for start, end in sorted(stretches):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        elif end > start:
            joined.append((start, end))
    return tuple((max(0, start), end) for start, end in joined if end > 0)


def _earlier(stretches: tuple[Stretch, ...], minutes: int) -> tuple[Stretch, ...]:
    return tuple((max(0, start - minutes), end - minutes) for start, end in stretches if end > minutes)


def _face(at: time) -> int:
    return at.hour * 60 + at.minute
