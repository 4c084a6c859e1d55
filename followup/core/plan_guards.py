"""What a wear plan may do and what it must not: each guard is a small function of its own."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from followup.core.plan_terms import PlanTerms
from followup.core.skin_check import Verdict

DISCOMFORT_AGAIN_WITHIN = timedelta(days=7)
MARK_AGAIN_WITHIN = timedelta(hours=48)
FULL_WEAR_CHECKS = 1
FULL_WEAR_CHECKS_WATCHED = 7
CHECKED_DAYS_AFTER_CHANGE = 3
SILENT_DAYS_ALLOWED = 1


def checks_at_full_wear(terms: PlanTerms) -> int:
    """How many clear days are wanted at full wear before no daily check is expected any more."""
    return FULL_WEAR_CHECKS_WATCHED if terms.watched else FULL_WEAR_CHECKS


def may_advance(verdict: Verdict, terms: PlanTerms) -> bool:
    """True after a clear check of the last worn step, for a wearer whom the program may raise."""
    return verdict is Verdict.CLEAR and terms.advances_itself


def may_reduce(terms: PlanTerms) -> bool:
    """False for a protective orthosis: only a clinician lowers or stops its wear."""
    return not terms.protective


def stops(verdict: Verdict) -> bool:
    """True for a finding after which nothing is worn until a clinician has spoken."""
    return verdict is Verdict.STOP


def silent_too_long(silent_days: int, terms: PlanTerms) -> bool:
    """True for more days in a row without a check than this wearer is allowed: one, or none where `watched`."""
    return silent_days > (0 if terms.watched else SILENT_DAYS_ALLOWED)


def may_be_silenced(terms: PlanTerms) -> bool:
    """False for those who are phoned instead: a protective orthosis, or nobody to stand safely without it."""
    return may_reduce(terms) and not terms.cannot_stand_alone


def twice_within_a_week(earlier_on: date | None, on: date) -> bool:
    """True for a second discomfort that a clinician must hear of."""
    return earlier_on is not None and timedelta(0) < abs(on - earlier_on) <= DISCOMFORT_AGAIN_WITHIN


def same_place_again(earlier: tuple[date, datetime], on: date, at: datetime) -> bool:
    """True for a mark at a place that had one on another day within 48 hours (by the look, not by the report)."""
    return earlier[0] != on and abs(at - earlier[1]) <= MARK_AGAIN_WITHIN
