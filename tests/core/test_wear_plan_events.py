"""What changes, rests or ends a plan, one short fact each."""

from __future__ import annotations

from typing import Any

import pytest

from followup.clinical.load_protocols import find_protocol
from followup.core.plan_event import PlanEvent
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_plan import WearDay, replay
from tests.wearing import ASHA, Wearer, codes

S04 = find_protocol("s04")
SHIELDED = Wearer(precautions=("protective",))


def told(wearer: Wearer, day: int, type: str, from_day: int | None = None, at: str = "21:30", **data: Any) -> PlanEvent:
    """An event recorded on `day`, by its own field for the date it holds from."""
    if from_day is not None:
        data["from_on"] = wearer.on(from_day).isoformat()
    return wearer._event(type, wearer.at(day, at), wearer.at(day, at), data)


def to_s04(day: int, from_day: int, step: int | None = None) -> PlanEvent:
    chosen = {"protocol": "s04", "digest": S04.digest, "by": "ruiz", "step": step}
    return told(ASHA, day, "protocol_change", from_day, at="12:00", **chosen)


def plan(events: list[PlanEvent], days: int) -> tuple[WearDay, ...]:
    return replay(
        find_protocol("s01"),
        ASHA.goal,
        frozenset[Precaution](),
        WithoutOrthosis.WALKS,
        ASHA.delivered_on,
        events,
        ASHA.at(days, "23:59"),
        days,
        protocols={S04.digest: S04},
    )


def test_nothing_is_raised_while_a_complaint_waits_for_its_triage() -> None:
    complaint = told(ASHA, 2, "complaint", at="12:00", plan_on=ASHA.on(2).isoformat(), about="click")
    assert codes(ASHA.last([*ASHA.clear(1, 2), complaint], 3)) == ["report_open"]
    judged = [*ASHA.clear(1, 2, 3), complaint, ASHA.triage(3, "as_planned", at="12:00")]
    assert codes(ASHA.last(judged, 4)) == ["ladder_same"]


def test_a_word_for_a_later_day_judges_no_complaint() -> None:
    complaint = told(ASHA, 1, "complaint", at="12:00", plan_on=ASHA.on(1).isoformat(), about="click")
    assert codes(ASHA.last([*ASHA.clear(1), complaint, ASHA.word(1, "shorter", 9)], 2)) == ["report_open"]


def test_an_away_plan_rests_and_its_silence_does_not_count() -> None:
    days = ASHA.plan([*ASHA.clear(1, 2), told(ASHA, 2, "away", 3, why="travel")], 8)
    assert {(day.state, day.target_minutes, day.silent_days, day.checks) for day in days[2:]} == {("away", 0, 0, ())}


def test_back_waits_for_a_clinician_and_begins_at_the_last_clear_step() -> None:
    gone = [*ASHA.clear(1, 2, 3, 4), told(ASHA, 4, "away", 5, why="illness"), told(ASHA, 6, "back", 7)]
    assert [day.state for day in ASHA.plan(gone, 8)[4:]] == ["away", "away", "off", "off"]
    assert ASHA.targets([*gone, ASHA.word(8, "resume", 9)], 9)[-1] == 120


def test_a_call_that_ends_as_planned_while_they_are_away_does_not_begin_the_plan_again() -> None:
    gone = [*ASHA.clear(1, 2), told(ASHA, 2, "away", 3, why="hospital")]
    assert ASHA.last([*gone, ASHA.word(3, "as_planned", 4)], 5).state == "away"
    assert ASHA.targets([*gone, ASHA.word(3, "resume", 4)], 4)[-1] == 60


def test_a_stop_keeps_what_was_seen_as_its_reason() -> None:
    events = [ASHA.check(1, "mark", mark_minutes=45), ASHA.triage(1, "off_until_we_speak")]
    assert codes(ASHA.last(events, 2)) == ["mark_outlasted"]


def test_a_word_from_before_they_went_away_does_not_begin_the_plan_again() -> None:
    events = [
        *ASHA.clear(1),
        ASHA.word(1, "resume", 4),
        told(ASHA, 2, "away", 3, why="travel"),
        told(ASHA, 3, "back", 4),
    ]
    assert codes(ASHA.last(events, 5)) == ["back_waits"]


@pytest.mark.parametrize(
    "what", [{"type": "away", "why": "hospital"}, {"type": "orthosis_change", "change": "adjusted"}]
)
def test_a_protective_orthosis_is_left_on_with_its_minutes_while_the_plan_rests(what: dict[str, str]) -> None:
    days = SHIELDED.plan([*SHIELDED.clear(1, 2), told(SHIELDED, 2, from_day=3, **what)], 4)
    assert [(day.state, day.target_minutes) for day in days[2:]] == [("leave_on", 60), ("leave_on", 60)]


@pytest.mark.parametrize("change", ["adjusted", "remade", "loan"])
def test_a_changed_orthosis_waits_for_a_start_step(change: str) -> None:
    changed = [*ASHA.clear(1, 2, 3), told(ASHA, 3, "orthosis_change", 4, change=change)]
    assert codes(ASHA.last([*changed, ASHA.word(4, "as_planned", 5)], 5)) == ["waits_for_start_step"]
    assert ASHA.last([*changed, ASHA.word(4, "resume", 5, step=2)], 5).target_minutes == 60


def test_a_repair_never_releases_a_stop() -> None:
    events = [*ASHA.clear(1), ASHA.check(2, "sore"), told(ASHA, 3, "orthosis_change", 4, change="repaired")]
    assert ASHA.targets(events, 5)[2:] == [0, 0, 0]


def test_three_checked_days_follow_a_repair_even_at_full_wear() -> None:
    short_day = Wearer(full_wear=60)
    events = [*short_day.clear(1, 2), told(short_day, 4, "orthosis_change", 5, change="repaired")]
    assert short_day.targets(events, 7) == [30, 60, 60, 60, 60, 60, 0]


def test_nothing_begins_an_ended_plan_again() -> None:
    events = [*ASHA.clear(1), told(ASHA, 1, "plan_end", 2, why="transferred"), ASHA.word(2, "restart", 3)]
    assert [(day.state, day.periods, day.checks) for day in ASHA.plan(events, 4)[1:]] == [("ended", (), ())] * 3


def test_another_protocol_gives_no_more_than_the_last_clear_time() -> None:
    day = plan([*ASHA.clear(1, 2, 3, 4), to_s04(4, 5)], 5)[-1]
    assert (day.target_minutes, day.state, codes(day)) == (120, "wearing", ["protocol_changed"])


def test_a_finding_after_a_protocol_change_holds_its_step_back() -> None:
    uneasy = [*ASHA.clear(1, 2, 3), ASHA.check(4, discomfort=True), to_s04(3, 5, step=12)]
    assert plan(uneasy, 5)[-1].target_minutes < 60
    sore = [*ASHA.clear(1, 2, 3), ASHA.check(4, "sore"), to_s04(3, 5, step=12), ASHA.word(6, "same_time", 7)]
    assert plan(sore, 7)[-1].target_minutes == 60


def test_a_protocol_change_releases_no_stop() -> None:
    assert plan([*ASHA.clear(1), ASHA.check(2, "sore"), to_s04(3, 4, step=1)], 4)[-1].target_minutes == 0


def test_another_zone_skips_no_step_of_a_flat_week() -> None:
    shoes = Wearer(protocol="s13")
    moved = told(shoes, 2, "zone_change", 3, at="12:00", zone="Europe/Lisbon")
    assert [day.step for day in shoes.plan([*shoes.clear(1, 2, 3, 4), moved], 5)] == [1, 2, 3, 4, 5]


def test_a_higher_end_of_the_range_raises_nothing_by_itself() -> None:
    events = [*ASHA.clear(1, 2), told(ASHA, 3, "goal_change", 4, range_end="high")]
    assert ASHA.targets(events, 4) == [30, 60, 60, 60]


def test_more_full_wear_is_not_given_without_a_check_and_its_want_is_no_silence() -> None:
    short_day = Wearer(full_wear=60)
    day = short_day.last([*short_day.clear(1, 2), told(short_day, 4, "goal_change", 6, full_wear_minutes=480)], 6)
    assert (day.target_minutes, codes(day), day.silent_days) == (60, ["goal_changed"], 0)


def test_a_mark_that_comes_back_at_one_place_holds_the_time_for_a_clinician() -> None:
    again = [ASHA.check(day, "mark", mark_minutes=5, place="heel") for day in (2, 3)]
    assert codes(ASHA.last([*ASHA.clear(1, 4, 5), *again], 6)) == ["mark_again"]


def test_a_sore_place_counts_as_one_that_was_marked() -> None:
    sore, word = ASHA.check(2, "sore", place="heel"), ASHA.word(2, "resume", 3, step=2)
    marked = ASHA.check(3, "mark", mark_minutes=5, place="heel")
    assert codes(ASHA.last([*ASHA.clear(1, 4), sore, word, marked], 5)) == ["mark_again"]


def test_a_worse_report_leaves_a_restart_standing() -> None:
    calm = [*ASHA.clear(1, 2, 3, 5), ASHA.check(4, discomfort=True), ASHA.word(5, "restart", 7)]
    assert ASHA.targets([*calm, *ASHA.clear(6)], 7)[-1] == 30
    assert ASHA.targets([*calm, ASHA.check(6, discomfort=True)], 7)[-1] == 30


def test_an_earlier_discomfort_is_not_forgotten_for_a_later_one() -> None:
    late = ASHA.check(3, discomfort=True, told=ASHA.at(11, "12:00"))
    events = [*ASHA.clear(*range(3, 10), 11), *[ASHA.check(day, discomfort=True) for day in (2, 10)], late]
    assert codes(ASHA.last(events, 12)) == ["discomfort_again"]


def test_keeping_to_the_plan_ends_a_silence_as_going_on_does() -> None:
    word = ASHA.word(4, "as_planned", 4, at="05:00")
    running, stopped = [*ASHA.clear(1, 2), word], [*ASHA.clear(1), ASHA.check(2, "sore"), word]
    assert all(less <= more for less, more in zip(ASHA.targets(stopped, 6), ASHA.targets(running, 6), strict=True))


def test_last_tolerated_time_comes_back_and_grows_by_smaller_steps() -> None:
    insoles = Wearer(protocol="s11")
    events = [*insoles.clear(1, 2, 3, 5, 6, 7), insoles.check(4, discomfort=True)]
    assert insoles.targets(events, 8) == [60, 120, 180, 240, 180, 210, 240, 270]


def test_discomfort_stops_the_rest_of_the_day_where_the_document_says_so() -> None:
    insoles = Wearer(protocol="s12")
    days = insoles.plan([*insoles.clear(1, 2), insoles.check(3, discomfort=True, at="10:00")], 4)
    assert days[2].stopped_at == insoles.at(3, "10:00")
    assert (days[3].target_minutes, codes(days[3])) == (180, ["rest_of_day"])


def test_a_table_that_ends_early_waits_for_a_clinician() -> None:
    ladder = Wearer(protocol="s02", full_wear=600)
    assert codes(ladder.last(ladder.clear(1, 2, 3, 4), 5)) == ["table_ends"]
