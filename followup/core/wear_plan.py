"""The wear plan of one orthosis: recorded facts folded into days.

Each day is fixed at its issue instant from what was recorded before it. Facts recorded later move later days only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from types import MappingProxyType

from followup.core.plan_event import PlanEvent
from followup.core.plan_trace import PlanTrace
from followup.core.plan_walk import Assume, PlanFacts, PlanWalk
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_day import Basis, PlanState, SkinCheckTime, WearDay, WearPeriod
from followup.core.wear_protocol import WearProtocol
from followup.core.wearing_goal import WearingGoal

__all__ = [
    "Assume",
    "Basis",
    "PlanFacts",
    "PlanProjection",
    "PlanState",
    "SkinCheckTime",
    "WearDay",
    "WearPeriod",
    "replay",
    "state_of",
]

NO_OTHERS: Mapping[str, WearProtocol] = MappingProxyType({})


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
    protocols: Mapping[str, WearProtocol] = NO_OTHERS,
    trace: PlanTrace | None = None,
) -> tuple[WearDay, ...]:
    """The first `days` days of a plan as known at `as_of` (aware); day 1 is the local date `delivered_on`.

    Events recorded after `as_of` are not read; their order in `events` does not matter, and an id counts once. Days
    issued by `as_of` are recorded, later ones projected under `assume`. `begins_at`, where it is known, is when the
    orthosis was handed over: nothing is planned for before then. `protocols` are those a protocol change may name, by
    digest; `UnknownId` for another. `trace` is filled with what was heard. Linear in days and events.
    """
    facts = PlanFacts(protocol, goal, precautions, without, delivered_on, events, begins_at, protocols)
    walk = PlanWalk(facts, as_of, assume, days, trace)
    for _ in range(days):
        walk.issue(walk.decide())
    walk.hear_the_rest()
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
