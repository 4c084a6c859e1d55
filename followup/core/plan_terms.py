"""What of a plan does not change from day to day: the ladder for this wearer, and what their precautions ask for."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from typing import Any

from followup.core.plan_event import ClinicianDecision, DecisionKind
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.step_shape import WearStep
from followup.core.tightening import Ask, Tightening, rules_for
from followup.core.wear_protocol import LookKind, WearProtocol
from followup.core.wearing_goal import RangeEnd, WearingGoal

ROUNDED_TO = 5
BOTH_LOOKS = (LookKind.REMOVAL, LookKind.AFTER_LIMIT)


@dataclass(frozen=True, slots=True)
class LadderRung:
    """A step of the ladder for this wearer: `minutes` are its target, `published` is False for a half step between."""

    step: WearStep
    minutes: int
    published: bool = True


@dataclass(frozen=True, slots=True)
class PlanTerms:
    """The terms of one wearer's plan, steps counted from 1; every attribute is looked up, nothing is computed later.

    `rules` are the rules of caution in force for this wearer, where each one's source stands. `top` is the step of full
    wear, `own_top` the highest one the program may reach by itself. `protective`: never shortened, slowed or stopped by
    the program. `watched`: no silence is allowed, and seven clear days are asked for at full wear. `forms` keeps the
    days made from these terms (`day_form`).
    """

    protocol: WearProtocol
    goal: WearingGoal
    rules: tuple[Tightening, ...]
    decisions: tuple[ClinicianDecision, ...]
    ladder: tuple[WearStep, ...]
    targets: tuple[int, ...]
    ranges: tuple[tuple[int, int], ...]
    lower_steps: tuple[int, ...]
    published: tuple[bool, ...]
    top: int
    own_top: int
    mark_limit_minutes: int
    looks: tuple[LookKind, ...]
    looks_while_on: tuple[int, ...]
    by_touch: bool
    needs_named_checker: bool
    advances_itself: bool
    watched: bool
    protective: bool
    cannot_stand_alone: bool
    forms: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)

    @classmethod
    def of(
        cls,
        protocol: WearProtocol,
        goal: WearingGoal,
        precautions: frozenset[Precaution],
        without: WithoutOrthosis,
        decisions: tuple[ClinicianDecision, ...] = (),
        slowed: bool = False,
    ) -> PlanTerms:
        """The terms under the clinician's `decisions` in force, the newest last. Made once for the same arguments.

        `slowed`: it was not tolerated, and grows by the protocol's smaller step from then on.
        """
        return _terms(protocol, goal, precautions, without, decisions, slowed)

    def target(self, step: int) -> int:
        """The minutes of a wear step for this wearer."""
        return self.targets[step - 1]

    def range(self, step: int) -> tuple[int, int]:
        """The lowest and the highest minutes of a step; the highest is as published for the step it leads to."""
        return self.ranges[step - 1]

    def step_down(self, step: int) -> int:
        """The nearest lower step with less time; the same step where there is none."""
        return self.lower_steps[step - 1]

    def highest_step_within(self, minutes: int) -> int:
        """The highest step of no more than `minutes`; the first step where even that is more."""
        return max((at for at, target in enumerate(self.targets, 1) if target <= minutes), default=1)

    def lowest_step_like(self, minutes: int) -> int:
        """As `highest_step_within`, but the lowest step with as much time: no flat stretch is skipped."""
        return self.targets.index(self.target(self.highest_step_within(minutes))) + 1

    def look_every_minutes(self, day_number: int) -> int | None:
        """How often the skin is looked at while it is worn on the wearing day `day_number` (from 1), if at all."""
        return self.looks_while_on[day_number - 1] if day_number <= len(self.looks_while_on) else None


@lru_cache(maxsize=4096)
def _terms(
    protocol: WearProtocol,
    goal: WearingGoal,
    precautions: frozenset[Precaution],
    without: WithoutOrthosis,
    decisions: tuple[ClinicianDecision, ...],
    slowed: bool,
) -> PlanTerms:
    rules = rules_for(protocol.tightening, precautions, protocol.written_for)
    asked = {rule.asks for rule in rules}
    published = tuple(LadderRung(step, _minutes(step, goal)) for step in protocol.steps(goal))
    rungs = take_in_two(published, goal.range_end) if Ask.SMALLER_STEPS in asked else published
    if slowed and protocol.smaller_step_minutes:
        rungs = grow_by(rungs, protocol.smaller_step_minutes)
    targets = tuple(rung.minutes for rung in rungs)
    return PlanTerms(
        protocol=protocol,
        goal=goal,
        rules=rules,
        decisions=decisions,
        ladder=tuple(rung.step for rung in rungs),
        targets=targets,
        ranges=tuple((rung.step.low_minutes, rung.step.high_minutes) for rung in rungs),
        lower_steps=tuple(_lower(targets, step) for step in range(1, len(targets) + 1)),
        published=tuple(rung.published for rung in rungs),
        top=len(rungs),
        own_top=_place_of(rungs, protocol.own_steps(goal)),
        mark_limit_minutes=_mark_limit(protocol, rules, decisions),
        looks=BOTH_LOOKS if Ask.BOTH_LOOKS in asked else protocol.looks,
        looks_while_on=_looks_while_on(rules),
        by_touch=Ask.BY_TOUCH in asked,
        needs_named_checker=Ask.NAMED_CHECKER in asked,
        advances_itself=Ask.NO_SELF_ADVANCE not in asked,
        watched=Ask.WATCHED in asked,
        protective=Ask.NEVER_REDUCED in asked,
        cannot_stand_alone=without.cannot_stand_alone,
    )


def take_in_two(rungs: Sequence[LadderRung], end: RangeEnd) -> tuple[LadderRung, ...]:
    """The ladder with a half step before each growth; what stays flat or grows by too little to halve is not split."""
    taken = list(rungs[:1])
    for lower, upper in pairwise(rungs):
        half = _between(lower, upper, end)
        taken += [half, upper] if half else [upper]
    return tuple(taken)


def grow_by(rungs: Sequence[LadderRung], minutes: int) -> tuple[LadderRung, ...]:
    """The ladder with steps between, so that no step of one shape gives more than `minutes` above the one before."""
    taken = list(rungs[:1])
    for upper in rungs[1:]:
        while taken[-1].step.shape == upper.step.shape and taken[-1].minutes + minutes < upper.minutes:
            between = taken[-1].minutes + minutes
            step = WearStep(min(between, upper.step.low_minutes), upper.step.high_minutes, upper.step.shape)
            taken.append(LadderRung(step, between, published=False))
        taken.append(upper)
    return tuple(taken)


def _between(lower: LadderRung, upper: LadderRung, end: RangeEnd) -> LadderRung | None:
    """Half way up in minutes; between two shapes of a day there is no half, so the lower step is taken once more."""
    if upper.minutes <= lower.minutes:
        return None
    if lower.step.shape != upper.step.shape:
        return LadderRung(lower.step, lower.minutes, published=False)
    minutes = _half_way(lower.minutes, upper.minutes)
    low = minutes if end is RangeEnd.LOW else _half_way(lower.step.low_minutes, upper.step.low_minutes)
    step = WearStep(max(low, lower.step.low_minutes), upper.step.high_minutes, upper.step.shape)
    return LadderRung(step, minutes, published=False) if minutes > lower.minutes else None


def _half_way(lower: int, upper: int) -> int:
    return (lower + upper) // 2 // ROUNDED_TO * ROUNDED_TO


def _minutes(step: WearStep, goal: WearingGoal) -> int:
    return step.high_minutes if goal.range_end is RangeEnd.HIGH else step.low_minutes


def _lower(targets: Sequence[int], step: int) -> int:
    now = targets[step - 1]
    return next((lower for lower in range(step - 1, 0, -1) if targets[lower - 1] < now), step)


def _place_of(rungs: Sequence[LadderRung], published_step: int) -> int:
    """Where on the ladder the protocol's own step stands."""
    places = [at for at, rung in enumerate(rungs, 1) if rung.published]
    return places[published_step - 1]


def _mark_limit(protocol: WearProtocol, rules: Collection[Tightening], decisions: Sequence[ClinicianDecision]) -> int:
    """The published limit, or the cautious one if that is less; a decision may raise it to the published one only."""
    decided = [each.minutes for each in decisions if each.kind is DecisionKind.MARK_LIMIT and each.minutes is not None]
    cautious = [rule.minutes for rule in rules if rule.asks is Ask.MARK_LIMIT]
    return min(protocol.mark_limit_minutes, *(decided[-1:] or cautious or [protocol.mark_limit_minutes]))


def _looks_while_on(rules: Collection[Tightening]) -> tuple[int, ...]:
    """Minutes between looks for each wearing day; the most frequent of the rules that still hold on it."""
    asked = [rule for rule in rules if rule.asks is Ask.LOOK_WHILE_ON]
    last = max((rule.until_day for rule in asked), default=0)
    return tuple(min(rule.minutes for rule in asked if rule.until_day >= day) for day in range(1, last + 1))
