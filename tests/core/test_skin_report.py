from __future__ import annotations

import pytest

from followup.core.finding import CANT_SAY, Answer
from followup.core.plan_event import CheckResult, SkinCheck
from followup.core.skin_report import found_mark, is_sore, skin_check_of
from followup.core.triage import Facts
from tests.builders import day, utc

AT = utc("2026-03-02 18:30")


def check(**findings: Answer) -> SkinCheck:
    found = skin_check_of(Facts(findings, mark_limit_minutes=20), day("2026-03-02"), AT)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("minutes", "result"),
    [(0, CheckResult.CLEAR), (20, CheckResult.CLEAR), (21, CheckResult.MARK), (CANT_SAY, CheckResult.CANNOT_SAY)],
)
def test_a_mark_is_clear_up_to_the_limit(minutes: Answer, result: CheckResult) -> None:
    assert check(mark_minutes=minutes).result is result


@pytest.mark.parametrize("sign", ["sore_or_broken", "skin_open", "blister", "black_skin"])
def test_broken_skin_outweighs_a_mark_that_went(sign: str) -> None:
    assert check(mark_minutes=0, **{sign: True}).result is CheckResult.SORE


def test_a_truth_value_is_no_number_of_minutes() -> None:
    assert check(mark_minutes=True).result is CheckResult.CANNOT_SAY


def test_only_words_about_the_skin_are_a_skin_check() -> None:
    assert skin_check_of(Facts({"fall": True}), day("2026-03-02"), AT) is None


def test_without_a_plan_day_there_is_no_skin_check() -> None:
    assert skin_check_of(Facts({"mark_minutes": 0}), None, AT) is None


@pytest.mark.parametrize(("pain", "discomfort"), [(3, False), (4, True), (CANT_SAY, False)])
def test_moderate_pain_is_discomfort(pain: Answer, discomfort: bool) -> None:
    assert check(mark_minutes=0, pain=pain).discomfort is discomfort


def test_worn_minutes_are_kept() -> None:
    assert check(mark_minutes=0, worn_minutes=50).worn_minutes == 50


@pytest.mark.parametrize(("minutes", "found"), [(0, False), (5, True), (CANT_SAY, True)])
def test_a_mark_nobody_can_time_is_a_mark(minutes: Answer, found: bool) -> None:
    assert found_mark({"mark_minutes": minutes}) is found


def test_cannot_say_whether_sore_is_not_sore_but_asked_again() -> None:
    assert not is_sore({"blister": CANT_SAY})
