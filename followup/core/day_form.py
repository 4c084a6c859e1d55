"""What a day is to look like, whatever its date: minutes, periods, looks, words. Made once and used again."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import NamedTuple

from followup.core.plan_course import Decision
from followup.core.plan_reason import Lead, Reason, ReasonCode
from followup.core.plan_terms import PlanTerms
from followup.core.urgency import WearInstruction
from followup.core.wear_day import (
    DayTimes,
    PlanState,
    SkinCheckTime,
    WearPeriod,
    day_times,
    lay_out,
    local_instant,
    looks_after,
)
from followup.core.wearing_goal import WearingGoal

ONE_DAY = timedelta(days=1)
NOTHING_WORN = frozenset({PlanState.OFF, PlanState.AWAY, PlanState.ENDED})
MOST_FORMS = 5_000


class DayForm(NamedTuple):
    """A day without its date. `wanted` are the minutes its step asks for, `pause` the shortest break after it."""

    state: PlanState
    step: int
    target_minutes: int
    range_minutes: tuple[int, int]
    instruction: WearInstruction
    reasons: tuple[Reason, ...]
    times: DayTimes
    at_full_wear: bool
    wanted: int
    pause: timedelta
    last_minutes: int | None
    every_minutes: int | None


def form_of(
    terms: PlanTerms,
    decision: Decision,
    last_minutes: int | None,
    every_minutes: int | None,
    weekday: int,
    at_most: int | None = None,
    break_minutes: int = 0,
) -> DayForm:
    """The day a decision makes. `last_minutes` is what the day before had, None before the first."""
    weekday = weekday if terms.goal.fixed_points else 0
    state, step, reason, _, _, rests = decision
    key = (state, step, reason, rests, last_minutes, every_minutes, weekday, at_most, break_minutes)
    form = terms.forms.get(key)
    if form is None:
        if len(terms.forms) > MOST_FORMS:
            terms.forms.clear()
        form = terms.forms[key] = _make(terms, decision, last_minutes, every_minutes, weekday, at_most, break_minutes)
    return form


def form_on(
    on: date, form: DayForm, terms: PlanTerms, goal: WearingGoal, not_before: datetime | None
) -> tuple[DayForm, tuple[WearPeriod, ...], tuple[SkinCheckTime, ...]]:
    """The form as it fits one date: where the clock changes, or where it cannot begin before `not_before`."""
    limit = int(form.pause.total_seconds() // 60)
    periods = lay_out(on, terms.ladder[form.step - 1], form.wanted, limit, goal, not_before)
    closes_on = on if goal.window_start < goal.window_end else on + ONE_DAY
    awake_until = local_instant(closes_on, goal.window_end, goal)
    checks = looks_after(periods, terms.mark_limit_minutes, terms.looks, form.every_minutes, awake_until)
    target = sum(each.minutes for each in periods)
    if target == form.target_minutes:
        return form, periods, checks
    reasons = _reasons(form.reasons[0], form.state, target, form.wanted, form.last_minutes)
    return form._replace(target_minutes=target, reasons=reasons), periods, checks


def _make(
    terms: PlanTerms,
    decision: Decision,
    last_minutes: int | None,
    every_minutes: int | None,
    weekday: int,
    at_most: int | None,
    break_minutes: int,
) -> DayForm:
    state, step = decision.state, decision.step
    worn = state not in NOTHING_WORN and not decision.rests
    wanted = min(terms.target(step), terms.target(step) if at_most is None else at_most) if worn else 0
    limit = max(terms.mark_limit_minutes, break_minutes)
    times = day_times(terms.ladder[step - 1], wanted, limit, terms.goal, terms.looks, every_minutes, weekday)
    return DayForm(
        state=state,
        step=step,
        target_minutes=times.target_minutes,
        range_minutes=terms.range(step) if worn else (0, 0),
        instruction=INSTRUCTIONS[PlanState.LEAVE_ON if terms.protective and state in NOTHING_WORN else state],
        reasons=_reasons(decision.reason, state, times.target_minutes, wanted, last_minutes),
        times=times,
        at_full_wear=worn and step == terms.top,
        wanted=wanted,
        pause=timedelta(minutes=limit),
        last_minutes=last_minutes,
        every_minutes=every_minutes,
    )


def _reasons(
    reason: Reason, state: PlanState, target: int, wanted: int, last_minutes: int | None
) -> tuple[Reason, ...]:
    lead = _lead(state, target, last_minutes)
    first = reason._replace(lead=lead, target_minutes=target)
    if target == wanted:
        return (first,)
    return first, Reason(ReasonCode.WINDOW_TOO_SHORT, lead, target, minutes=target)


def _lead(state: PlanState, target: int, last_minutes: int | None) -> Lead:
    if state in _LEADS:
        return _LEADS[state]
    if not target:
        return Lead.NONE
    if last_minutes is None:
        return Lead.FIRST
    if not last_minutes:
        return Lead.TODAY
    if target == last_minutes:
        return Lead.SAME
    return Lead.MORE if target > last_minutes else Lead.LESS


_LEADS = {
    PlanState.OFF: Lead.OFF,
    PlanState.LEAVE_ON: Lead.LEAVE_ON,
    PlanState.AWAY: Lead.NONE,
    PlanState.ENDED: Lead.NONE,
}
INSTRUCTIONS = {
    PlanState.WEARING: WearInstruction.AS_PLANNED,
    PlanState.FULL_WEAR: WearInstruction.AS_PLANNED,
    PlanState.SAME_TIME: WearInstruction.SAME_TIME_AGAIN,
    PlanState.SHORTER: WearInstruction.SHORTER_TIME,
    PlanState.OFF: WearInstruction.OFF_UNTIL_WE_SPEAK,
    PlanState.LEAVE_ON: WearInstruction.LEAVE_ON_AS_ORDERED,
    PlanState.AWAY: WearInstruction.OFF_UNTIL_WE_SPEAK,
    PlanState.ENDED: WearInstruction.AS_PLANNED,
}
