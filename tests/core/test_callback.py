from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.core.callback import (
    Part,
    Standing,
    due_at,
    needs_on_call,
    opens_callback,
    part_of_queue,
    queue_order,
)
from followup.core.clinic_hours import parse_hours
from followup.core.urgency import Urgency
from tests.builders import local

HOURS = parse_hours("mon-fri 08:30-17:30", "Europe/London")
NOW = local("2026-03-04 12:00", "Europe/London")
urgencies = st.sampled_from([each for each in Urgency if opens_callback(each)])
instants = st.integers(-5000, 5000).map(lambda minutes: NOW + timedelta(minutes=minutes))
standings = st.builds(Standing, urgencies, instants)
callbacks = st.tuples(standings, instants)


def at(text: str) -> datetime:
    return local(text, "Europe/London")


def in_order(queue: list[tuple[Standing, datetime]]) -> list[tuple[Standing, datetime]]:
    return sorted(queue, key=lambda each: queue_order(*each, NOW))


@pytest.mark.parametrize(
    ("urgency", "reported", "due"),
    [
        (Urgency.CLINICIAN_TODAY, "2026-03-06 16:00", "2026-03-06 17:30"),
        (Urgency.CLINICIAN_TODAY, "2026-03-06 18:00", "2026-03-06 19:00"),
        (Urgency.CLINICIAN_TODAY, "2026-03-07 11:00", "2026-03-07 12:00"),
        (Urgency.CLINICIAN_NEXT_DAY, "2026-03-06 16:00", "2026-03-09 17:30"),
        (Urgency.MEDICAL_TODAY, "2026-03-07 23:00", "2026-03-08 00:00"),
        (Urgency.EMERGENCY_NOW, "2026-03-07 23:00", "2026-03-07 23:15"),
    ],
)
def test_deadlines(urgency: Urgency, reported: str, due: str) -> None:
    assert due_at(urgency, at(reported), HOURS) == at(due)


@given(st.integers(0, 7 * 24 * 60))
def test_today_never_becomes_another_day(minutes: int) -> None:
    reported = at("2026-03-02 00:00") + timedelta(minutes=minutes)
    assert due_at(Urgency.CLINICIAN_TODAY, reported, HOURS) - reported <= timedelta(hours=17, minutes=30)


@pytest.mark.parametrize(("reported", "alerted"), [("2026-03-06 16:00", False), ("2026-03-06 18:00", True)])
def test_the_person_on_call_hears_when_nobody_comes_back_today(reported: str, alerted: bool) -> None:
    assert needs_on_call(Urgency.CLINICIAN_TODAY, at(reported), HOURS) is alerted


def test_a_call_for_the_next_day_wakes_nobody() -> None:
    assert not needs_on_call(Urgency.CLINICIAN_NEXT_DAY, at("2026-03-06 18:00"), HOURS)


@given(standings, standings)
def test_joining_never_lowers_or_postpones(first: Standing, second: Standing) -> None:
    joined = first.joined_by(second)
    assert joined.urgency >= max(first.urgency, second.urgency)
    assert joined.due_at <= min(first.due_at, second.due_at)


@given(standings, standings, standings)
def test_reports_join_to_the_same_whatever_their_order(first: Standing, second: Standing, third: Standing) -> None:
    assert first.joined_by(second).joined_by(third) == third.joined_by(first).joined_by(second)


@given(st.lists(callbacks, max_size=12))
def test_medical_levels_stand_before_all_others(queue: list[tuple[Standing, datetime]]) -> None:
    medical = [each.urgency >= Urgency.MEDICAL_TODAY for each, _ in in_order(queue)]
    assert medical == sorted(medical, reverse=True)


@given(st.lists(callbacks, max_size=12))
def test_below_them_what_is_overdue_stands_first_then_the_deadline(queue: list[tuple[Standing, datetime]]) -> None:
    rest = [each for each, _ in in_order(queue) if each.urgency < Urgency.MEDICAL_TODAY]
    assert rest == sorted(rest, key=lambda each: (each.due_at > NOW, each.due_at, -each.urgency))


@given(st.lists(callbacks, max_size=12), st.randoms())
def test_the_order_does_not_depend_on_how_rows_arrive(queue: list[tuple[Standing, datetime]], chance: object) -> None:
    shuffled = list(queue)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert in_order(shuffled) == in_order(queue)


@given(callbacks, callbacks)
def test_a_worse_one_of_the_same_deadline_never_stands_later(
    one: tuple[Standing, datetime], other: tuple[Standing, datetime]
) -> None:
    mild = Standing(Urgency.CLINICIAN_NEXT_DAY, one[0].due_at)
    worse = Standing(other[0].urgency, one[0].due_at)
    assert queue_order(worse, one[1], NOW) <= queue_order(mild, one[1], NOW)


@given(callbacks)
def test_parts_follow_the_order(each: tuple[Standing, datetime]) -> None:
    part = part_of_queue(each[0], NOW, HOURS)
    assert (part is Part.FIRST) == (each[0].urgency >= Urgency.MEDICAL_TODAY)
    assert part is not Part.LATE or each[0].due_at <= NOW


def test_level_one_is_for_the_desk() -> None:
    assert not opens_callback(Urgency.DESK_FOLLOW_UP)
    assert opens_callback(Urgency.CLINICIAN_NEXT_DAY)
