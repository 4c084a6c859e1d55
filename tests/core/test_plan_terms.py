"""What precautions ask of a plan: steps, marks, looks, and who may raise or lower it; each with its source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from followup.clinical.load_protocols import find_protocol
from followup.core.plan_event import ClinicianDecision, DecisionKind
from followup.core.plan_terms import LadderRung, PlanTerms, take_in_two
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.step_shape import StepShape, WearStep
from followup.core.wear_protocol import LookKind
from followup.core.wearing_goal import RangeEnd, WearingGoal

GOAL = WearingGoal(ZoneInfo("Europe/Madrid"))
HIGH = replace(GOAL, range_end=RangeEnd.HIGH)
SLOWED = "fragile_skin", "changing_oedema", "poor_circulation", "spasticity", "anticoagulant", "old_ulcer"


def terms(
    protocol: str, *precautions: str, goal: WearingGoal = GOAL, without: str = "walks", decided: int | None = None
) -> PlanTerms:
    present = frozenset(map(Precaution, precautions))
    return PlanTerms.of(find_protocol(protocol), goal, present, WithoutOrthosis(without), decisions(decided))


def decisions(minutes: int | None) -> tuple[ClinicianDecision, ...]:
    if minutes is None:
        return ()
    return (ClinicianDecision(DecisionKind.MARK_LIMIT, date(2026, 3, 2), "thick skin", "ruiz", minutes),)


def test_without_a_precaution_the_ladder_is_as_published() -> None:
    """S01: day 1 30; day 2 60; day 3 60 to 120; day 4 120; day 5 180; then 60 more a day."""
    assert terms("s01").targets == (30, 60, 60, 120, 180, 240, 300, 360, 420, 480)
    assert all(terms("s01").published)


@pytest.mark.parametrize("precaution", SLOWED)
def test_skin_swelling_circulation_and_spasticity_slow_a_plan(precaution: str) -> None:
    """The 2009 statement on AFO after stroke; anticoagulants and scarred skin from memory. Halves: common practice."""
    assert terms("s01", precaution).targets[:8] == (30, 45, 60, 60, 90, 120, 150, 180)


def test_a_foot_without_feeling_takes_each_growth_in_two() -> None:
    """S13, S15: an insensate foot, smaller steps. S04 grows by 15: 30, then 37 rounded down to 35."""
    assert terms("s04", "reduced_sensation").targets[:5] == (30, 35, 45, 50, 60)


def test_a_half_step_ends_where_the_step_it_leads_to_ends() -> None:
    """S01, day 3: 60 to 120, and day 4: 120."""
    slowed = terms("s01", "fragile_skin")
    assert (slowed.range(3), slowed.range(4), slowed.range(5)) == ((60, 60), (60, 120), (90, 120))
    assert (slowed.published[1], slowed.published[2]) == (False, True)


def test_flat_repeats_are_not_split() -> None:
    """S13: 30 every day for a week; its growth of 30 is split where the wearer bruises easily."""
    assert terms("s13", "anticoagulant").targets[:9] == (30, 30, 30, 30, 30, 30, 30, 45, 60)


def test_two_reasons_to_go_slowly_halve_once() -> None:
    assert terms("s01", "fragile_skin", "spasticity").targets == terms("s01", "spasticity").targets


def test_the_high_end_of_a_range_is_halved_too() -> None:
    """S01, high end: 30, 60, 120 (day 3: 60 to 120), 120, 180."""
    assert terms("s01", "fragile_skin", goal=HIGH).targets[:7] == (30, 45, 60, 90, 120, 120, 150)


@pytest.mark.parametrize("precaution", ["reduced_sensation", "poor_circulation"])
def test_a_protocol_written_for_a_precaution_is_not_slowed_by_it_again(precaution: str) -> None:
    """S13 is written with reduced feeling or circulation in mind."""
    assert terms("s13", precaution).targets == terms("s13").targets
    assert terms("s13", precaution, "fragile_skin").targets != terms("s13").targets


def test_a_protective_orthosis_is_never_slowed() -> None:
    """S18; derived: fewer minutes than ordered would be less protection."""
    kept = terms("s01", "protective", "reduced_sensation")
    assert kept.targets == terms("s01").targets
    assert (kept.protective, kept.by_touch) == (True, True)


def test_between_two_shapes_of_a_day_the_lower_step_is_taken_once_more() -> None:
    once, all_day = WearStep(60, 60), WearStep(600, 600, StepShape(nights=True))
    rungs = take_in_two((LadderRung(once, 60), LadderRung(all_day, 600)), RangeEnd.LOW)
    assert [(rung.step, rung.minutes) for rung in rungs] == [(once, 60), (once, 60), (all_day, 600)]


def test_no_step_falls_and_none_passes_its_published_end() -> None:
    for precautions in ((), *((each,) for each in Precaution)):
        for goal in (GOAL, HIGH):
            made = terms("s01", *precautions, goal=goal)
            assert list(made.targets) == sorted(made.targets)
            assert all(low <= now <= high for now, (low, high) in zip(made.targets, made.ranges, strict=True))


@pytest.mark.parametrize("precaution", ["diabetes", "reduced_sensation"])
def test_a_mark_may_not_last_over_30_minutes_without_feeling_or_with_diabetes(precaution: str) -> None:
    """East Lancashire Hospitals, Diabetes and orthotics: 30; without feeling derived. S01 alone allows 40."""
    assert (terms("s01").mark_limit_minutes, terms("s01", precaution).mark_limit_minutes) == (40, 30)
    assert terms("s04", precaution).mark_limit_minutes == 20


@pytest.mark.parametrize(("decided", "limit"), [(35, 35), (40, 40), (60, 40), (25, 25)])
def test_a_recorded_decision_raises_the_limit_to_the_published_one_at_most(decided: int, limit: int) -> None:
    assert terms("s01", "diabetes", decided=decided).mark_limit_minutes == limit


def test_the_newest_decision_on_the_limit_holds() -> None:
    two = decisions(40) + decisions(32)
    present = frozenset({Precaution.DIABETES})
    assert PlanTerms.of(find_protocol("s01"), GOAL, present, WithoutOrthosis.WALKS, two).mark_limit_minutes == 32


@pytest.mark.parametrize("precaution", ["reduced_sensation", "cannot_report"])
def test_both_looks_whatever_the_protocol_says(precaution: str) -> None:
    """S13, S15: more checks without feeling. Black 2013: who cannot report has the highest risk."""
    once = replace(find_protocol("s01"), looks=(LookKind.REMOVAL,))
    made = PlanTerms.of(once, GOAL, frozenset({Precaution(precaution)}), WithoutOrthosis.WALKS)
    assert made.looks == (LookKind.REMOVAL, LookKind.AFTER_LIMIT)
    assert PlanTerms.of(once, GOAL, frozenset(), WithoutOrthosis.WALKS).looks == (LookKind.REMOVAL,)


def test_a_foot_without_feeling_is_felt_by_hand() -> None:
    """S15: look and touch where sensation is poor."""
    assert (terms("s01").by_touch, terms("s01", "reduced_sensation").by_touch) == (False, True)


@pytest.mark.parametrize(("day", "minutes"), [(1, 30), (3, 30), (4, 60), (7, 60), (8, None), (400, None)])
def test_a_child_is_looked_at_every_30_to_60_minutes_at_first(day: int, minutes: int | None) -> None:
    """Great Ormond Street Hospital; what "at first" is in days is common practice, no source."""
    assert terms("s01", "child").look_every_minutes(day) == minutes
    assert terms("s01").look_every_minutes(day) is None


@pytest.mark.parametrize("precaution", ["cannot_see_or_reach_foot", "cannot_report"])
def test_somebody_is_named_who_looks_at_the_skin(precaution: str) -> None:
    """S14: ask someone to check if you cannot reach or see. Black 2013: a carer checks."""
    assert (terms("s01").needs_named_checker, terms("s01", precaution).needs_named_checker) == (False, True)


def test_who_cannot_report_is_raised_by_a_clinician_only() -> None:
    """Black 2013; derived."""
    assert (terms("s01").advances_itself, terms("s01", "cannot_report").advances_itself) == (True, False)


@pytest.mark.parametrize(("precaution", "watched"), [("reduced_sensation", 1), ("cannot_report", 1), ("child", 1)])
def test_those_at_highest_risk_are_watched(precaution: str, watched: int) -> None:
    """Black 2013; Great Ormond Street Hospital for a child."""
    assert terms("s01", precaution).watched == bool(watched)
    assert not terms("s01", "diabetes", "spasticity").watched


def test_the_step_down_is_the_nearest_one_with_less_time() -> None:
    assert [terms("s01").step_down(step) for step in (1, 2, 3, 4)] == [1, 1, 1, 3]


@pytest.mark.parametrize(("minutes", "step"), [(20, 1), (30, 1), (60, 3), (119, 3), (480, 10), (900, 10)])
def test_the_highest_step_within_some_minutes(minutes: int, step: int) -> None:
    assert terms("s01").highest_step_within(minutes) == step


def test_the_program_reaches_full_wear_where_the_protocol_goes_there() -> None:
    slowed = terms("s01", "fragile_skin")
    assert (slowed.own_top, slowed.top, slowed.target(slowed.top)) == (len(slowed.ladder), len(slowed.ladder), 480)


def test_the_same_arguments_give_the_same_terms_object() -> None:
    assert terms("s01", "child") is terms("s01", "child")


def test_the_rules_in_force_say_where_they_come_from() -> None:
    told = {(rule.id, rule.source_key) for rule in terms("s01", "cannot_see_or_reach_foot", "anticoagulant").rules}
    assert told == {("checker_out_of_sight", "S14"), ("smaller_steps_thin_skin", "memory_thin_skin")}


def test_another_set_of_rules_gives_another_digest() -> None:
    s01 = find_protocol("s01")
    later = replace(s01.tightening[0], effective_on=s01.effective_on + timedelta(days=1))
    assert replace(s01, tightening=(later, *s01.tightening[1:])).digest != s01.digest
