"""Findings nobody is asked for: the same place again, and worn for much less than planned."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from followup.core.derived_findings import EarlierMark, days_worn_too_little, repeats_at
from followup.core.plan_event import PlanEvent
from tests.wearing import ASHA, Wearer

AT = datetime(2026, 3, 4, 18, tzinfo=UTC)


def worn(day: int, minutes: int | None, at: str = "20:00") -> PlanEvent:
    return ASHA.check(day, at=at, by_touch=True, worn_minutes=minutes)


def too_little(events: list[PlanEvent], on: int, minutes: int, wearer: Wearer = ASHA) -> int:
    return days_worn_too_little(wearer.plan(events, on), events, wearer.on(on), minutes)


def test_marks_repeat_at_the_same_place_within_two_days() -> None:
    earlier = [EarlierMark(AT - timedelta(hours=hours), "shin") for hours in (24, 48, 49)]
    assert repeats_at("shin", earlier, AT) == 2


def test_another_place_is_no_repeat() -> None:
    assert repeats_at("heel", [EarlierMark(AT - timedelta(hours=1), "shin")], AT) == 0


def test_a_third_day_under_80_percent_is_told_when_its_check_is_taken() -> None:
    """80 % is common practice; unable to wear it: call, face-to-face review (S09)."""
    events = [worn(1, 23), worn(2, 23)]
    assert [too_little(events[:1], 2, 23), too_little(events, 3, 23)] == [2, 3]


@pytest.mark.parametrize(("minutes", "days"), [(23, 1), (24, 0), (30, 0), (600, 0)])
def test_80_percent_of_the_30_minutes_planned_is_enough(minutes: int, days: int) -> None:
    assert too_little([], 1, minutes) == days


def test_a_day_worn_enough_says_nothing_of_the_days_before() -> None:
    assert too_little([worn(1, 10), worn(2, 10), worn(3, 10)], 4, 30) == 0


def test_days_further_back_than_a_week_no_longer_count() -> None:
    events = [worn(1, 10), worn(2, 10), *(worn(day, 600) for day in range(3, 9))]
    assert too_little(events, 9, 10) == 1
    assert too_little(events[:7], 8, 10) == 2


def test_the_most_that_was_said_of_a_day_counts() -> None:
    assert too_little([worn(1, 10), worn(1, 30)], 2, 10) == 1


def test_what_was_worn_before_the_day_was_over_does_not_count_against_it() -> None:
    assert too_little([worn(1, 10, at="09:10")], 2, 10) == 1


def test_a_day_of_which_nobody_said_does_not_count() -> None:
    assert too_little([worn(1, None)], 2, 10) == 1


def test_a_day_without_wear_or_with_a_stop_does_not_count() -> None:
    stopped = [worn(1, 10), ASHA.triage(1, "off_until_we_speak", at="20:30")]
    assert too_little(stopped, 1, 10) == 0
    assert too_little(stopped, 2, 0) == 0


def test_the_worn_time_is_measured_against_the_days_own_plan() -> None:
    """S01: 30 on day 1, 60 on day 2."""
    assert too_little([worn(1, 30)], 2, 47) == 1
    assert too_little([worn(1, 30)], 2, 48) == 0
