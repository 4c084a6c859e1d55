"""On the day of the handing over nothing is planned for before it."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from followup.core.wear_day import goal_from
from tests.builders import local
from tests.wearing import ASHA


def begins(clock: str) -> list[str]:
    """Local times at which the periods of the first day begin, handed over at that time."""
    begins_at = local(f"2026-03-02 {clock}", ASHA.zone)
    (day,) = ASHA.plan([], 1, begins_at=begins_at)
    return [f"{period.on_at.astimezone(ASHA.goal.zone):%H:%M}" for period in day.periods]


@pytest.mark.parametrize(
    ("handed_over", "first"),
    [("08:00", "09:00"), ("08:45", "09:00"), ("08:46", "09:30"), ("10:30", "11:00"), ("17:50", "18:30")],
)
def test_the_first_period_follows_the_handing_over(handed_over, first):
    assert begins(handed_over) == [first]


def test_too_late_in_the_evening_nothing_is_worn_that_day():
    assert begins("21:20") == []


def test_the_second_day_is_as_ever():
    begins_at = local("2026-03-02 16:00", ASHA.zone)
    assert ASHA.plan(ASHA.clear(1), 2, begins_at=begins_at)[1] == ASHA.plan(ASHA.clear(1), 2)[1]


def test_a_window_that_crosses_midnight_keeps_its_end():
    night = replace(ASHA, window=(time(20), time(6)))
    goal = goal_from(night.goal, night.on(1), local("2026-03-02 21:10", night.zone))
    assert goal is not None
    assert (goal.window_start, goal.window_end) == (time(21, 30), time(6))
