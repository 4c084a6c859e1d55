from __future__ import annotations

from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from followup.web.figures import Seen, StripDay, Window, choose_window, draw_ladder, draw_strip
from followup.web.questions import ask_place
from followup.web.site_parts import SiteParts
from tests.builders import local
from tests.web.a_practice import PracticeAtWork

ZONE = ZoneInfo("Europe/Lisbon")
ON = date(2026, 5, 14)
DAY = StripDay(
    ON,
    plan=((local("2026-05-14 09:00", "Europe/Lisbon"), local("2026-05-14 10:00", "Europe/Lisbon")),),
    worn=((local("2026-05-14 09:05", "Europe/Lisbon"), local("2026-05-14 10:00", "Europe/Lisbon")),),
    seen=(Seen(local("2026-05-14 10:20", "Europe/Lisbon"), clear=False),),
    due=(local("2026-05-14 15:40", "Europe/Lisbon"),),
)


def test_the_window_leaves_an_hour_before_and_two_after() -> None:
    assert choose_window([DAY], ZONE) == Window(8, 18)


def test_a_day_with_nothing_to_draw_has_a_usual_window() -> None:
    assert choose_window([StripDay(ON)], ZONE) == Window(8, 20)


def test_periods_stand_where_the_clock_says() -> None:
    drawn = draw_strip(DAY, Window(8, 18), ZONE)
    assert (drawn.plan[0].x, drawn.plan[0].width) == (10, 10)
    assert drawn.worn[0].x == pytest.approx(10.83)


def test_a_mark_a_look_to_come_and_now_are_told_apart() -> None:
    drawn = draw_strip(DAY, Window(8, 18), ZONE, now=local("2026-05-14 13:00", "Europe/Lisbon"))
    assert [look.kind for look in drawn.looks] == ["found", "due"]
    assert drawn.now == 50


def test_now_is_not_drawn_on_another_day() -> None:
    assert draw_strip(DAY, Window(8, 18), ZONE, now=local("2026-05-15 13:00", "Europe/Lisbon")).now is None


def test_every_second_tick_carries_words() -> None:
    assert [tick.hour for tick in draw_strip(DAY, Window(8, 18), ZONE).ticks] == [8, None, 12, None, 16, None]


def test_a_night_runs_past_midnight() -> None:
    night = StripDay(
        ON, plan=((local("2026-05-14 21:00", "Europe/Lisbon"), local("2026-05-15 07:00", "Europe/Lisbon")),)
    )
    window = choose_window([night], ZONE)
    assert window == Window(20, 34)
    assert draw_strip(night, window, ZONE).plan[0].width == pytest.approx(71.43)


def test_a_strip_without_an_axis_is_lower() -> None:
    assert draw_strip(DAY, Window(8, 18), ZONE, axis=False).height == 56


def test_a_tread_is_as_high_as_the_time_worn() -> None:
    treads = draw_ladder([30, 60, 60, 480], 1, 480).treads
    assert [tread.y for tread in treads] == [133, 126, 126, 28]
    assert [tread.kind for tread in treads] == ["done", "here", "ahead", "ahead"]


def test_a_flat_stretch_has_no_riser() -> None:
    assert len(draw_ladder([30, 60, 60, 480], 1, 480).risers) == 2


def test_only_the_first_todays_and_the_last_tread_are_named() -> None:
    drawn = draw_ladder([30, 60, 60, 120, 120, 180, 240, 300, 360, 420, 480], 4, 480)
    assert [label.names for label in drawn.amounts] == [0, 4, 10]
    assert [label.names for label in drawn.days] == [0, 4, 10]


@pytest.mark.parametrize("here", range(11))
def test_no_two_names_on_one_line_come_closer_than_the_narrowest_page_allows(here: int) -> None:
    minutes = [30, 60, 60, 120, 120, 180, 240, 300, 360, 420, 480]
    drawn = draw_ladder(minutes, here, 480)
    places = sorted(label.x for label in drawn.days)
    assert all(after - before >= 25 for before, after in pairwise(places))


def test_a_plan_of_one_day_names_it_once() -> None:
    assert len(draw_ladder([30], 0, 480).amounts) == 1


def test_a_plan_of_no_days_draws_nothing() -> None:
    assert draw_ladder([], None, 480).treads == ()


def test_every_place_is_listed_under_one_side_of_the_leg(rooms: PracticeAtWork) -> None:
    parts: SiteParts = rooms.site.state.parts
    asked = ask_place(parts.practice.places, parts.staff_voice())
    listed = [choice for _, choices in asked.groups for choice in choices]
    assert sorted(each.value for each in listed) == sorted(each.value for each in asked.choices)
    assert all(0 < len(choices) < 9 for _, choices in asked.groups)
