"""Wearing periods in local time: where they lie, and nights on which the clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.core.step_shape import WearStep
from followup.core.wear_day import WearPeriod, issue_instant, lay_out, local_instant, looks_after
from followup.core.wear_protocol import LookKind
from followup.core.wearing_goal import WearingGoal

ZONES = ("Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Africa/Cairo", "Asia/Kathmandu", "UTC")
MONDAY = date(2026, 3, 2)
USUAL = WearStep(0, 1440)


def goal(zone: str = "Europe/Madrid", start: str = "07:30", end: str = "21:30") -> WearingGoal:
    return WearingGoal(ZoneInfo(zone), window_start=time.fromisoformat(start), window_end=time.fromisoformat(end))


def clock(periods: tuple[WearPeriod, ...], zone: str = "Europe/Madrid") -> list[str]:
    there = ZoneInfo(zone)
    return [f"{each.on_at.astimezone(there):%H:%M}-{each.off_at.astimezone(there):%H:%M}" for each in periods]


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (30, ["09:00-09:30"]),
        (60, ["09:00-10:00"]),
        (75, ["09:00-09:38", "15:00-15:37"]),
        (120, ["09:00-10:00", "15:00-16:00"]),
        (360, ["09:00-12:00", "15:00-18:00"]),
        (420, ["09:00-12:30", "14:30-18:00"]),
        (480, ["09:00-13:00", "14:00-18:00"]),
        (540, ["08:00-12:30", "13:30-18:00"]),
        (600, ["07:30-12:30", "13:30-18:30"]),
        (840, ["07:30-14:20", "14:40-21:30"]),
    ],
)
def test_periods_of_a_day(minutes: int, expected: list[str]) -> None:
    assert clock(lay_out(MONDAY, USUAL, minutes, 20, goal())) == expected


def test_what_the_window_cannot_hold_is_left_out() -> None:
    short = lay_out(MONDAY, USUAL, 480, 20, goal(start="09:00", end="12:00"))
    assert clock(short) == ["09:00-10:20", "10:40-12:00"]
    assert sum(each.minutes for each in short) == 160


def test_second_look_is_over_by_half_past_six_where_the_day_allows() -> None:
    assert clock(lay_out(MONDAY, USUAL, 480, 40, goal()))[-1] == "13:50-17:50"


def test_window_may_cross_midnight() -> None:
    assert clock(lay_out(MONDAY, USUAL, 240, 20, goal(start="21:00", end="07:00"))) == ["21:00-23:00", "00:00-02:00"]


def test_equal_window_times_mean_the_whole_day() -> None:
    assert clock(lay_out(MONDAY, USUAL, 480, 20, goal(start="07:00", end="07:00"))) == ["09:00-13:00", "14:00-18:00"]


def test_skin_is_looked_at_on_removal_and_after_the_limit() -> None:
    looks = looks_after(lay_out(MONDAY, USUAL, 30, 20, goal()), 20, (LookKind.REMOVAL, LookKind.AFTER_LIMIT))
    assert [(f"{each.at.astimezone(ZoneInfo('Europe/Madrid')):%H:%M}", each.kind) for each in looks] == [
        ("09:30", "removal"),
        ("09:50", "after_limit"),
    ]


def test_a_time_that_does_not_exist_moves_forward() -> None:
    # Madrid goes from 02:00 to 03:00 on 29 March 2026.
    assert local_instant(date(2026, 3, 29), time(2, 30), goal()) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


def test_a_time_that_happens_twice_is_its_first_happening() -> None:
    # Madrid goes from 03:00 back to 02:00 on 25 October 2026.
    assert local_instant(date(2026, 10, 25), time(2, 30), goal()) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_midnight_that_does_not_exist_moves_forward() -> None:
    # Cairo goes from 00:00 to 01:00 on 24 April 2026.
    there = goal("Africa/Cairo", "00:00", "12:00")
    assert local_instant(date(2026, 4, 24), time(0), there).astimezone(there.zone).time() == time(1)


@pytest.mark.parametrize(
    ("on", "expected"),
    [(date(2026, 3, 28), ["22:00-00:00", "01:00-04:00"]), (date(2026, 10, 24), ["22:00-00:00", "01:00-02:00"])],
)
def test_minutes_are_elapsed_when_the_clock_changes_at_night(on: date, expected: list[str]) -> None:
    periods = lay_out(on, USUAL, 240, 20, goal(start="22:00", end="07:00"))
    assert clock(periods) == expected
    assert [each.minutes for each in periods] == [120, 120]


def test_half_hour_change_keeps_the_minutes() -> None:
    # Lord Howe Island goes forward by 30 minutes at 02:00 on 4 October 2026.
    periods = lay_out(date(2026, 10, 3), USUAL, 300, 20, goal("Australia/Lord_Howe", "22:00", "07:00"))
    assert clock(periods, "Australia/Lord_Howe") == ["22:00-00:30", "01:30-04:30"]


def test_a_day_is_issued_at_six_or_when_an_earlier_window_opens() -> None:
    assert issue_instant(MONDAY, goal()).astimezone(ZoneInfo("Europe/Madrid")).time() == time(6)
    assert issue_instant(MONDAY, goal(start="04:30")).astimezone(ZoneInfo("Europe/Madrid")).time() == time(4, 30)


@given(
    on=st.dates(date(2024, 1, 1), date(2028, 12, 31)),
    zone=st.sampled_from(ZONES),
    start=st.times(),
    end=st.times(),
    target=st.integers(0, 1440),
    limit=st.integers(15, 40),
)
def test_periods_lie_in_their_window_and_never_overlap(
    on: date, zone: str, start: time, end: time, target: int, limit: int
) -> None:
    start, end = (each.replace(second=0, microsecond=0, fold=0) for each in (start, end))
    there = WearingGoal(ZoneInfo(zone), window_start=start, window_end=end)
    periods = lay_out(on, USUAL, target, limit, there)
    closes = local_instant(on if start < end else on + timedelta(days=1), end, there)
    assert sum(each.minutes for each in periods) <= target
    assert all(each.off_at - each.on_at == timedelta(minutes=each.minutes) for each in periods)
    assert all(local_instant(on, start, there) <= each.on_at < each.off_at <= closes for each in periods)
    assert all(after.on_at - before.off_at >= timedelta(minutes=limit) for before, after in pairwise(periods))
