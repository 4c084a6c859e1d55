"""The wearing goal: how long a day, in which hours, and around what the family's day is fixed by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from enum import StrEnum
from zoneinfo import ZoneInfo

EVERY_DAY = frozenset(range(7))


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
