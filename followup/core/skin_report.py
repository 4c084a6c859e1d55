"""What a report says about the skin: the check it stands for in the plan, and findings derived from earlier reports."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from followup.core.derived_findings import DERIVED
from followup.core.finding import CANT_SAY, Answer
from followup.core.plan_event import CheckResult, Complaint, SkinCheck
from followup.core.triage import Facts

BROKEN = ("skin_open", "blister", "black_skin")
SORE = ("sore_or_broken", *BROKEN)
ABOUT_SKIN = frozenset({"mark_minutes", "worn_minutes", "silent_days", *DERIVED, *SORE})
DISCOMFORT_PAIN = 4
"""Pain of 4 to 6 of 10 is moderate (0 to 10 numeric rating); below it an early ache is expected."""


def found_mark(findings: Mapping[str, Answer]) -> bool:
    """True if a mark, or something worse, was seen."""
    minutes = findings.get("mark_minutes")
    return (isinstance(minutes, int) and minutes > 0) or minutes == CANT_SAY or is_sore(findings)


def is_sore(findings: Mapping[str, Answer]) -> bool:
    """True if the skin is said to be sore or broken."""
    return any(findings.get(name) is True for name in SORE)


def skin_check_of(
    facts: Facts, plan_on: date | None, at: datetime, by_touch: bool | None = None, place: str | None = None
) -> SkinCheck | None:
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
        place=_known(place) if found_mark(findings) else None,
    )


def complaint_of(facts: Facts, best: Mapping[str, Answer], plan_on: date | None, place: str | None) -> Complaint | None:
    """What a finished report complains of beside marks on the skin, or None; `best` is the best answer of each finding.

    What nobody could say is no complaint; triage judges it all the same.
    """
    named = sorted(
        id
        for id, value in facts.findings.items()
        if id in best and id not in ABOUT_SKIN and value not in (best[id], CANT_SAY)
    )
    return Complaint(plan_on, " ".join(named), _known(place)) if plan_on is not None and named else None


def _known(place: str | None) -> str | None:
    return None if place == CANT_SAY else place


def _speaks_of_skin(findings: Mapping[str, Answer]) -> bool:
    return "mark_minutes" in findings or is_sore(findings)


def _result(facts: Facts) -> CheckResult:
    minutes = facts.findings.get("mark_minutes")
    if is_sore(facts.findings):
        return CheckResult.SORE
    if not isinstance(minutes, int) or isinstance(minutes, bool):
        return CheckResult.CANNOT_SAY
    return CheckResult.CLEAR if minutes <= facts.mark_limit_minutes else CheckResult.MARK
