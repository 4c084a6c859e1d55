"""Durations, clock times, days and lists as they are said to people; made in the core, offered here to pages."""

from __future__ import annotations

from followup.core.sentences import (
    LANGUAGES,
    clock_time,
    day_and_month,
    day_and_time,
    duration,
    duration_in_words,
    full_date,
    listed,
    weekday,
)

__all__ = [
    "LANGUAGES",
    "clock_time",
    "day_and_month",
    "day_and_time",
    "duration",
    "duration_in_words",
    "full_date",
    "listed",
    "weekday",
]
