"""Fixed points of the day as people write them: ``school on Mon-Fri 08:30-15:00; nap off 13:00-14:00``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import time

from followup.core.wearing_goal import EVERY_DAY, FixedPoint, PointKind

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
EXAMPLE = "school on Mon-Fri 08:30-15:00; nap off 13:00-14:00; checker_home 17:00-19:00"
MOST_POINTS = 12
_POINT = re.compile(
    r"^(?:(?P<name>\S.{0,39}?)\s+)?(?P<kind>on|off|checker_home)"
    r"(?:\s+(?P<days>[A-Za-z]{3}(?:[-,][A-Za-z]{3})*))?\s+(?P<start>\d\d:\d\d)-(?P<end>\d\d:\d\d)$"
)
_NAMES = {PointKind.ON: "worn", PointKind.OFF: "not worn", PointKind.CHECKER_HOME: "somebody is home to look"}


def read_fixed_points(text: str) -> tuple[FixedPoint, ...]:
    """The points, with ``;`` between them; each is a name, on, off or checker_home, weekdays and two times.

    Name and weekdays may be left out. `ValueError` says of which point what to write.
    """
    points = tuple(_read_point(each.strip()) for each in text.split(";") if each.strip())
    if len(points) > MOST_POINTS:
        raise ValueError(f"holds more than {MOST_POINTS} fixed points; keep those that shape most days")
    return points


def write_fixed_points(points: Iterable[FixedPoint]) -> str:
    """The inverse of `read_fixed_points`."""
    return "; ".join(_written(each) for each in points)


def _read_point(text: str) -> FixedPoint:
    match = _POINT.match(text)
    try:
        if match is None:
            raise ValueError
        start, end = time.fromisoformat(match["start"]), time.fromisoformat(match["end"])
        weekdays = _read_weekdays(match["days"])
    except ValueError:
        raise ValueError(f"{text!r} is not a fixed point of the day; write such as {EXAMPLE}") from None
    if end <= start:
        raise ValueError(f"{text!r} ends before it begins; write two points where it crosses midnight")
    kind = PointKind(match["kind"])
    return FixedPoint(match["name"] or _NAMES[kind], kind, start, end, weekdays)


def _read_weekdays(text: str | None) -> frozenset[int]:
    if not text:
        return EVERY_DAY
    found: set[int] = set()
    for part in text.split(","):
        first, _, last = part.partition("-")
        begin, end = _weekday(first), _weekday(last or first)
        found |= {day % 7 for day in range(begin, end + 1 if end >= begin else end + 8)}
    return frozenset(found)


def _weekday(name: str) -> int:
    return WEEKDAYS.index(name.capitalize())


def _written(point: FixedPoint) -> str:
    name = "" if point.name == _NAMES[point.kind] else f"{point.name} "
    days = "" if point.weekdays == EVERY_DAY else f" {_written_days(sorted(point.weekdays))}"
    return f"{name}{point.kind.value}{days} {point.start:%H:%M}-{point.end:%H:%M}"


def _written_days(days: list[int]) -> str:
    if len(days) > 2 and days == list(range(days[0], days[-1] + 1)):
        return f"{WEEKDAYS[days[0]]}-{WEEKDAYS[days[-1]]}"
    return ",".join(WEEKDAYS[day] for day in days)
