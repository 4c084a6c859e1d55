from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from followup.core.clinic_hours import ClinicHours, parse_hours
from followup.errors import InvalidInput
from tests.builders import day, local

LONDON = "Europe/London"
WEEKDAYS = parse_hours("mon-fri 08:30-12:30, mon-thu 13:30-17:30", LONDON, "2026-04-03, 2026-04-06")
NIGHTS = parse_hours("sat-sun 00:30-03:30, mon 08:00-09:00", LONDON)


def at(text: str) -> datetime:
    return local(text, LONDON)


def open_by_wall_clock(hours: ClinicHours, instant: datetime) -> bool:
    """A second way: read the wall clock of that minute and look it up in the table."""
    wall = instant.astimezone(hours.zone)
    spans = () if wall.date() in hours.closed_on else hours.spans.get(wall.weekday(), ())
    return any(start <= wall.time() < end for start, end in spans)


def minutes_of(hours: ClinicHours, on: date) -> list[datetime]:
    """Every minute (UTC) of a local day at which somebody is in."""
    start = datetime.combine(on, datetime.min.time(), hours.zone).astimezone(UTC)
    minutes = (start + timedelta(minutes=each) for each in range(26 * 60))
    return [each for each in minutes if each.astimezone(hours.zone).date() == on and open_by_wall_clock(hours, each)]


@pytest.mark.parametrize("on", ["2026-03-02", "2026-03-06", "2026-03-07", "2026-04-03", "2026-10-25"])
def test_open_minutes_of_a_day_equal_the_wall_clock_minute_by_minute(on: str) -> None:
    start = at(f"{on} 00:00")
    found = [each for each in (start + timedelta(minutes=m) for m in range(24 * 60)) if WEEKDAYS.is_open(each)]
    assert found == [each for each in minutes_of(WEEKDAYS, day(on)) if each < start + timedelta(days=1)]


@given(st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 20)))
@settings(max_examples=200)
def test_open_means_open_by_the_wall_clock(naive: datetime) -> None:
    instant = naive.replace(second=0, microsecond=0, tzinfo=UTC)
    assert WEEKDAYS.is_open(instant) == open_by_wall_clock(WEEKDAYS, instant)


@given(st.dates(date(2026, 1, 1), date(2026, 12, 20)))
@settings(max_examples=40)
def test_closing_is_the_end_of_the_last_open_minute(on: date) -> None:
    minutes = minutes_of(WEEKDAYS, on)
    start = datetime.combine(on, datetime.min.time(), WEEKDAYS.zone).astimezone(UTC)
    assert WEEKDAYS.closes_on_same_day(start) == (minutes[-1] + timedelta(minutes=1) if minutes else None)


def test_an_hour_that_does_not_exist_shortens_the_opening() -> None:
    begin, end = next(NIGHTS.stretches_from(at("2026-03-29 00:00")))
    assert end - begin == timedelta(hours=2) == timedelta(minutes=len(minutes_of(NIGHTS, day("2026-03-29"))))


def test_an_hour_that_happens_twice_lengthens_the_opening() -> None:
    begin, end = next(NIGHTS.stretches_from(at("2026-10-25 00:00")))
    assert end - begin == timedelta(hours=4) == timedelta(minutes=len(minutes_of(NIGHTS, day("2026-10-25"))))


def test_closing_time_follows_the_clock_change() -> None:
    assert WEEKDAYS.closing(day("2026-03-27")).hour == 12
    assert WEEKDAYS.closing(day("2026-03-30")).hour == 16


def test_after_the_last_stretch_nobody_comes_back_that_day() -> None:
    assert WEEKDAYS.closes_on_same_day(at("2026-03-06 12:30")) is None


def test_at_lunch_the_clinic_still_closes_in_the_evening() -> None:
    assert WEEKDAYS.closes_on_same_day(at("2026-03-05 13:00")) == at("2026-03-05 17:30")


def test_the_working_day_after_thursday_before_easter_is_tuesday() -> None:
    assert WEEKDAYS.next_working_day(day("2026-04-02")) == day("2026-04-07")


def test_two_working_days_after_a_friday_is_tuesday() -> None:
    assert WEEKDAYS.add_working_days(day("2026-03-06"), 2) == day("2026-03-10")


@pytest.mark.parametrize("text", ["", "mon-fri", "fri-mon 08:00-17:00", "mon 17:00-08:00", "someday 08:00-09:00"])
def test_hours_nobody_could_keep_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse_hours(text, LONDON)
    assert refused.value.code == "bad_clinic_hours"


def test_a_closed_day_that_is_no_date_is_refused() -> None:
    with pytest.raises(InvalidInput, match="2026-12-25"):
        parse_hours("mon 08:00-09:00", LONDON, "Christmas")


def test_hours_name_their_zone() -> None:
    assert WEEKDAYS.zone == ZoneInfo(LONDON)
