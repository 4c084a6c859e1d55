from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from followup.core.sentences import (
    clock_time,
    day_and_time,
    duration,
    duration_in_words,
    full_date,
    listed,
)

WEDNESDAY = date(2026, 6, 10)


def local(day: int, hour: int, minute: int) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=ZoneInfo("Europe/Madrid"))


@pytest.mark.parametrize(
    ("minutes", "english", "spanish"),
    [
        (0, "0 minutes", "0 minutos"),
        (1, "1 minute", "1 minuto"),
        (30, "30 minutes", "30 minutos"),
        (60, "1 h", "1 h"),
        (65, "1 h 05", "1 h 05"),
        (90, "1 h 30", "1 h 30"),
        (480, "8 h", "8 h"),
    ],
)
def test_minutes_are_said_as_minutes_or_hours(minutes: int, english: str, spanish: str) -> None:
    assert (duration(minutes, "en"), duration(minutes, "es")) == (english, spanish)


def test_hours_in_a_sentence_are_words() -> None:
    assert [duration_in_words(each, "en") for each in (30, 60, 120, 90)] == [
        "30 minutes",
        "1 hour",
        "2 hours",
        "1 hour 30",
    ]
    assert duration_in_words(120, "es") == "2 horas"


def test_a_clock_time_has_no_leading_zero_and_24_hours() -> None:
    assert (clock_time(time(9, 0)), clock_time(time(15, 5)), clock_time(time(0, 30))) == ("9:00", "15:05", "0:30")


@pytest.mark.parametrize(
    ("deadline", "english", "spanish"),
    [
        (local(10, 16, 0), "16:00", "16:00"),
        (local(12, 10, 0), "Friday 10:00", "viernes 10:00"),
        (local(16, 9, 30), "Tuesday 9:30", "martes 9:30"),
        (local(17, 9, 30), "17 June, 9:30", "17 de junio, 9:30"),
        (local(9, 9, 30), "9 June, 9:30", "9 de junio, 9:30"),
    ],
)
def test_a_deadline_is_as_short_as_it_can_be_without_doubt(deadline: datetime, english: str, spanish: str) -> None:
    assert (day_and_time(deadline, WEDNESDAY, "en"), day_and_time(deadline, WEDNESDAY, "es")) == (english, spanish)


def test_a_full_date_names_the_day() -> None:
    assert (full_date(WEDNESDAY, "en"), full_date(WEDNESDAY, "es")) == ("Wednesday 10 June", "miércoles 10 de junio")


@pytest.mark.parametrize(
    ("items", "said"), [([], ""), (["9:00"], "9:00"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_a_list_ends_in_and(items: list[str], said: str) -> None:
    assert listed(items, "en") == said
