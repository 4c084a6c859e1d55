"""One pass over the days of a plan: what was recorded before an issue is heard, then the day is decided and issued."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from followup.core.day_form import form_of, form_on
from followup.core.day_layout import TO_ANSWER
from followup.core.goal_in_force import changed_goal
from followup.core.plan_course import Course, Decision
from followup.core.plan_event import (
    Away,
    Back,
    ClinicianDecision,
    Complaint,
    GoalChange,
    OrthosisChanged,
    PlanEnd,
    PlanEvent,
    PlanInstruction,
    ProtocolChange,
    SkinCheck,
    TriageOutcome,
    ZoneChange,
)
from followup.core.plan_guards import may_reduce
from followup.core.plan_reason import ReasonCode
from followup.core.plan_rest import Change
from followup.core.plan_terms import PlanTerms
from followup.core.plan_trace import Heard, PlanTrace
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.skin_check import CLEAR, Judgement, judge, left_mark
from followup.core.wear_day import Basis, WearDay, local_days, ready_at
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import WearingGoal
from followup.errors import UnknownId

ONE_DAY, ONE_MINUTE = timedelta(days=1), timedelta(minutes=1)
TO_ANSWER_AFTER = timedelta(minutes=TO_ANSWER)


class Assume(StrEnum):
    """What a projected day is taken to bring: a clear check, or none at all."""

    CLEAR = "clear"
    SILENT = "silent"


@dataclass(frozen=True)
class PlanFacts:
    """What one plan is made of; see `wear_plan.replay`."""

    protocol: WearProtocol
    goal: WearingGoal
    precautions: frozenset[Precaution]
    without: WithoutOrthosis
    delivered_on: date
    events: Sequence[PlanEvent]
    begins_at: datetime | None = None
    protocols: Mapping[str, WearProtocol] = field(default_factory=dict)


class PlanWalk:
    """The walk through one plan. `decide` and `issue` take turns, a day at a time."""

    def __init__(
        self, facts: PlanFacts, as_of: datetime, assume: Assume, count: int, trace: PlanTrace | None = None
    ) -> None:
        self.facts, self.as_of, self.assume, self.count, self.trace = facts, as_of, assume, count, trace
        self.protocol, self.goal = facts.protocol, facts.goal
        self.decisions: tuple[ClinicianDecision, ...] = ()
        self.days: list[WearDay] = []
        self.judged: dict[date, list[Judgement]] = {}
        self.course = Course(self._terms())
        self._events = _known(facts.events, as_of)
        self._heard = 0
        self._calendar = local_days(facts.delivered_on, count + 1, self.goal)
        self._issued_at = self._calendar[0].issued_at
        self._free_at: datetime | None = None
        if facts.begins_at is not None:
            self._free_at = ready_at(facts.begins_at, self.goal.zone)
        self._worn_days = 0

    def decide(self) -> Decision:
        """Hear what was recorded before the next day is issued, and say what that day is to be."""
        on, due_at, _ = self._calendar[len(self.days)]
        self._issued_at = self._issue_after(due_at)
        self._hear_until(self._issued_at, on)
        course = self.course
        if self.days:
            last = self.days[-1]
            found = self.judged.get(last.on, [])
            if self._issued_at > self.as_of and last.target_minutes and self.assume is Assume.CLEAR:
                found = [*found, CLEAR]
            if last.target_minutes or not _rested(last):
                course.look_back(last, found)
        if course.changes or course.slowed:
            self._obey_changes(on)
        return course.decide(on)

    def issue(self, decision: Decision, at_most: int | None = None, break_minutes: int = 0) -> None:
        """Fix the next day; with another orthosis in step it has `at_most` so many minutes, with that break between."""
        day = self._calendar[len(self.days)]
        terms = self.course.terms
        last = self.days[-1].target_minutes if self.days else None
        every = terms.look_every_minutes(self._worn_days + 1) if terms.looks_while_on else None
        form = form_of(terms, decision, last, every, day.on.weekday(), at_most, break_minutes)
        periods, checks = form.times.after(day.midnight) if day.midnight is not None else ((), ())
        if form.wanted and (day.midnight is None or self._is_too_early(periods)):
            form, periods, checks = form_on(day.on, form, terms, self.goal, self._free_at)
        issued_at = self._issued_at
        self.days.append(
            # Made as a bare tuple of its class, like its periods: a plan has many days and many are replayed.
            tuple.__new__(
                WearDay,
                (
                    len(self.days) + 1,
                    day.on,
                    issued_at,
                    Basis.RECORDED if issued_at <= self.as_of else Basis.PROJECTED,
                    form.state,
                    form.step,
                    form.target_minutes,
                    form.range_minutes,
                    form.instruction,
                    form.reasons,
                    periods,
                    checks,
                    form.at_full_wear,
                    decision.silent_days,
                    decision.stopped_since,
                    None,
                ),
            )
        )
        if periods:
            self._worn_days += 1
            self._free_at = periods[-1].off_at + form.pause
        if self.trace is not None:
            self.trace.terms.append(terms)

    def hear_the_rest(self) -> None:
        """Take in what was recorded up to the issue of the day after the last one; it may stop that last day."""
        on, due_at, _ = self._calendar[len(self.days)]
        self._hear_until(self._issue_after(due_at), on)

    def _is_too_early(self, periods: Sequence[Any]) -> bool:
        return self._free_at is not None and bool(periods) and periods[0].on_at < self._free_at

    def _issue_after(self, due_at: datetime) -> datetime:
        """When a day due at `due_at` is issued: once it is handed over, and the last look of the day before is told."""
        if not self.days:
            begins_at = self.facts.begins_at
            return due_at if begins_at is None or begins_at <= due_at else begins_at
        last = self.days[-1]
        over_at = last.checks[-1].at if last.checks else last.issued_at
        answered_at = over_at + TO_ANSWER_AFTER
        if answered_at <= due_at:
            return due_at
        issued_at = max(answered_at, last.issued_at + ONE_MINUTE)
        self._free_at = max(self._free_at or issued_at, issued_at)
        return issued_at

    def _hear_until(self, issued_at: datetime, issuing_on: date) -> None:
        """Take in every event that moves the day issued at `issued_at`; day 1 also what staff said at the start."""
        events, begins_at = self._events, None if self.days else self.facts.begins_at
        while self._heard < len(events):
            event = events[self._heard]
            said_at_start = event.recorded_at == begins_at and _RANK.get(type(event.data), CHANGE) >= CHANGE
            if event.recorded_at >= issued_at and not said_at_start:
                return
            self._heard += 1
            stopped = self.course.stop
            judgement = _HEAR[type(event.data)](self, event, event.data, issuing_on)
            if self.course.stop is not stopped and stopped is None:
                self._stop_current_day(event.recorded_at)
            if self.trace is not None:
                self.trace.heard.append(Heard(event, issuing_on, judgement))

    def _hear_check(self, event: PlanEvent, check: SkinCheck, issuing_on: date) -> Judgement:
        looked_at, plan_on = check.looked_at or event.occurred_at, check.plan_on
        terms, index = self.course.terms, (plan_on - self.facts.delivered_on).days
        day = self.days[index] if 0 <= index < len(self.days) else None
        found = judge(check, looked_at, day, terms.mark_limit_minutes, terms.by_touch)
        found = self.course.hear_check(found, plan_on, issuing_on)
        if check.place is not None and left_mark(check):
            self.course.hear_mark(check.place, plan_on, looked_at)
        if found.reason.code is ReasonCode.REST_OF_DAY and plan_on + ONE_DAY == issuing_on and may_reduce(terms):
            self._stop_current_day(event.recorded_at)
        self.judged.setdefault(plan_on, []).append(found)
        return found

    def _hear_complaint(self, event: PlanEvent, complaint: Complaint, issuing_on: date) -> None:
        self.course.hear_complaint()

    def _hear_triage(self, event: PlanEvent, outcome: TriageOutcome, issuing_on: date) -> None:
        self.course.hear_triage(outcome.instruction, issuing_on)

    def _hear_instruction(self, event: PlanEvent, instruction: PlanInstruction, issuing_on: date) -> None:
        self.course.hear_instruction(instruction, issuing_on)

    def _hear_change(self, event: PlanEvent, change: Change, issuing_on: date) -> None:
        if isinstance(change, ProtocolChange):
            _protocol_of(change, self.facts.protocols)
        self.course.hear_change(change)
        if change.from_on < issuing_on and self._ends_today(change):
            self._stop_current_day(event.recorded_at)

    def _ends_today(self, change: Change) -> bool:
        """True where nothing more is to be put on today; what protects stays on until the plan itself ends."""
        rests = isinstance(change, Away) or (isinstance(change, OrthosisChanged) and change.change.needs_start_step)
        return isinstance(change, PlanEnd) or (rests and may_reduce(self.course.terms))

    def _stop_current_day(self, at: datetime) -> None:
        if self.days and self.days[-1].target_minutes and self.days[-1].stopped_at is None:
            self.days[-1] = self.days[-1]._replace(stopped_at=at)

    def _obey_changes(self, on: date) -> None:
        """Apply the changes whose day has come; what is issued so far keeps its times."""
        chosen, goal = None, self.goal
        for change in self.course.changes_due(on):
            match change:
                case ProtocolChange():
                    chosen, self.protocol = change, _protocol_of(change, self.facts.protocols)
                case GoalChange():
                    goal = changed_goal(goal, change)
                case ZoneChange(zone=zone):
                    goal = replace(goal, zone=ZoneInfo(zone))
                case ClinicianDecision():
                    self.decisions = (*self.decisions, change)
                case _:
                    self.course.obey_change(change)
        if goal is not self.goal:
            self._live_by(goal)
        self.course.follow_terms(self._terms(), chosen)

    def _live_by(self, goal: WearingGoal) -> None:
        """Another goal from the day about to be issued on; the instant of its issue is as it was."""
        number = len(self.days)
        self.goal = goal
        later = local_days(self._calendar[number].on, self.count + 1 - number, goal)
        self._calendar = [*self._calendar[:number], *later]
        self._free_at = max(self._free_at or self._issued_at, self._issued_at)

    def _terms(self) -> PlanTerms:
        slowed = self.days != [] and self.course.slowed
        facts = self.facts
        return PlanTerms.of(self.protocol, self.goal, facts.precautions, facts.without, self.decisions, slowed=slowed)


def _rested(day: WearDay) -> bool:
    """True for a day without it by the schedule: the day worn before it is still the last one that counts."""
    return day.reasons[0].code is ReasonCode.REST_DAY


def _protocol_of(change: ProtocolChange, protocols: Mapping[str, WearProtocol]) -> WearProtocol:
    if change.digest not in protocols:
        message = f"The dated form of {change.protocol!r} that this plan changed to is not known; bring its file back."
        raise UnknownId("unknown_protocol", message, "protocol_change.digest")
    return protocols[change.digest]


def _known(events: Sequence[PlanEvent], as_of: datetime) -> Sequence[PlanEvent]:
    """Events recorded by `as_of`, once each, in the order they were recorded.

    At one instant what was found comes first, then its triage, then changes, and a clinician's word last.
    """
    known = [event for event in events if event.recorded_at <= as_of]
    in_order = all(earlier.recorded_at < later.recorded_at for earlier, later in pairwise(known))
    if in_order and len({event.id for event in known}) == len(known):
        return known
    once = {event.id: event for event in known}
    return sorted(once.values(), key=lambda each: (each.recorded_at, _RANK.get(type(each.data), CHANGE), each.id))


CHANGE = 2
_RANK: Mapping[Any, int] = {SkinCheck: 0, Complaint: 0, TriageOutcome: 1, PlanInstruction: CHANGE + 1}
_HEAR: Mapping[Any, Callable[[PlanWalk, PlanEvent, Any, date], Judgement | None]] = {
    SkinCheck: PlanWalk._hear_check,
    Complaint: PlanWalk._hear_complaint,
    TriageOutcome: PlanWalk._hear_triage,
    PlanInstruction: PlanWalk._hear_instruction,
    **dict.fromkeys(
        (Away, Back, OrthosisChanged, PlanEnd, ProtocolChange, GoalChange, ZoneChange, ClinicianDecision),
        PlanWalk._hear_change,
    ),
}
