"""The wear plan of one orthosis: recorded facts folded into days.

Each day is fixed at its issue instant from what was recorded before it. Facts recorded later move later days only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum

from followup.core.plan_course import Course, Decision
from followup.core.plan_event import PlanEvent, PlanInstruction, SkinCheck, TriageOutcome
from followup.core.plan_reason import Lead, Reason, ReasonCode
from followup.core.plan_terms import PlanTerms
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.skin_check import CLEAR, Judgement, judge
from followup.core.wear_day import (
    Basis,
    PlanState,
    SkinCheckTime,
    WearDay,
    WearPeriod,
    goal_from,
    issue_instant,
    lay_out,
    looks_after,
)
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import WearingGoal

__all__ = [
    "Assume",
    "Basis",
    "PlanProjection",
    "PlanState",
    "SkinCheckTime",
    "WearDay",
    "WearPeriod",
    "replay",
    "state_of",
]


class Assume(StrEnum):
    """What a projected day is taken to bring: a clear check, or none at all."""

    CLEAR = "clear"
    SILENT = "silent"


@dataclass(frozen=True, slots=True)
class PlanProjection:
    """Where a plan stands at one instant, for the projection row and for queries."""

    state: PlanState
    step: int
    day: int
    target_minutes: int
    at_full_wear: bool
    stopped_since: date | None
    silent_days: int


def replay(
    protocol: WearProtocol,
    goal: WearingGoal,
    precautions: frozenset[Precaution],
    without: WithoutOrthosis,
    delivered_on: date,
    events: Sequence[PlanEvent],
    as_of: datetime,
    days: int,
    assume: Assume = Assume.CLEAR,
    begins_at: datetime | None = None,
) -> tuple[WearDay, ...]:
    """The first `days` days of a plan as known at `as_of` (aware); day 1 is the local date `delivered_on`.

    Events recorded after `as_of` are not read; their order in `events` does not matter, and an id counts once. Days
    issued by `as_of` are recorded, later ones projected under `assume`. `begins_at`, where it is known, is when the
    orthosis was handed over: nothing is planned for before then. Linear in days and events.
    """
    terms = PlanTerms.of(protocol, goal, precautions, without)
    walk = _Walk(terms, delivered_on, as_of, assume, _known(events, as_of), begins_at)
    for number in range(days):
        walk.issue(number)
    walk.hear_until(issue_instant(delivered_on + timedelta(days=days), goal), days)
    return tuple(walk.days)


def state_of(days: Sequence[WearDay], as_of: datetime) -> PlanProjection:
    """Where the plan stands at `as_of`: the last day issued by then, or day 1 before any was."""
    day = max((each for each in days if each.issued_at <= as_of), key=lambda each: each.day, default=days[0])
    stopped = day.stopped_at is not None and day.stopped_at <= as_of
    return PlanProjection(
        state=PlanState.OFF if stopped else day.state,
        step=day.step,
        day=day.day,
        target_minutes=0 if stopped else day.target_minutes,
        at_full_wear=day.at_full_wear and not stopped,
        stopped_since=day.on if stopped else day.stopped_since,
        silent_days=day.silent_days,
    )


def moves_day(event: PlanEvent, issued_at: datetime) -> bool:
    """True where `event` was recorded in time to move the day issued at `issued_at`."""
    return event.recorded_at < issued_at


def _known(events: Sequence[PlanEvent], as_of: datetime) -> list[PlanEvent]:
    """Events recorded by `as_of`, once each, in the order they were recorded; at one instant findings come first."""
    once = {event.id: event for event in events if event.recorded_at <= as_of}
    return sorted(once.values(), key=lambda each: (each.recorded_at, isinstance(each.data, PlanInstruction), each.id))


@dataclass(slots=True)
class _Walk:
    """One pass over the days: hears the events recorded before each issue, then issues the day."""

    terms: PlanTerms
    delivered_on: date
    as_of: datetime
    assume: Assume
    events: list[PlanEvent]
    begins_at: datetime | None
    heard: int = 0
    days: list[WearDay] = field(default_factory=list)
    judged: dict[date, list[Judgement]] = field(default_factory=dict)
    course: Course = field(init=False)

    def __post_init__(self) -> None:
        self.course = Course(self.terms)

    def issue(self, number: int) -> None:
        on = self.delivered_on + timedelta(days=number)
        issued_at = issue_instant(on, self.terms.goal)
        self.hear_until(issued_at, number)
        if self.days:
            self.course.look_back(self.days[-1], self._judgements(issued_at))
        last = self.days[-1] if self.days else None
        self.days.append(_make_day(self.terms, on, issued_at, self.as_of, self.course.decide(on), last, self.begins_at))

    def hear_until(self, issued_at: datetime, number: int) -> None:
        """Take in every event that moves the day number `number` (from 0), issued at `issued_at`."""
        for event in self._next_events(issued_at):
            was_stopped = self.course.stop is not None
            self._hear(event, self.delivered_on + timedelta(days=number))
            if self.course.stop is not None and not was_stopped:
                self._stop_current_day(event.recorded_at)

    def _next_events(self, issued_at: datetime) -> Iterator[PlanEvent]:
        while self.heard < len(self.events) and moves_day(self.events[self.heard], issued_at):
            self.heard += 1
            yield self.events[self.heard - 1]

    def _hear(self, event: PlanEvent, issuing_on: date) -> None:
        match event.data:
            case SkinCheck() as check:
                self._hear_check(check, check.looked_at or event.occurred_at, issuing_on)
            case TriageOutcome() as outcome:
                self.course.hear_triage(outcome.instruction, issuing_on)
            case PlanInstruction() as instruction:
                self.course.hear_instruction(instruction, issuing_on)

    def _hear_check(self, check: SkinCheck, looked_at: datetime, issuing_on: date) -> None:
        day = self._day_on(check.plan_on)
        judgement = judge(check, looked_at, day, self.terms.mark_limit_minutes, self.terms.by_touch)
        self.judged.setdefault(check.plan_on, []).append(judgement)
        self.course.hear_check(judgement, check.plan_on, issuing_on)

    def _day_on(self, on: date) -> WearDay | None:
        index = (on - self.delivered_on).days
        return self.days[index] if 0 <= index < len(self.days) else None

    def _stop_current_day(self, at: datetime) -> None:
        if self.days and self.days[-1].target_minutes and self.days[-1].stopped_at is None:
            self.days[-1] = self.days[-1]._replace(stopped_at=at)

    def _judgements(self, issued_at: datetime) -> list[Judgement]:
        """The checks of the last day issued; those still to come by `issued_at` are assumed."""
        found = self.judged.get(self.days[-1].on, [])
        assumed = issued_at > self.as_of and self.assume is Assume.CLEAR and self.days[-1].target_minutes
        return [*found, CLEAR] if assumed else found


def _make_day(
    terms: PlanTerms,
    on: date,
    issued_at: datetime,
    as_of: datetime,
    decision: Decision,
    last: WearDay | None,
    begins_at: datetime | None,
) -> WearDay:
    limit = terms.mark_limit_minutes
    off = decision.state is PlanState.OFF
    wanted = 0 if off else terms.target(decision.step)
    goal = goal_from(terms.goal, on, begins_at) if begins_at and last is None else terms.goal
    periods = lay_out(on, terms.ladder[decision.step - 1], wanted, limit, goal) if goal else ()
    target = sum(each.minutes for each in periods)
    return WearDay(
        day=last.day + 1 if last else 1,
        on=on,
        issued_at=issued_at,
        basis=Basis.RECORDED if issued_at <= as_of else Basis.PROJECTED,
        state=decision.state,
        step=decision.step,
        target_minutes=target,
        range_minutes=(0, 0) if off else terms.protocol.step_range(decision.step, terms.goal.full_wear_minutes),
        instruction=decision.instruction,
        reasons=_reasons(decision.reason, _lead(decision.state, target, last), target, wanted),
        periods=periods,
        checks=looks_after(periods, limit, terms.protocol.looks),
        at_full_wear=not off and decision.step == terms.top,
        silent_days=decision.silent_days,
        stopped_since=decision.stopped_since,
    )


def _reasons(reason: Reason, lead: Lead, target: int, wanted: int) -> tuple[Reason, ...]:
    first = replace(reason, lead=lead, target_minutes=target)
    if target == wanted:
        return (first,)
    return first, Reason(ReasonCode.WINDOW_TOO_SHORT, lead, target, minutes=target)


def _lead(state: PlanState, target: int, last: WearDay | None) -> Lead:
    if state in _LEADS:
        return _LEADS[state]
    if last is None:
        return Lead.FIRST
    if not last.target_minutes:
        return Lead.TODAY
    if target == last.target_minutes:
        return Lead.SAME
    return Lead.MORE if target > last.target_minutes else Lead.LESS


_LEADS = {PlanState.OFF: Lead.OFF, PlanState.LEAVE_ON: Lead.LEAVE_ON}
