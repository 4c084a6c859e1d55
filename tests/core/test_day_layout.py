"""Where the periods of a day lie: each published shape, and around what the family's day is fixed by."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.core.day_layout import TO_ANSWER, held_minutes, lay_minutes, night_minutes
from followup.core.day_window import DayWindow, plain_window
from followup.core.step_shape import USUAL_SHAPE, StepShape, WearStep
from followup.core.wear_day import WearPeriod, lay_out, looks_after, ready_at
from followup.core.wear_protocol import LookKind
from followup.core.wearing_goal import EVERY_DAY, FixedPoint, PointKind, WearingGoal, check_goal
from followup.errors import InvalidInput

MONDAY = date(2026, 3, 2)
MADRID = ZoneInfo("Europe/Madrid")
BOTH = (LookKind.REMOVAL, LookKind.AFTER_LIMIT)
# S17, Gillette Children's, Guidelines for using your new spine brace: days 1-2, and days 5-6 with the first night.
HOUR_ON = StepShape(on=(60, 120), off=(30, 60))
FIRST_NIGHT = StepShape(on=(300, 420), off=(30, 60), nights=True)
# S18, University College London Hospitals, Hinge knee brace advice: taken off two or three times a day.
ALL_DAY = StepShape(removals=(2, 3))


def point(said: str, weekdays: frozenset[int] = EVERY_DAY) -> FixedPoint:
    """A fixed point such as ``off 13:00-14:00``."""
    kind, times = said.split()
    start, end = map(time.fromisoformat, times.split("-"))
    return FixedPoint(said, PointKind(kind), start, end, weekdays)


def goal(*points: str, window: str = "07:30-21:30") -> WearingGoal:
    start, end = map(time.fromisoformat, window.split("-"))
    return WearingGoal(MADRID, window_start=start, window_end=end, fixed_points=tuple(map(point, points)))


def day(
    minutes: int,
    there: WearingGoal | None = None,
    shape: StepShape = USUAL_SHAPE,
    limit: int = 20,
    low: int = 0,
    not_before: datetime | None = None,
    on: date = MONDAY,
) -> list[str]:
    """The day's periods by the clock."""
    return clock(lay_out(on, WearStep(low, 1440, shape), minutes, limit, there or goal(), not_before))


def clock(periods: tuple[WearPeriod, ...]) -> list[str]:
    return [f"{each.on_at.astimezone(MADRID):%H:%M}-{each.off_at.astimezone(MADRID):%H:%M}" for each in periods]


@pytest.mark.parametrize(
    ("periods", "minutes", "expected"),
    [
        (1, 300, ["09:00-14:00"]),
        # S08, a US orthopaedic hospital group's brace-care page: two periods of 60 on day 1, then more to each.
        (2, 120, ["09:00-10:00", "15:00-16:00"]),
        (2, 240, ["09:00-11:00", "15:00-17:00"]),
        (3, 90, ["09:00-09:30", "12:00-12:30", "15:00-15:30"]),
        (3, 600, ["07:30-10:50", "11:50-15:10", "16:10-19:30"]),
        (3, 900, ["07:30-11:57", "12:17-16:44", "17:04-21:30"]),
    ],
)
def test_equal_periods_as_many_as_the_schedule_says(periods: int, minutes: int, expected: list[str]) -> None:
    assert day(minutes, shape=StepShape(periods=periods)) == expected


def test_on_and_off_in_turn_from_the_windows_start_to_its_end() -> None:
    assert held_minutes(HOUR_ON, goal(), 30) == (420, 690)
    short, long = day(420, shape=HOUR_ON, limit=30), day(690, shape=HOUR_ON, limit=30)
    assert (short[0], short[1], short[-1], len(short)) == ("07:30-08:30", "09:30-10:30", "19:30-20:30", 7)
    assert (long[0], long[1], long[-1], len(long)) == ("07:30-09:25", "09:55-11:50", "19:35-21:30", 6)


def test_a_break_is_never_shorter_than_a_mark_may_last() -> None:
    assert day(690, shape=HOUR_ON, limit=40)[:2] == ["07:30-09:30", "10:10-12:10"]


def test_a_shorter_time_ends_the_turns_earlier() -> None:
    assert day(150, shape=HOUR_ON, limit=30) == ["07:30-08:30", "09:30-10:30", "11:30-12:00"]


def test_a_night_is_worn_after_the_day_with_a_break_before_and_after() -> None:
    assert night_minutes(FIRST_NIGHT, goal(), 30) == 525
    assert held_minutes(FIRST_NIGHT, goal(), 30) == (1245, 1335)
    worn = day(1245, shape=FIRST_NIGHT, limit=30, low=1245)
    assert worn == ["07:30-12:30", "13:30-18:30", "19:30-21:30", "22:00-06:45"]


def test_of_less_time_the_night_is_the_first_to_go() -> None:
    worn = day(1244, shape=FIRST_NIGHT, limit=30, low=1245)
    assert worn == ["07:30-12:30", "13:30-18:30", "19:30-21:30"]


def test_a_night_may_follow_a_day_of_usual_periods() -> None:
    nights = StepShape(nights=True)
    total = 120 + night_minutes(nights, goal(), 20)
    assert day(total, shape=nights, low=total) == ["09:00-10:00", "15:00-16:00", "21:50-06:55"]


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (1365, ["08:05-14:20", "14:40-21:10", "21:30-07:30"]),
        (1385, ["08:05-21:10", "21:30-07:30"]),
        (1000, ["08:05-14:20", "14:40-21:10"]),
    ],
)
def test_worn_all_the_time_but_for_the_skin(minutes: int, expected: list[str]) -> None:
    assert held_minutes(ALL_DAY, goal(), 20) == (1365, 1385)
    assert day(minutes, shape=ALL_DAY) == expected


def test_worn_all_the_time_from_the_handing_over_on() -> None:
    handed_over = ready_at(datetime(2026, 3, 2, 9, 50, tzinfo=UTC), MADRID)
    worn = day(1365, shape=ALL_DAY, not_before=handed_over)
    assert worn == ["11:30-14:20", "14:40-21:10", "21:30-07:30"]


def test_a_bath_takes_the_place_of_a_removal() -> None:
    worn = day(1365, goal("off 19:00-19:40"), ALL_DAY)
    assert worn == ["08:05-14:20", "14:40-19:00", "19:40-07:30"]


def test_worn_all_the_time_it_comes_off_when_somebody_is_home() -> None:
    home = goal("checker_home 08:00-08:30", "checker_home 17:00-19:00")
    assert day(1365, home, ALL_DAY) == ["08:35-17:00", "17:20-18:40", "19:00-08:00"]


def test_what_is_worn_all_the_time_is_not_left_off_because_nobody_is_home() -> None:
    assert day(1365, goal("checker_home 17:00-17:10"), ALL_DAY) == day(1365, shape=ALL_DAY)


@pytest.mark.parametrize(
    ("minutes", "points", "expected"),
    [
        (360, ["off 20:00-20:30"], ["09:00-12:00", "15:00-18:00"]),
        (360, ["off 10:00-11:00"], ["11:00-14:00", "15:00-18:00"]),
        (360, ["on 08:30-15:00"], ["08:40-11:40", "12:00-15:00"]),
        (30, ["on 12:30-13:00"], ["12:30-13:00"]),
        (60, ["checker_home 17:00-21:00"], ["16:00-17:00"]),
        (120, ["checker_home 17:00-21:00"], ["16:00-17:00", "18:00-19:00"]),
        (480, ["checker_home 12:00-13:00", "checker_home 18:00-19:30"], ["08:40-12:40", "14:00-18:00"]),
    ],
)
def test_around_fixed_points(minutes: int, points: list[str], expected: list[str]) -> None:
    assert day(minutes, goal(*points)) == expected


def test_more_and_shorter_periods_where_two_do_not_fit() -> None:
    busy = goal("off 10:00-13:30", "off 15:30-19:00")
    assert day(360, busy) == ["08:00-10:00", "13:30-15:30", "19:00-21:00"]


def test_what_does_not_fit_around_the_points_is_left_out() -> None:
    assert day(480, goal("off 10:00-16:00")) == ["07:30-10:00", "16:00-17:10", "17:30-21:30"]
    assert day(120, goal("checker_home 17:00-17:20")) == ["16:00-17:00"]
    assert day(480, goal("off 07:00-22:00")) == []


def test_a_point_holds_on_its_weekdays_only() -> None:
    school = WearingGoal(MADRID, fixed_points=(point("off 08:00-16:00", frozenset(range(5))),))
    assert day(120, school) == ["16:00-17:00", "18:00-19:00"]
    assert day(120, school, on=date(2026, 3, 7)) == day(120)


def test_a_window_that_crosses_midnight_reads_the_points_of_both_dates() -> None:
    nights = WearingGoal(
        MADRID, window_start=time(21), window_end=time(7), fixed_points=(point("off 00:00-02:00", frozenset({1})),)
    )
    assert day(240, nights) == ["21:00-23:00", "02:00-04:00"]


def test_on_and_off_in_turn_goes_around_a_nap() -> None:
    worn = day(420, goal("off 13:00-14:30"), HOUR_ON, limit=30)
    assert worn[2:4] == ["11:30-12:30", "14:30-15:30"]


def test_nothing_begins_before_the_last_removal_and_its_break() -> None:
    assert day(480, not_before=datetime(2026, 3, 2, 13, 10, tzinfo=UTC)) == ["14:10-17:40", "18:00-21:30"]
    assert day(480, not_before=datetime(2026, 3, 2, 21, 0, tzinfo=UTC)) == []


def test_a_whole_day_leaves_a_break_and_time_to_answer_before_the_next() -> None:
    # S17 ends at 23 hours a day.
    assert day(1380, goal(window="07:00-07:00")) == ["07:00-18:30", "18:50-06:20"]


def test_the_skin_is_looked_at_while_it_is_on_too() -> None:
    # Great Ormond Street Hospital, Getting used to your spinal brace: every 30 to 60 minutes at first.
    looks = looks_after(lay_out(MONDAY, WearStep(0, 1440), 150, 20, goal()), 20, BOTH, every_minutes=30)
    assert [f"{each.at.astimezone(MADRID):%H:%M} {each.kind}" for each in looks] == [
        *("09:30 while_on", "10:00 while_on", "10:15 removal", "10:35 after_limit"),
        *("15:30 while_on", "16:00 while_on", "16:15 removal", "16:35 after_limit"),
    ]


def test_nobody_is_woken_for_a_look_while_it_is_on() -> None:
    night = lay_out(MONDAY, WearStep(0, 1440, ALL_DAY), 1365, 20, goal())
    bedtime = datetime(2026, 3, 2, 20, 30, tzinfo=UTC)
    looks = looks_after(night, 20, BOTH, every_minutes=60, awake_until=bedtime)
    assert not [each for each in looks if each.kind is LookKind.WHILE_ON and each.at > bedtime]


@pytest.mark.parametrize(
    ("there", "code", "says"),
    [
        (goal(window="09:00-09:20"), "window_too_short", "write a longer window"),
        (goal("checker_home 17:00-17:15"), "checker_home_too_short", "20 minutes or more"),
        (goal("off 17:00-16:00"), "bad_fixed_point", "write two points"),
        (WearingGoal(MADRID, 0), "bad_full_wear", "1 to 1440"),
        (WearingGoal(MADRID, window_start=time(7, 30, 30)), "bad_window", "whole minutes"),
    ],
)
def test_a_goal_no_day_can_be_laid_out_in_is_refused(there: WearingGoal, code: str, says: str) -> None:
    with pytest.raises(InvalidInput, match=says) as refused:
        check_goal(there, 20)
    assert refused.value.code == code


def test_more_wear_than_the_window_holds_is_no_fault_of_the_goal() -> None:
    check_goal(goal(window="09:00-12:00"), 20)
    check_goal(goal("checker_home 17:00-17:20", "checker_home 19:00-19:10"), 20)


minutes_of_day = st.integers(0, 287).map(lambda each: time(each * 5 // 60, each * 5 % 60))
weekdays = st.frozensets(st.integers(0, 6), min_size=1)
shapes = st.one_of(
    st.builds(StepShape, periods=st.integers(0, 4), nights=st.booleans()),
    st.sampled_from([HOUR_ON, FIRST_NIGHT, StepShape(on=(180, 240), off=(30, 60))]),
)


@st.composite
def fixed_points(draw: st.DrawFn) -> FixedPoint:
    start, end = sorted(draw(st.lists(minutes_of_day, min_size=2, max_size=2, unique=True)))
    return FixedPoint("drawn", draw(st.sampled_from(PointKind)), start, end, draw(weekdays))


@st.composite
def goals(draw: st.DrawFn) -> WearingGoal:
    points = draw(st.lists(fixed_points(), max_size=4))
    start, end = draw(minutes_of_day), draw(minutes_of_day)
    return WearingGoal(MADRID, window_start=start, window_end=end, fixed_points=tuple(points))


@given(there=goals(), shape=shapes, wanted=st.integers(0, 1440), limit=st.integers(15, 40), weekday=st.integers(0, 6))
def test_periods_keep_apart_and_within_what_is_wanted(
    there: WearingGoal, shape: StepShape, wanted: int, limit: int, weekday: int
) -> None:
    window = plain_window(there, weekday)
    laid = lay_minutes(WearStep(wanted, wanted, shape), wanted, limit, window)
    assert sum(end - start for start, end in laid) <= wanted
    assert all(0 <= start < end <= (window.until_next - limit if shape.nights else window.room) for start, end in laid)
    assert all(later - end >= limit for (_, end), (later, _) in pairwise([*laid, (window.until_next, 0)]))
    assert keeps_to_points(laid, limit, window)


@given(there=goals(), removals=st.integers(1, 3), limit=st.integers(15, 40), weekday=st.integers(0, 6))
def test_worn_all_the_time_leaves_the_breaks_free(there: WearingGoal, removals: int, limit: int, weekday: int) -> None:
    window = plain_window(there, weekday)
    shape = StepShape(removals=(removals, removals))
    wanted = 1440 - removals * limit - TO_ANSWER
    laid = lay_minutes(WearStep(wanted, wanted, shape), wanted, limit, window)
    assert laid or window.off
    assert sum(end - start for start, end in laid) <= wanted
    assert all(later - end >= limit for (_, end), (later, _) in pairwise(laid))
    assert not any(start < after and before < end for start, end in laid for before, after in window.off)


@given(there=goals(), wanted=st.integers(0, 1440), earliest=st.integers(0, 1440))
def test_nothing_is_laid_before_the_earliest_minute(there: WearingGoal, wanted: int, earliest: int) -> None:
    for shape in (USUAL_SHAPE, HOUR_ON, FIRST_NIGHT, ALL_DAY):
        laid = lay_minutes(WearStep(wanted, wanted, shape), wanted, 20, plain_window(there), earliest)
        assert all(start >= earliest for start, _ in laid)
        assert sum(end - start for start, end in laid) <= wanted


def keeps_to_points(laid: tuple[tuple[int, int], ...], limit: int, window: DayWindow) -> bool:
    """No period meets an off-point; each removal and the look after it are within one time somebody is home."""
    free = not any(start < after and before < end for start, end in laid for before, after in window.off)
    seen = window.home is None or all(
        any(before <= end and end + limit <= after for before, after in window.home) for _, end in laid
    )
    return free and seen
