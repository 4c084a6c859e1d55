"""The wearing goal: how long a day, in which hours, and around what the family's day is fixed by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from enum import StrEnum
from zoneinfo import ZoneInfo

from followup.errors import InvalidInput

EVERY_DAY = frozenset(range(7))
DAY_MINUTES = 1440


class RangeEnd(StrEnum):
    """Which end of a published range the plan aims at."""

    LOW = "low"
    HIGH = "high"


class Activity(StrEnum):
    """How the wearer spends the time in it; S06 begins with less for who mostly stands or walks."""

    MOSTLY_ON_FEET = "mostly_on_feet"
    ON_AND_OFF = "on_and_off"


class PointKind(StrEnum):
    """What a fixed point of the day asks of the wearing periods.

    ``off``: it is not worn then (nap, bath). ``on``: it is worn then if the time allows (school, therapy).
    ``checker_home``: it comes off, and the skin is looked at, only then.
    """

    OFF = "off"
    ON = "on"
    CHECKER_HOME = "checker_home"


@dataclass(frozen=True, slots=True)
class FixedPoint:
    """A stretch of local time the family names, on these weekdays (Monday is 0); it does not cross midnight."""

    name: str
    kind: PointKind
    start: time
    end: time
    weekdays: frozenset[int] = EVERY_DAY


@dataclass(frozen=True, slots=True)
class WearingGoal:
    """What was prescribed: minutes of full wear a day and the part of the local day in which they fall.

    A window whose end is not after its start crosses midnight; equal times mean the whole day. The defaults are common
    practice: most published schedules do not say what "all day" is in hours.
    """

    zone: ZoneInfo
    full_wear_minutes: int = 480
    window_start: time = time(7, 30)
    window_end: time = time(21, 30)
    range_end: RangeEnd = RangeEnd.LOW
    fixed_points: tuple[FixedPoint, ...] = ()
    activity: Activity = Activity.MOSTLY_ON_FEET

    @property
    def window_minutes(self) -> int:
        """How long the window is by the clock."""
        return (_face(self.window_end) - _face(self.window_start)) % DAY_MINUTES or DAY_MINUTES


def check_goal(goal: WearingGoal, break_minutes: int) -> None:
    """Refuse a goal with which no day can be laid out; `break_minutes` is how long a mark may last.

    Less room than full wear needs is no fault: the days then say what they hold.
    """
    if not 0 < goal.full_wear_minutes <= DAY_MINUTES:
        raise InvalidInput("bad_full_wear", "Write full wear as 1 to 1440 minutes a day.", "full_wear_minutes")
    if not _whole(goal.window_start, goal.window_end):
        raise InvalidInput("bad_window", "Write the window in whole minutes, such as 07:30-21:30.", "window")
    if goal.window_minutes <= break_minutes:
        short = f"{goal.window_start:%H:%M}-{goal.window_end:%H:%M} is {goal.window_minutes} minutes"
        raise InvalidInput(
            "window_too_short",
            f"{short}, and the skin alone needs {break_minutes} minutes; write a longer window, such as 07:30-21:30.",
            "window",
        )
    for point in goal.fixed_points:
        _check_point(point)
    _check_checker(goal, break_minutes)


def _check_point(point: FixedPoint) -> None:
    if not _whole(point.start, point.end) or point.end <= point.start:
        said = f"{point.name!r} must end after it begins, in whole minutes; write two points where it crosses midnight."
        raise InvalidInput("bad_fixed_point", said, "fixed_points")
    if not point.weekdays or not point.weekdays <= EVERY_DAY:
        raise InvalidInput("bad_fixed_point", f"Write on which weekdays {point.name!r} is.", "fixed_points")


def _check_checker(goal: WearingGoal, break_minutes: int) -> None:
    """Somebody must be home for a removal and the look after it on every weekday on which anybody is said to be."""
    home = [point for point in goal.fixed_points if point.kind is PointKind.CHECKER_HOME]
    enough = {day for point in home if _face(point.end) - _face(point.start) >= break_minutes for day in point.weekdays}
    if any(not point.weekdays <= enough for point in home):
        raise InvalidInput(
            "checker_home_too_short",
            f"Write at least one time of {break_minutes} minutes or more for each day on which somebody is home: "
            "as long as a mark may last.",
            "fixed_points",
        )


def _whole(*times: time) -> bool:
    return not any(each.second or each.microsecond for each in times)


def _face(at: time) -> int:
    return at.hour * 60 + at.minute
