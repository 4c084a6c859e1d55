"""Each default of the wear plan, one short fact each."""

from __future__ import annotations

from datetime import time

import pytest

from followup.core.plan_reason import day_sentence
from followup.core.wear_plan import state_of
from tests.wearing import ASHA, Wearer, codes


def test_mark_that_outlasts_the_limit_stops_until_a_clinician_speaks() -> None:
    events = [*ASHA.clear(1), ASHA.check(2, "mark", mark_minutes=45), *ASHA.clear(3, 4, 5)]
    assert ASHA.targets(events, 6) == [30, 60, 0, 0, 0, 0]
    assert codes(ASHA.last(events, 6)) == ["mark_outlasted"]


@pytest.mark.parametrize("facts", [{"result": "sore"}, {"result": "clear", "broken": True}])
def test_sore_or_broken_skin_stops(facts: dict[str, object]) -> None:
    assert ASHA.targets([ASHA.check(1, **facts)], 2) == [30, 0]  # type: ignore[arg-type]


def test_mark_within_the_limit_is_the_same_time_again() -> None:
    day = ASHA.last([*ASHA.clear(1, 2, 3), ASHA.check(4, "mark", mark_minutes=35)], 5)
    assert day_sentence(day.reasons) == "the same 2 h as yesterday: the mark took 35 minutes to fade"
    assert day.instruction == "same_time_again"


@pytest.mark.parametrize("precaution", ["reduced_sensation", "diabetes"])
def test_mark_limit_is_never_above_thirty_without_feeling_or_with_diabetes(precaution: str) -> None:
    careful = Wearer(precautions=(precaution,))
    assert careful.targets([careful.check(1, "mark", mark_minutes=31)], 2) == [30, 0]


def test_discomfort_with_clear_skin_is_a_shorter_time() -> None:
    day = ASHA.last([*ASHA.clear(1, 2, 3, 4), ASHA.check(5, discomfort=True)], 6)
    assert (day.target_minutes, day.state, day.instruction) == (120, "shorter", "shorter_time")


def test_discomfort_at_the_lowest_step_is_the_same_time() -> None:
    day = ASHA.last([ASHA.check(1, discomfort=True)], 2)
    assert (day.target_minutes, day.state) == (30, "same_time")


def test_second_discomfort_within_a_week_waits_for_a_clinician() -> None:
    events = [*ASHA.clear(1, 2, 3, 4), ASHA.check(5, discomfort=True), ASHA.check(6, discomfort=True)]
    plan = ASHA.plan([*events, *ASHA.clear(7, 8)], 9)
    assert [day.target_minutes for day in plan[5:]] == [120, 60, 60, 60]
    assert codes(plan[-1]) == ["discomfort_again"]


def test_second_discomfort_after_more_than_a_week_is_a_first_one() -> None:
    clear = ASHA.clear(1, 3, 4, 5, 6, 7, 8, 9)
    events = [*clear, ASHA.check(2, discomfort=True), ASHA.check(10, discomfort=True)]
    assert codes(ASHA.last(events, 11)) == ["discomfort"]


def test_clear_before_removal_and_limit_does_not_count_once_a_mark_was_seen() -> None:
    early = ASHA.check(1, at="10:09", mark_minutes=5)
    assert codes(ASHA.last([early], 2)) == ["checked_too_early"]


def test_clear_at_removal_and_limit_counts() -> None:
    assert ASHA.targets([ASHA.check(1, at="10:10", mark_minutes=5)], 2) == [30, 60]


def test_clear_without_a_mark_counts_at_removal() -> None:
    assert ASHA.targets([ASHA.check(1, at="09:30")], 2) == [30, 60]


def test_time_of_the_look_stands_before_the_time_of_the_report() -> None:
    looked = ASHA.at(1, "09:31").isoformat()
    late_told = ASHA.check(1, at="20:00", looked_at=looked, mark_minutes=5)
    assert codes(ASHA.last([late_told], 2)) == ["checked_too_early"]


def test_early_mark_gives_way_to_a_later_clear_look() -> None:
    events = [ASHA.check(1, "mark", at="09:30"), ASHA.check(1, at="10:15", mark_minutes=10)]
    assert ASHA.targets(events, 2) == [30, 60]


def test_mark_nobody_timed_is_the_same_time_again() -> None:
    assert codes(ASHA.last([ASHA.check(1, "mark")], 2)) == ["mark_not_timed"]


def test_reduced_sensation_needs_a_second_look_by_touch() -> None:
    insensate = Wearer(precautions=("reduced_sensation",))
    assert codes(insensate.last([insensate.check(1)], 2)) == ["touch_needed"]
    assert codes(insensate.last([insensate.check(1, at="09:40", by_touch=True)], 2)) == ["checked_too_early"]
    assert insensate.targets([insensate.check(1, by_touch=True)], 2) == [30, 45]


@pytest.mark.parametrize(("worn", "then"), [(95, 120), (96, 180)])
def test_less_than_eighty_percent_worn_is_the_same_time(worn: int, then: int) -> None:
    assert ASHA.targets([*ASHA.clear(1, 2, 3), ASHA.check(4, worn_minutes=worn)], 5)[-1] == then


def test_more_worn_than_planned_is_no_credit() -> None:
    assert ASHA.targets([ASHA.check(1, worn_minutes=600)], 2) == [30, 60]


def test_look_after_the_first_of_two_periods_is_not_the_check_of_the_day() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.check(4, at="10:40")]
    assert codes(ASHA.last(events, 5)) == ["checked_before_end"]


def test_cannot_say_is_the_same_time_again() -> None:
    assert codes(ASHA.last([ASHA.check(1, "cannot_say")], 2)) == ["could_not_say"]


def test_first_missed_check_is_the_same_time() -> None:
    assert codes(ASHA.last([], 2)) == ["missed_check"]
    assert ASHA.targets([], 2) == [30, 30]


def test_second_missed_check_ends_the_plan_until_spoken_to() -> None:
    assert ASHA.targets(ASHA.clear(3, 4), 5) == [30, 30, 0, 0, 0]


def test_missed_checks_apart_are_each_a_first() -> None:
    assert ASHA.targets(ASHA.clear(2, 4), 6) == [30, 30, 60, 60, 60, 60]


@pytest.mark.parametrize("precaution", ["reduced_sensation", "cannot_report", "child"])
def test_first_missed_check_ends_the_plan_of_those_watched_closely(precaution: str) -> None:
    assert Wearer(precautions=(precaution,)).targets([], 2) == [30, 0]


@pytest.mark.parametrize(
    ("wearer", "state"),
    [(Wearer(precautions=("protective",)), "leave_on"), (Wearer(without="with_help"), "same_time")],
)
def test_silence_never_stops_those_who_are_phoned(wearer: Wearer, state: str) -> None:
    days = wearer.plan([], 4)
    assert [day.target_minutes for day in days] == [30] * 4
    assert (days[-1].state, codes(days[-1]), days[-1].silent_days) == (state, ["silent_phoned"], 3)


def test_late_check_breaks_the_silence_of_its_day() -> None:
    late = ASHA.check(1, told=ASHA.at(2, "12:00"))
    assert ASHA.targets([late], 3) == [30, 30, 30]


def test_protective_orthosis_is_left_on_as_ordered() -> None:
    shielded = Wearer(precautions=("protective",))
    day = shielded.last([*shielded.clear(1), shielded.check(2, "sore", broken=True), *shielded.clear(3)], 4)
    assert (day.target_minutes, day.state, day.instruction) == (60, "leave_on", "leave_on_as_ordered")


def test_who_cannot_report_is_never_raised_by_the_program() -> None:
    quiet = Wearer(precautions=("cannot_report",))
    assert codes(quiet.last(quiet.clear(1), 2)) == ["cannot_report"]
    assert quiet.targets([*quiet.clear(1), quiet.word(1, "resume", 2, step=2)], 2) == [30, 60]


@pytest.mark.parametrize(
    ("instruction", "target"),
    [("as_planned", 180), ("same_time_again", 120), ("shorter_time", 60), ("off_until_we_speak", 0)],
)
def test_triage_result_moves_the_next_day(instruction: str, target: int) -> None:
    events = [*ASHA.clear(1, 2, 3, 4), ASHA.triage(4, instruction)]
    assert ASHA.targets(events, 5)[-1] == target


def test_check_and_triage_of_one_report_move_the_plan_once() -> None:
    events = [*ASHA.clear(1, 2, 3, 4), ASHA.check(5, discomfort=True), ASHA.triage(5, "shorter_time")]
    assert ASHA.targets(events, 6)[-1] == 120


def test_stop_is_set_on_the_day_it_is_reported_and_nothing_else_of_it_changes() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.check(4, "sore", at="11:00")]
    day = ASHA.last(events, 4)
    assert (day.target_minutes, day.stopped_at) == (120, ASHA.at(4, "11:00"))
    assert [each.on_at for each in day.open_periods] == [ASHA.at(4, "09:00")]


def test_clinician_resumes_at_the_last_clear_step() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.check(4, "sore"), ASHA.word(5, "resume", 7)]
    assert ASHA.targets(events, 8) == [30, 60, 60, 120, 0, 0, 60, 60]


def test_first_day_after_a_resume_needs_its_own_clear_check() -> None:
    events = [ASHA.check(1, "sore"), ASHA.word(2, "resume", 3, step=2), *ASHA.clear(3, 4)]
    assert ASHA.targets(events, 5) == [30, 0, 60, 60, 120]


def test_finding_after_a_resume_stops_again_before_it_begins() -> None:
    events = [ASHA.check(1, "sore"), ASHA.word(2, "resume", 4), ASHA.check(3, "sore")]
    assert ASHA.targets(events, 5) == [30, 0, 0, 0, 0]


@pytest.mark.parametrize(
    ("action", "then"),
    [
        ("same_time", [120, 180]),
        ("shorter", [60, 120]),
        ("restart", [30, 60]),
        ("off", [0, 0]),
        ("as_planned", [180, 240]),
    ],
)
def test_clinician_word_moves_the_plan_from_its_date(action: str, then: list[int]) -> None:
    events = [*ASHA.clear(1, 2, 3, 4, 5), ASHA.word(4, action, 5)]
    assert ASHA.targets(events, 6)[-2:] == then


def test_clinician_leave_on_holds_until_the_next_word() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.word(1, "leave_on", 2), ASHA.word(3, "as_planned", 4)]
    assert [day.state for day in ASHA.plan(events, 4)] == ["wearing", "leave_on", "leave_on", "wearing"]


def test_off_from_a_later_date_and_resume_after_it_both_hold() -> None:
    events = [*ASHA.clear(1, 2), ASHA.word(1, "off", 3), ASHA.word(2, "resume", 5, step=2)]
    assert ASHA.targets(events, 5) == [30, 60, 0, 0, 60]


def test_full_wear_asks_for_no_daily_check_after_its_first_clear_day() -> None:
    short_day = Wearer(full_wear=60)
    assert short_day.targets(short_day.clear(1, 2), 8) == [30] + [60] * 7


def test_who_is_watched_closely_is_asked_for_seven_clear_days_at_full_wear() -> None:
    child = Wearer(full_wear=60, precautions=("child",))
    assert child.targets(child.clear(1, 2, 3), 5)[-1] == 0
    assert child.targets(child.clear(*range(1, 9)), 12)[-1] == 60


def test_report_after_six_moves_only_the_day_after() -> None:
    late = ASHA.check(1, "sore", told=ASHA.at(2, "06:00"))
    assert ASHA.targets([late], 3) == [30, 30, 0]
    assert ASHA.targets([ASHA.check(1, "sore", told=ASHA.at(2, "05:59"))], 2) == [30, 0]


def test_projection_assumes_clear_checks_or_silence() -> None:
    now = ASHA.at(1, "12:00")
    assert [day.target_minutes for day in ASHA.plan([], 3, now)] == [30, 60, 60]
    assert [day.target_minutes for day in ASHA.plan([], 3, now, "silent")] == [30, 30, 0]
    assert [day.basis for day in ASHA.plan([], 3, now)] == ["recorded", "projected", "projected"]


def test_state_of_a_plan_follows_a_stop_at_once() -> None:
    days = ASHA.plan([ASHA.check(1, "sore", at="11:00")], 3)
    assert state_of(days, ASHA.at(1, "10:00")).target_minutes == 30
    stopped = state_of(days, ASHA.at(1, "11:00"))
    assert (stopped.state, stopped.target_minutes, stopped.stopped_since) == ("off", 0, ASHA.on(1))


def test_state_of_a_plan_counts_silence_and_full_wear() -> None:
    assert state_of(ASHA.plan([], 2), ASHA.at(2, "12:00")).silent_days == 1
    short_day = Wearer(full_wear=30)
    assert state_of(short_day.plan([], 1), short_day.at(1, "12:00")).at_full_wear


def test_triage_leave_on_holds_the_time_until_a_clinician_speaks() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.triage(1, "leave_on_as_ordered"), ASHA.word(3, "as_planned", 4)]
    assert [(day.target_minutes, day.state) for day in ASHA.plan(events, 4)[1:]] == [
        (30, "leave_on"),
        (30, "leave_on"),
        (30, "wearing"),
    ]


def test_clinician_off_from_today_stops_the_day_in_force() -> None:
    day = ASHA.last([*ASHA.clear(1, 2, 3), ASHA.word(4, "off", 4, at="12:00")], 4)
    assert day.stopped_at == ASHA.at(4, "12:00")


def test_report_after_a_clinician_word_holds_it_back() -> None:
    raised = ASHA.word(3, "resume", 4, step=6, at="12:00")
    assert ASHA.targets([*ASHA.clear(1, 2, 3), raised], 4)[-1] == 240
    assert ASHA.targets([*ASHA.clear(1, 2, 3), raised, ASHA.triage(3, "same_time_again")], 4)[-1] == 60
    assert ASHA.targets([*ASHA.clear(1, 2, 3), raised, ASHA.triage(3, "shorter_time")], 4)[-1] == 30


def test_clinician_word_after_a_report_stands() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.triage(3, "shorter_time", at="12:00"), ASHA.word(3, "as_planned", 4)]
    assert ASHA.targets(events, 4)[-1] == 120


def test_clinician_word_after_a_discomfort_keeps_the_time() -> None:
    events = [*ASHA.clear(1, 2, 3), ASHA.check(4, discomfort=True), ASHA.word(4, "as_planned", 5)]
    day = ASHA.last(events, 5)
    assert (day.target_minutes, codes(day)) == (120, ["clinician_as_planned"])


def test_third_discomfort_while_held_is_shorter_still() -> None:
    events = [*ASHA.clear(1, 2, 3, 4, 5), *[ASHA.check(day, discomfort=True) for day in (6, 7, 8)]]
    assert ASHA.targets(events, 9)[-4:] == [240, 180, 120, 60]


def test_who_cannot_report_stays_at_full_wear_once_there() -> None:
    quiet = Wearer(full_wear=30, precautions=("cannot_report",))
    assert codes(quiet.last(quiet.clear(1), 2)) == ["full_wear"]


def test_check_of_a_day_not_issued_counts_only_its_findings() -> None:
    early = ASHA.check(2, at="05:00")
    assert codes(ASHA.last([*ASHA.clear(1), early], 3)) == ["no_wear_planned"]
    assert ASHA.last([*ASHA.clear(1), ASHA.check(2, "sore", at="05:00")], 2).target_minutes == 0


def test_mark_on_a_day_without_time_keeps_the_plan_off() -> None:
    events = [ASHA.check(1, "sore"), ASHA.word(2, "resume", 3, at="12:00"), ASHA.check(2, "mark")]
    assert codes(ASHA.last(events, 3)) == ["mark_without_wear"]


def test_window_that_cannot_hold_the_step_is_said() -> None:
    narrow = Wearer(window=(time(9), time(10)), full_wear=120)
    day = narrow.last(narrow.clear(1, 2, 3), 4)
    assert (day.target_minutes, codes(day)) == (60, ["clear_check", "window_too_short"])
