"""Why each day of a plan is what it is: what was heard, what it rests on, and what would raise it tomorrow.

Nothing is judged here a second time: the plan is replayed, the replay keeps what it heard, and "tomorrow" is the same
replay once more with a clear check added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from itertools import pairwise

from followup.core.plan_event import CheckResult, EventType, PlanEvent, SkinCheck
from followup.core.plan_reason import Reason
from followup.core.plan_terms import PlanTerms
from followup.core.plan_trace import Heard, PlanTrace
from followup.core.reason_basis import BASES, Basis
from followup.core.skin_check import WORN_ENOUGH_PERCENT
from followup.core.wear_day import Basis as Known
from followup.core.wear_day import PlanState, WearDay
from followup.core.wear_plan import Assume, PlanFacts, replay

JUST_BEFORE = timedelta(microseconds=1)


class RaisedBy(StrEnum):
    """What can raise the next day: a clear check of this one, a clinician only, or nothing (full wear, or the end)."""

    CLEAR_CHECK = "clear_check"
    CLINICIAN = "clinician"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Raise:
    """What would raise the next day, and to how many minutes.

    For a clear check: looked at from `looked_from` on, with `worn_minutes` worn at least, and `by_touch` as well. Else
    `why_not` is why a clear check would not do it.
    """

    by: RaisedBy
    to_minutes: int = 0
    looked_from: datetime | None = None
    worn_minutes: int = 0
    by_touch: bool = False
    why_not: Reason | None = None


@dataclass(frozen=True, slots=True)
class DayExplanation:
    """One day and what it rests on.

    `heard` is what was taken in since the day before was issued; with `assumed` a clear check of that day as well.
    `bases` belong to the day's reasons, one each.
    `step_minutes` is what the step asks for; where the day has less, its reasons say why.
    """

    day: WearDay
    terms: PlanTerms
    heard: tuple[Heard, ...]
    assumed: bool
    bases: tuple[Basis, ...]
    tomorrow: Raise

    @property
    def step_minutes(self) -> int:
        """What the step of the ladder asks for on this day."""
        return self.terms.target(self.day.step)

    @property
    def is_less_than_its_step(self) -> bool:
        """True where the day has fewer minutes than its step, be it that it is off or that they do not fit."""
        return self.day.target_minutes < self.step_minutes


def explain(facts: PlanFacts, as_of: datetime, days: int, assume: Assume = Assume.CLEAR) -> tuple[DayExplanation, ...]:
    """Each of the days that `replay` gives for the same facts, explained. Each known day costs one more replay."""
    trace = PlanTrace()
    shown = _replay(facts, as_of, days + 1, assume, trace)
    heard = _heard_by_day(trace.heard)
    return tuple(
        DayExplanation(
            day,
            terms,
            heard.get(day.on, ()),
            assume is Assume.CLEAR and day.basis is Known.PROJECTED and day.day > 1,
            tuple(BASES[reason.code] for reason in day.reasons),
            _tomorrow(facts, day, following, terms, assume),
        )
        for (day, following), terms in zip(pairwise(shown), trace.terms, strict=False)
    )


def _replay(
    facts: PlanFacts, as_of: datetime, days: int, assume: Assume, trace: PlanTrace | None = None
) -> tuple[WearDay, ...]:
    return replay(
        facts.protocol,
        facts.goal,
        facts.precautions,
        facts.without,
        facts.delivered_on,
        facts.events,
        as_of,
        days,
        assume,
        facts.begins_at,
        facts.protocols,
        trace,
    )


def _heard_by_day(heard: Sequence[Heard]) -> dict[date, tuple[Heard, ...]]:
    days: dict[date, tuple[Heard, ...]] = {}
    for each in heard:
        days[each.issuing_on] = (*days.get(each.issuing_on, ()), each)
    return days


def _tomorrow(facts: PlanFacts, day: WearDay, following: WearDay, terms: PlanTerms, assume: Assume) -> Raise:
    """What the plan makes of a clear check of `day`, as things were known when it was issued."""
    if day.state is PlanState.ENDED:
        return Raise(RaisedBy.NOTHING, why_not=day.reasons[0])
    assumed = day.basis is Known.PROJECTED and assume is Assume.CLEAR
    after = following if assumed else _after_a_clear_check(facts, day, following.issued_at, terms)
    if after.step > day.step or after.target_minutes > day.target_minutes:
        return Raise(RaisedBy.CLEAR_CHECK, after.target_minutes, *_wanted_of(day, terms))
    by = RaisedBy.NOTHING if day.at_full_wear else RaisedBy.CLINICIAN
    return Raise(by, after.target_minutes, why_not=after.reasons[0])


def _after_a_clear_check(facts: PlanFacts, day: WearDay, next_issued_at: datetime, terms: PlanTerms) -> WearDay:
    """The next day, were nothing heard of this one but clear skin, felt by hand when the last look was due."""
    looked_at = day.periods[-1].off_at + timedelta(minutes=terms.mark_limit_minutes) if day.periods else day.issued_at
    check = SkinCheck(day.on, CheckResult.CLEAR, looked_at=looked_at, by_touch=True)
    clear = PlanEvent("", EventType.SKIN_CHECK, looked_at, next_issued_at - JUST_BEFORE, check)
    known = [event for event in facts.events if event.recorded_at < day.issued_at]
    return _replay(replace(facts, events=[*known, clear]), next_issued_at, day.day + 1, Assume.SILENT)[-1]


def _wanted_of(day: WearDay, terms: PlanTerms) -> tuple[datetime | None, int, bool]:
    """From when a clear look counts, how much must have been worn, and whether the skin is felt as well."""
    if not day.periods:
        return None, 0, False
    wait = terms.mark_limit_minutes if terms.by_touch else 0
    worn = -(-day.target_minutes * WORN_ENOUGH_PERCENT // 100)
    return day.periods[-1].off_at + timedelta(minutes=wait), worn, terms.by_touch
