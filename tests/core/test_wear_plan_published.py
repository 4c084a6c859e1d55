"""The schedules day by day as their documents print them, with a clear check every day."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import pytest

from followup.clinical.load_protocols import load_protocols
from followup.core.wear_plan import WearDay
from tests.wearing import ASHA, Wearer, codes

HALF_HOURS = [30 * count for count in range(1, 17)]
HOURS = [60 * count for count in range(1, 9)]


def foreseen(wearer: Wearer, days: int) -> tuple[WearDay, ...]:
    return wearer.plan([], days, as_of=wearer.at(1, "00:00") - timedelta(hours=1))


def targets(wearer: Wearer, days: int) -> list[int]:
    return [day.target_minutes for day in foreseen(wearer, days)]


DAY_BY_DAY = {
    # The Rotherham NHS FT, Ankle foot orthosis (AFO): 30; 60; 60-120; 120; 180; then +60 a day.
    "s01": ([30, 60, 60, 120, 180, 240, 300, 360, 420, 480], [30, 60, 120, 120, 180, 240, 300, 360, 420, 480]),
    # Mersey Care NHS FT, AFO: 30-60; 60-120; 180-240; 240-300; then as the orthotist says.
    "s02": ([30, 60, 180, 240, 240], [60, 120, 240, 300, 300]),
    # George Eliot Hospital NHS Trust, AFO guide: 30-60; 60-120; 180-240; 240-360; no more is printed.
    "s03": ([30, 60, 180, 240, 240], [60, 120, 240, 360, 360]),
    # North Tees and Hartlepool NHS FT, Ankle Foot Orthosis: 30, then +15 a day.
    "s04": ([30 + 15 * day for day in range(31)], [30 + 15 * day for day in range(31)]),
    # Same trust, AFO for children: 30, then +30 a day to a full day.
    "s05": (HALF_HOURS, HALF_HOURS),
    # NHS Fife, Splint care: AFO instructions and precautions: 30; double it; once 240 is comfortable, as prescribed.
    "s06": ([30, 60, 120, 240, 480], [30, 60, 120, 240, 480]),
    # North Bristol NHS Trust, A guide to your KAFO: days 1-3 30-60; days 3-5 60-120; days 5-7 120-240; as required.
    "s07": ([30, 30, 30, 60, 60, 120, 120, 120, 120], [60, 60, 60, 120, 120, 240, 240, 240, 240]),
    # A US orthopaedic hospital group, Brace-care page: two periods of 60; +60 to each period a day.
    "s08": ([120, 240, 360, 480], [120, 240, 360, 480]),
    # Bedfordshire Hospitals NHS FT, A guide to your insoles: 30-60; 60-180; 180-420; 420 and over.
    "s09": ([30, 60, 180, 420, 420], [60, 180, 420, 480, 480]),
    # Cambridge University Hospitals NHS FT, Insoles and foot orthoses: at most 60; +60 to +120 a day.
    "s10": (HOURS, [60, 180, 300, 420, 480]),
    # NHS Borders, Wearing your new orthosis: 60, 120, 180 ... all day.
    "s11": (HOURS, HOURS),
    # Mersey Care NHS FT, Functional foot orthoses: 60, 120 ... full day.
    "s12": (HOURS, HOURS),
    # South Tees Hospitals NHS FT, Shoes: week 1 30 every day, flat; then +30 a day.
    "s13": ([30] * 6 + HALF_HOURS, [30] * 6 + HALF_HOURS),
    # Bradford Teaching Hospitals NHS FT, Orthopaedic footwear: day 1 15-30; +30 a day.
    "s14": ([15 + 30 * day for day in range(16)] + [480], HALF_HOURS),
    # Shirley Ryan AbilityLab, Lower limb prosthesis care and use: 60; 120; 240; 480; full day.
    "s15": ([60, 120, 240, 480, 600], [60, 120, 240, 480, 600]),
    # Cambridge University Hospitals NHS FT, Spinal orthoses: days 1-2 60; days 3-4 120; days 5-6 180 (table goes on).
    "s16": ([60, 60, 120, 120, 180, 180, 180], [60, 60, 120, 120, 180, 180, 180]),
    # Gillette Children's, Guidelines for using your new spine brace: 60-120 on, 30-60 off; 180-240 on; 300-420 on, and
    # the night. In 14 hours: 7 of an hour, or 690 minutes of two hours on and half an hour off; and so on.
    # The morning's break is 35 minutes: a mark's 20, and 15 to tell of it (common practice).
    "s17": ([420, 420, 660, 660, 1255, 1255, 1255], [690, 690, 750, 750, 1345, 1345, 1345]),
    # University College London Hospitals, Hinge knee brace advice: worn at all times, off 2-3 times a day for the skin.
    # Off three or two times for 20 minutes, and 15 more in the morning to tell of the look (common practice).
    "s18": ([1365], [1385]),
}
FULL_WEAR = {"s15": 600, "s17": 1380}
END_OF_TABLE = {"s02": 4, "s03": 4, "s07": 7, "s09": 4, "s16": 6, "s17": 6}


def wearer_of(id: str, end: str = "low") -> Wearer:
    return Wearer(id, end=end, full_wear=FULL_WEAR.get(id, 480))


def test_every_published_schedule_is_told_day_by_day() -> None:
    assert list(DAY_BY_DAY) == list(load_protocols())


@pytest.mark.parametrize("id", DAY_BY_DAY)
def test_low_end_day_by_day(id: str) -> None:
    expected = DAY_BY_DAY[id][0]
    assert targets(wearer_of(id), len(expected)) == expected


@pytest.mark.parametrize("id", DAY_BY_DAY)
def test_high_end_day_by_day(id: str) -> None:
    expected = DAY_BY_DAY[id][1]
    assert targets(wearer_of(id, "high"), len(expected)) == expected


@pytest.mark.parametrize(
    ("id", "ranges"),
    [
        ("s01", [(30, 30), (60, 60), (60, 120), (120, 120), (180, 180), (240, 240)]),
        ("s02", [(30, 60), (60, 120), (180, 240), (240, 300)]),
        ("s03", [(30, 60), (60, 120), (180, 240), (240, 360)]),
        ("s07", [(30, 60)] * 3 + [(60, 120)] * 2 + [(120, 240)] * 2),
        ("s09", [(30, 60), (60, 180), (180, 420), (420, 480)]),
        ("s10", [(60, 60), (120, 180), (180, 300), (240, 420), (300, 480)]),
        ("s14", [(15, 30), (45, 60), (75, 90)]),
        ("s18", [(1365, 1385)]),
    ],
)
def test_ranges_are_shown_as_printed(id: str, ranges: list[tuple[int, int]]) -> None:
    assert [day.range_minutes for day in foreseen(wearer_of(id), len(ranges))] == ranges


@pytest.mark.parametrize("id", DAY_BY_DAY)
def test_where_the_table_ends_a_clinician_decides(id: str) -> None:
    # S02 "as the orthotist says", S07 "as required", S16 "table goes on"; S03, S09 and S17 do not say how.
    day = foreseen(wearer_of(id), 40)[-1]
    assert day.step == END_OF_TABLE.get(id, day.step)
    assert ("table_ends" in codes(day)) == (id in END_OF_TABLE)
    assert day.at_full_wear == (id not in END_OF_TABLE)


@pytest.mark.parametrize("id", END_OF_TABLE)
def test_beyond_the_table_a_clinician_s_word_reaches_full_wear(id: str) -> None:
    wearer, last = wearer_of(id), END_OF_TABLE[id]
    events = [*wearer.clear(*range(1, last + 1)), wearer.word(last, "resume", last + 1, step=last + 1)]
    assert wearer.last(events, last + 1).target_minutes == wearer.full_wear


def test_s06_begins_with_more_for_who_walks_on_and_off() -> None:
    # NHS Fife: start 60-120 if walking on and off; doubled; at most 240 before the prescribed pattern.
    assert targets(Wearer("s06", activity="on_and_off"), 4) == [60, 120, 240, 480]
    assert targets(Wearer("s06", activity="on_and_off", end="high"), 3) == [120, 240, 480]


def test_s06_session_passes_only_after_a_clear_check_whatever_the_date() -> None:
    # NHS Fife: no redness: double the time.
    child = Wearer("s06")
    seen = [*child.clear(1), child.check(2, "mark", mark_minutes=10), child.check(3, "cannot_say"), *child.clear(4)]
    assert child.targets(seen, 5) == [30, 60, 60, 60, 120]


def last_period(day: WearDay, wearer: Wearer) -> str:
    on, off = (at.astimezone(wearer.goal.zone) for at in (day.periods[-1].on_at, day.periods[-1].off_at))
    return f"{on:%H:%M}-{off:%H:%M}"


def test_s08_two_periods_each_an_hour_longer() -> None:
    # A US orthopaedic hospital group: two periods of 60 on day 1; +60 to each period a day.
    lengths = [[each.minutes for each in day.periods] for day in foreseen(Wearer("s08"), 3)]
    assert lengths == [[60, 60], [120, 120], [180, 180]]


@pytest.mark.parametrize(("day", "on", "off"), [(1, (60, 120), (30, 60)), (3, (180, 240), (30, 60))])
@pytest.mark.parametrize("end", ["low", "high"])
def test_s17_on_and_off_in_turn_by_day(day: int, on: tuple[int, int], off: tuple[int, int], end: str) -> None:
    # Gillette Children's: repeated to bedtime, not overnight. The last stretch ends with the window.
    periods = foreseen(wearer_of("s17", end), day)[-1].periods
    stretches = [each.minutes for each in periods[:-1]]
    breaks = [int((after.on_at - before.off_at).total_seconds() // 60) for before, after in pairwise(periods)]
    assert all(on[0] <= each <= on[1] for each in stretches)
    assert all(off[0] <= each <= off[1] for each in breaks)
    assert periods[-1].off_at <= wearer_of("s17").at(day, "21:30")


def test_s17_first_night_is_tried_on_days_five_and_six() -> None:
    # Gillette Children's: days 5-6, first night tried.
    brace = wearer_of("s17")
    last = [last_period(day, brace) for day in foreseen(brace, 6)]
    assert last == ["19:30-20:30"] * 2 + ["19:30-21:30"] * 2 + ["22:00-06:55"] * 2


def test_s17_full_wear_is_twenty_three_hours() -> None:
    # Gillette Children's: 1-2 weeks to 23 h.
    assert load_protocols()["s17"].full_wear_minutes == 1380
    assert load_protocols()["s17"].steps(wearer_of("s17").goal)[-1].low_minutes == 1380


def test_s18_is_worn_at_all_times_whatever_full_wear_is() -> None:
    # University College London Hospitals: no ramp; a goal left at eight hours must not leave it off for sixteen.
    assert targets(Wearer("s18", full_wear=480), 1) == [1365]


def test_s18_comes_off_for_the_skin_two_or_three_times_a_day() -> None:
    # University College London Hospitals: off 2-3 times a day.
    assert [len(foreseen(Wearer("s18", end=end), 1)[0].periods) for end in ("low", "high")] == [3, 2]


def test_s11_goes_back_to_the_last_comfortable_time_then_in_half_hours() -> None:
    # NHS Borders: time not tolerated: next day the last comfortable time, then +30 a day.
    sore = Wearer("s11")
    seen = [*sore.clear(1, 2), sore.check(3, discomfort=True), *sore.clear(4, 5, 6)]
    assert sore.targets(seen, 7) == [60, 120, 180, 120, 150, 180, 210]


def test_s12_begins_again_the_next_day() -> None:
    # Mersey Care NHS FT: stop for the rest of that day, restart next day.
    sore = Wearer("s12")
    assert sore.targets([*sore.clear(1, 2), sore.check(3, discomfort=True)], 4) == [60, 120, 180, 180]


def test_s04_discomfort_shortens() -> None:
    # North Tees and Hartlepool NHS FT: pain: remove, check skin, reduce wear time.
    sore = Wearer("s04")
    assert sore.targets([*sore.clear(1, 2), sore.check(3, discomfort=True)], 4) == [30, 45, 60, 45]


def test_s01_all_day_is_reached_in_one_to_two_weeks() -> None:
    # Same document: "all day at 1-2 weeks"; an eight-hour day is reached on day 10.
    full = [day.day for day in ASHA.plan([], 14, as_of=ASHA.at(1, "00:00")) if day.at_full_wear]
    assert 7 <= full[0] <= 14
    assert full[0] == 10


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
