"""Every zone of the tz database, both changes of each of ten years: each planned event exists, once, in order.

Local times are checked against `whenever`, which has its own reader and arithmetic of the tz database. Its policy
``compatible`` is that of RFC 5545, section 3.3.5: what does not exist moves forward, what happens twice is the first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import pairwise
from zoneinfo import ZoneInfo, available_timezones

import whenever

from followup.core.day_layout import held_minutes, night_minutes
from followup.core.step_shape import StepShape, WearStep
from followup.core.wear_day import (
    SkinCheckTime,
    WearPeriod,
    day_times,
    issue_instant,
    lay_out,
    local_days,
    local_instant,
    looks_after,
)
from followup.core.wear_protocol import LookKind
from followup.core.wearing_goal import FixedPoint, PointKind, WearingGoal

YEARS = range(2021, 2031)
ONE_DAY = timedelta(days=1)
LIMIT = 20
BOTH = (LookKind.REMOVAL, LookKind.AFTER_LIMIT)
CLOCK_TIMES = [time(hour, minute) for hour in range(24) for minute in (0, 30, 59)]
UTC_ZONE = ZoneInfo("UTC")

DAY = WearingGoal(UTC_ZONE)
EARLY = replace(DAY, window_start=time(0, 30), window_end=time(12))
NIGHT = replace(DAY, window_start=time(22), window_end=time(7))
WHOLE = replace(DAY, window_start=time(2, 30), window_end=time(2, 30))
POINTS = (
    FixedPoint("nap", PointKind.OFF, time(1, 30), time(2, 30)),
    FixedPoint("night shift", PointKind.CHECKER_HOME, time(0, 0), time(9, 0)),
)
AROUND = replace(EARLY, fixed_points=POINTS)
TURNS = StepShape(on=(60, 120), off=(30, 60), nights=True)
ALL_DAY = StepShape(removals=(2, 3))
LAYOUTS = (
    (DAY, WearStep(0, 480), 480),
    (EARLY, WearStep(0, 360), 360),
    (NIGHT, WearStep(0, 240), 240),
    (WHOLE, WearStep(0, 1380), 1380),
    (AROUND, WearStep(0, 240), 240),
    (DAY, WearStep(0, 1440, TURNS), (held_minutes(TURNS, DAY, LIMIT) or (0, 0))[1]),
    (DAY, WearStep(0, 1440, StepShape(nights=True)), 120 + night_minutes(StepShape(nights=True), DAY, LIMIT)),
    (DAY, WearStep(0, 1440, ALL_DAY), (held_minutes(ALL_DAY, DAY, LIMIT) or (0, 0))[1]),
)


@cache
def change_dates() -> tuple[tuple[str, date], ...]:
    """Each zone with each local date in the ten years from whose midnight to the next its offset differs."""
    return tuple((zone, on) for zone in sorted(available_timezones()) for on in _changes(zone, date(2021, 1, 1), 3652))


def _changes(zone: str, first_on: date, days: int) -> Iterator[date]:
    there, midnight = ZoneInfo(zone), datetime.combine(first_on, time())
    offset = there.utcoffset(midnight)
    for number in range(days):
        midnight += ONE_DAY
        before, offset = offset, there.utcoffset(midnight)
        if offset != before:
            yield first_on + ONE_DAY * number


def by_another_library(on: date, at: time, zone: str) -> datetime:
    there = whenever.ZonedDateTime(on.year, on.month, on.day, at.hour, at.minute, tz=zone, disambiguation="compatible")
    return datetime.fromtimestamp(there.timestamp(), UTC)


def clock_by_another_library(at: datetime, zone: str) -> tuple[int, ...]:
    there = whenever.Instant.from_timestamp(int(at.timestamp())).to_tz(zone)
    return there.year, there.month, there.day, there.hour, there.minute


def events(
    goal: WearingGoal, step: WearStep, wanted: int, on: date
) -> tuple[tuple[WearPeriod, ...], tuple[SkinCheckTime, ...]]:
    periods = lay_out(on, step, wanted, LIMIT, goal)
    return periods, looks_after(periods, LIMIT, BOTH)


def test_the_years_hold_the_changes_they_should() -> None:
    found = change_dates()
    of = {zone: [on for each, on in found if each == zone] for zone in ("Europe/Madrid", "Asia/Kathmandu")}
    assert len(of["Europe/Madrid"]) == 2 * len(YEARS)
    assert not of["Asia/Kathmandu"]
    assert {"Australia/Lord_Howe", "Africa/Casablanca", "Antarctica/Troll"} <= {zone for zone, _ in found}


def test_another_library_gives_the_same_instant_for_each_local_time() -> None:
    for zone, changes_on in change_dates():
        goal = replace(DAY, zone=ZoneInfo(zone))
        for on in (changes_on, changes_on + ONE_DAY):
            for at in CLOCK_TIMES:
                assert local_instant(on, at, goal) == by_another_library(on, at, zone), (zone, on, at)


def test_each_event_exists_once_and_in_order_within_its_window() -> None:
    for zone, changes_on in change_dates():
        for layout, step, wanted in LAYOUTS:
            goal = replace(layout, zone=ZoneInfo(zone))
            for on in (changes_on - ONE_DAY, changes_on, changes_on + ONE_DAY):
                periods, looks = events(goal, step, wanted, on)
                lies_right(periods, goal, step, wanted, on)
                assert [look.at for look in looks] == sorted({look.at for look in looks}), (zone, on, looks)


def lies_right(periods: tuple[WearPeriod, ...], goal: WearingGoal, step: WearStep, wanted: int, on: date) -> None:
    """Within the window, apart by the limit, as long as they say, never more than wanted, at a time both show."""
    told = (goal.zone.key, on, [(each.on_at, each.off_at) for each in periods])
    next_on = on + ONE_DAY
    crosses = goal.window_end <= goal.window_start
    opens = by_another_library(on, goal.window_start, goal.zone.key)
    closes = by_another_library(next_on if crosses else on, goal.window_end, goal.zone.key)
    if step.shape.nights or step.shape.removals:
        closes = by_another_library(next_on, goal.window_start, goal.zone.key)
    assert periods, told
    assert sum(each.minutes for each in periods) <= wanted, told
    assert opens <= periods[0].on_at, told
    assert periods[-1].off_at <= closes, told
    for each in periods:
        assert each.off_at - each.on_at == timedelta(minutes=each.minutes) > timedelta(0), told
        for at in (each.on_at, each.off_at):
            local = at.astimezone(goal.zone)
            assert clock_by_another_library(at, goal.zone.key) == local.timetuple()[:5], told
    for before, after in pairwise(periods):
        assert after.on_at - before.off_at >= timedelta(minutes=LIMIT), told


def test_one_day_never_runs_into_the_next() -> None:
    for zone, changes_on in change_dates():
        for layout, step, wanted in LAYOUTS:
            goal = replace(layout, zone=ZoneInfo(zone))
            three = [lay_out(changes_on + ONE_DAY * each, step, wanted, LIMIT, goal) for each in (-1, 0, 1)]
            for before, after in pairwise(three):
                assert after[0].on_at - before[-1].off_at >= timedelta(minutes=LIMIT), (zone, changes_on, step)


def test_days_are_issued_one_after_the_other() -> None:
    for zone, changes_on in change_dates():
        for layout in (DAY, EARLY, NIGHT, WHOLE):
            goal = replace(layout, zone=ZoneInfo(zone))
            issued = [issue_instant(changes_on + ONE_DAY * each, goal) for each in range(-2, 3)]
            assert issued == sorted(set(issued)), (zone, changes_on, issued)


def test_the_quick_way_gives_the_same_days_as_the_careful_one() -> None:
    for zone, changes_on in change_dates():
        for layout, step, wanted in LAYOUTS:
            goal = replace(layout, zone=ZoneInfo(zone))
            for day in local_days(changes_on - 3 * ONE_DAY, 6, goal):
                assert day.issued_at == issue_instant(day.on, goal), (zone, day)
                if day.midnight is not None:
                    quick = day_times(step, wanted, LIMIT, goal, BOTH, None, day.on.weekday()).after(day.midnight)
                    assert quick == events(goal, step, wanted, day.on), (zone, day)


def test_a_day_of_changed_clocks_begins_at_the_usual_local_time() -> None:
    for zone, changes_on in change_dates():
        goal = replace(DAY, zone=ZoneInfo(zone))
        periods = lay_out(changes_on, WearStep(0, 120), 120, LIMIT, goal)
        expected = [by_another_library(changes_on, at, zone) for at in (time(9), time(15))]
        assert [each.on_at for each in periods] == expected, (zone, changes_on)


def test_on_a_date_the_zone_skips_nothing_is_worn() -> None:
    # Samoa went from 29 to 31 December 2011; Kwajalein from 20 to 22 August 1993.
    for zone, skipped in (("Pacific/Apia", date(2011, 12, 30)), ("Pacific/Kwajalein", date(1993, 8, 21))):
        goal = replace(DAY, zone=ZoneInfo(zone))
        for shape, minutes in ((StepShape(), 480), (ALL_DAY, 1365)):
            step = WearStep(0, 1440, shape)
            three = [lay_out(skipped + ONE_DAY * each, step, minutes, LIMIT, goal) for each in (-1, 0, 1)]
            assert [sum(each.minutes for each in periods) for periods in three] == [minutes, 0, minutes]
            assert three[0][-1].off_at < three[2][0].on_at


def test_a_day_is_issued_after_the_last_one_in_whatever_zone_that_was() -> None:
    east, west = replace(DAY, zone=ZoneInfo("Pacific/Kiritimati")), replace(DAY, zone=ZoneInfo("Pacific/Pago_Pago"))
    last = issue_instant(date(2026, 5, 4), west)
    assert issue_instant(date(2026, 5, 5), east) < last
    assert issue_instant(date(2026, 5, 5), east, after=last) == last + timedelta(minutes=1)
    assert issue_instant(date(2026, 5, 6), east, after=last) == issue_instant(date(2026, 5, 6), east)
