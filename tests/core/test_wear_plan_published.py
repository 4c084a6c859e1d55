"""The schedules day by day as their documents print them, with a clear check every day."""

from __future__ import annotations

from datetime import timedelta

from tests.wearing import ASHA, Wearer


def targets(wearer: Wearer, days: int) -> list[int]:
    before = wearer.at(1, "00:00") - timedelta(hours=1)
    return [day.target_minutes for day in wearer.plan([], days, as_of=before)]


def test_s01_low_end() -> None:
    # The Rotherham NHS FT, Ankle foot orthosis (AFO): 30, 60, 60-120, 120, 180, then an hour more a day.
    assert targets(ASHA, 11) == [30, 60, 60, 120, 180, 240, 300, 360, 420, 480, 480]


def test_s01_high_end() -> None:
    # Same document: day 3 may be up to 120 minutes.
    assert targets(Wearer(end="high"), 6) == [30, 60, 120, 120, 180, 240]


def test_s01_ranges_are_shown_as_printed() -> None:
    # Same document: only day 3 is a range.
    ranges = [day.range_minutes for day in ASHA.plan([], 4, as_of=ASHA.at(1, "00:00"))]
    assert ranges == [(30, 30), (60, 60), (60, 120), (120, 120)]


def test_s01_all_day_is_reached_in_one_to_two_weeks() -> None:
    # Same document: "all day at 1-2 weeks"; an eight-hour day is reached on day 10.
    full = [day.day for day in ASHA.plan([], 14, as_of=ASHA.at(1, "00:00")) if day.at_full_wear]
    assert 7 <= full[0] <= 14
    assert full[0] == 10


def test_s04_fifteen_minutes_more_a_day() -> None:
    # North Tees and Hartlepool NHS FT, Ankle Foot Orthosis: 30, then 15 more a day.
    expected = [30 + 15 * day for day in range(31)]
    assert targets(Wearer("s04"), 32) == [*expected, 480]


def test_s13_flat_week_then_half_an_hour_more_a_day() -> None:
    # South Tees Hospitals NHS FT, Shoes: week 1 30 every day, then 30 more a day.
    expected = [30] * 7 + [60 + 30 * day for day in range(15)]
    assert targets(Wearer("s13"), 23) == [*expected, 480]


def test_s01_mark_may_last_forty_minutes() -> None:
    # Same document: mark still there 40 minutes after removal: stop.
    within, beyond = ASHA.check(1, "mark", mark_minutes=40), ASHA.check(1, "mark", mark_minutes=41)
    assert ASHA.last([within], 2).target_minutes == 30
    assert ASHA.last([beyond], 2).target_minutes == 0


def test_s04_mark_may_last_twenty_minutes() -> None:
    # S04 gives no minutes; Royal National Orthopaedic Hospital, AFO and KAFO patient guides: 20.
    slow = Wearer("s04")
    assert slow.targets([slow.check(1, "mark", mark_minutes=20)], 2) == [30, 30]
    assert slow.targets([slow.check(1, "mark", mark_minutes=21)], 2) == [30, 0]


def test_s13_blister_stops_at_once() -> None:
    # South Tees Hospitals NHS FT, Shoes: blister, cut: stop at once, contact.
    insensate = Wearer("s13")
    assert insensate.targets([insensate.check(1, "sore", broken=True)], 3) == [30, 0, 0]
