from __future__ import annotations

from datetime import time

import pytest

from followup.core.fixed_points import EXAMPLE, read_fixed_points, write_fixed_points
from followup.core.wearing_goal import EVERY_DAY, FixedPoint, PointKind


def test_a_point_is_read_with_its_name_weekdays_and_times() -> None:
    (school,) = read_fixed_points("school on Mon-Fri 08:30-15:00")
    assert school == FixedPoint("school", PointKind.ON, time(8, 30), time(15), frozenset(range(5)))


def test_name_and_weekdays_may_be_left_out() -> None:
    (home,) = read_fixed_points("checker_home 17:00-19:00")
    assert (home.name, home.weekdays) == ("somebody is home to look", EVERY_DAY)


def test_a_name_may_have_several_words_and_weekdays_several_parts() -> None:
    (pool,) = read_fixed_points("swimming with his class off Tue,Thu-Fri 10:00-11:30")
    assert (pool.name, pool.weekdays) == ("swimming with his class", frozenset({1, 3, 4}))


def test_weekdays_may_go_over_the_weekend() -> None:
    (point,) = read_fixed_points("rest off Sat-Mon 10:00-11:00")
    assert point.weekdays == frozenset({5, 6, 0})


@pytest.mark.parametrize("text", ["", EXAMPLE, "therapy on Mon,Wed,Sat 10:00-11:00", "nap off Fri-Sun 13:00-14:00"])
def test_what_is_written_is_what_was_read(text: str) -> None:
    assert write_fixed_points(read_fixed_points(text)) == text


@pytest.mark.parametrize(
    "text",
    ["school", "school at 08:30-15:00", "nap off 8:30-9:00", "nap off 24:30-25:00", "nap off Someday 08:00-09:00"],
)
def test_what_is_no_point_is_told_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match=r"write such as school on Mon-Fri 08:30-15:00"):
        read_fixed_points(text)


def test_a_point_does_not_cross_midnight() -> None:
    with pytest.raises(ValueError, match="ends before it begins; write two points"):
        read_fixed_points("night off 22:00-06:00")


def test_more_points_than_shape_a_day_are_refused() -> None:
    with pytest.raises(ValueError, match="more than 12"):
        read_fixed_points("; ".join(["nap off 13:00-14:00"] * 13))
