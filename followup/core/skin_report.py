"""What a report says about the skin: the check it stands for in the plan, and findings derived from earlier reports."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from followup.core.finding import CANT_SAY, Answer
from followup.core.plan_event import CheckResult, SkinCheck
from followup.core.triage import Facts

SAME_PLACE_WITHIN = timedelta(hours=48)
BROKEN = ("skin_open", "blister", "black_skin")
SORE = ("sore_or_broken", *BROKEN)
DISCOMFORT_PAIN = 4
"""Pain of 4 to 6 of 10 is moderate (0 to 10 numeric rating); below it an early ache is expected."""


@dataclass(frozen=True, slots=True)
class EarlierMark:
    """A mark reported before, with its place on the leg."""

    at: datetime
    place: str


def found_mark(findings: Mapping[str, Answer]) -> bool:
    """True if a mark, or something worse, was seen."""
    minutes = findings.get("mark_minutes")
    return (isinstance(minutes, int) and minutes > 0) or minutes == CANT_SAY or is_sore(findings)


def is_sore(findings: Mapping[str, Answer]) -> bool:
    """True if the skin is said to be sore or broken."""
    return any(findings.get(name) is True for name in SORE)


def repeats_at(place: str | None, earlier: Sequence[EarlierMark], at: datetime) -> int:
    """How many marks were reported at the same place within the 48 hours before, this one not counted."""
    return sum(1 for mark in earlier if mark.place == place and timedelta() < at - mark.at <= SAME_PLACE_WITHIN)


def skin_check_of(facts: Facts, plan_on: date | None, at: datetime, by_touch: bool | None = None) -> SkinCheck | None:
    """The skin check a finished report stands for, or None if it says nothing about the skin."""
    findings = facts.findings
    if plan_on is None or not _speaks_of_skin(findings):
        return None
    minutes, worn = findings.get("mark_minutes"), findings.get("worn_minutes")
    pain = findings.get("pain")
    return SkinCheck(
        plan_on=plan_on,
        result=_result(facts),
        mark_minutes=minutes if isinstance(minutes, int) else None,
        worn_minutes=worn if isinstance(worn, int) else None,
        broken=any(findings.get(name) is True for name in BROKEN),
        discomfort=isinstance(pain, int) and pain >= DISCOMFORT_PAIN,
        looked_at=at,
        by_touch=by_touch,
    )


def _speaks_of_skin(findings: Mapping[str, Answer]) -> bool:
    return "mark_minutes" in findings or is_sore(findings)


def _result(facts: Facts) -> CheckResult:
    minutes = facts.findings.get("mark_minutes")
    if is_sore(facts.findings):
        return CheckResult.SORE
    if not isinstance(minutes, int) or isinstance(minutes, bool):
        return CheckResult.CANNOT_SAY
    return CheckResult.CLEAR if minutes <= facts.mark_limit_minutes else CheckResult.MARK
