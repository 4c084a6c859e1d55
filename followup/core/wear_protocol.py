"""A published wear schedule as data, and the ladder it gives for one wearing goal."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from functools import cached_property, lru_cache

from followup.core.day_layout import held_minutes, night_minutes
from followup.core.precaution import Precaution
from followup.core.step_shape import USUAL_SHAPE, StepShape, WearStep
from followup.core.tightening import Tightening
from followup.core.wearing_goal import DAY_MINUTES, Activity, RangeEnd, WearingGoal

__all__ = [
    "Discomfort",
    "Growth",
    "LadderEnd",
    "LadderStep",
    "LookKind",
    "StepShape",
    "WearProtocol",
    "WearStep",
]


class LookKind(StrEnum):
    """When the skin is looked at: as the orthosis comes off, once the mark limit has passed, and while it is on."""

    REMOVAL = "removal"
    AFTER_LIMIT = "after_limit"
    WHILE_ON = "while_on"


class Discomfort(StrEnum):
    """What the document says to do when it is uncomfortable and the skin is clear.

    ``shorter``: wear it for less time. ``last_tolerated``: go back to the last time that was comfortable, and grow from
    there by a smaller step. ``rest_of_day``: leave it off for the rest of the day, and begin again on the next.
    """

    SHORTER = "shorter"
    LAST_TOLERATED = "last_tolerated"
    REST_OF_DAY = "rest_of_day"


class LadderEnd(StrEnum):
    """What follows the last step that the document states: full wear, or a clinician's decision."""

    FULL_WEAR = "full_wear"
    CLINICIAN = "clinician"


@dataclass(frozen=True, slots=True)
class LadderStep:
    """Published minutes a day, lowest and highest, that stand for `days` wear steps; full wear is a whole day.

    `minutes` is None where the shape says how long it is worn. `when` is for whom this first step is, where the
    document asks.
    """

    minutes: tuple[int, int] | None
    days: int = 1
    shape: StepShape = USUAL_SHAPE
    when: Activity | None = None


@dataclass(frozen=True, slots=True)
class Growth:
    """What each further step adds to the day in all, lowest and highest, or by how much it is multiplied.

    It goes on until full wear, or until `until_minutes` have been worn.
    """

    add_minutes: tuple[int, int] = (0, 0)
    times: int = 1
    until_minutes: int = DAY_MINUTES


@dataclass(frozen=True)
class WearProtocol:
    """One published schedule: named steps, then growth until full wear, or until a clinician decides.

    `source` is the citation, `source_key` its row in the sources; `mark_limit_source` is the row that gives the
    minutes a mark may last, since not every schedule says. `full_wear_minutes` is what the document calls full wear,
    where it says so; the wearing goal decides. `call_after_days`: discomfort that lasts so long is for a clinician.
    """

    id: str
    title: str
    source: str
    source_key: str
    grade: str
    effective_on: date
    whom: str
    mark_limit_minutes: int
    mark_limit_source: str
    ladder: tuple[LadderStep, ...]
    growth: Growth | None = None
    ends_in: LadderEnd = LadderEnd.FULL_WEAR
    full_wear_minutes: int | None = None
    full_wear_shape: StepShape | None = None
    looks: tuple[LookKind, ...] = (LookKind.REMOVAL, LookKind.AFTER_LIMIT)
    discomfort: Discomfort = Discomfort.SHORTER
    smaller_step_minutes: int | None = None
    call_after_days: int | None = None
    written_for: frozenset[Precaution] = frozenset()
    tightening: tuple[Tightening, ...] = ()

    def __hash__(self) -> int:
        return hash(self.digest)

    @cached_property
    def digest(self) -> str:
        """A SHA-256 over every field: two protocols with the same digest give the same plans."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True, default=_plain).encode()).hexdigest()

    @property
    def worn_at_all_times(self) -> bool:
        """True where there is no ramp: it is taken off for the skin only."""
        return self.ladder[0].shape.removals is not None

    def steps(self, goal: WearingGoal) -> tuple[WearStep, ...]:
        """The whole ladder for this goal; the last step is full wear. Made once for the same goal."""
        return _ladder(self, goal)[0]

    def own_steps(self, goal: WearingGoal) -> int:
        """How many steps the program may reach by itself: all but full wear where a clinician decides on that."""
        return _ladder(self, goal)[1]


def _plain(value: object) -> object:
    return sorted(value) if isinstance(value, frozenset) else str(value)


@lru_cache(maxsize=4096)
def _ladder(protocol: WearProtocol, goal: WearingGoal) -> tuple[tuple[WearStep, ...], int]:
    """The steps for a goal, and how many of them the program may reach by itself.

    Every step is capped at full wear, and the first one whose chosen end is full wear is the last. Worn at all times is
    not capped: a goal left at its default must not leave a protective orthosis off.
    """
    if protocol.worn_at_all_times:
        shape = protocol.ladder[0].shape
        return (WearStep(*_shape_minutes(shape, goal, protocol.mark_limit_minutes), shape),), 1
    found: list[WearStep] = []
    for step in _stated_steps(protocol, goal):
        found.append(_not_below(found[-1], step) if found else step)
        if chosen_minutes(found[-1], goal) >= goal.full_wear_minutes:
            return tuple(found), len(found)
    full = WearStep(goal.full_wear_minutes, goal.full_wear_minutes, _full_wear_shape(protocol, goal))
    own = len(found) + (protocol.ends_in is LadderEnd.FULL_WEAR)
    return (*found, full), own


def chosen_minutes(step: WearStep, goal: WearingGoal) -> int:
    """The minutes of a step at the end of published ranges that the goal aims at."""
    return step.high_minutes if goal.range_end is RangeEnd.HIGH else step.low_minutes


def _stated_steps(protocol: WearProtocol, goal: WearingGoal) -> Iterator[WearStep]:
    """The document's own steps one by one, grown for as long as it says; each no more than full wear."""
    rows = [row for row in protocol.ladder if row.when in (None, goal.activity)]
    last = rows[-1]
    for row in rows:
        step = _row_step(row, goal, protocol.mark_limit_minutes)
        yield from [step] * row.days
    if protocol.growth:
        yield from _grown(protocol.growth, last, goal)


def _row_step(row: LadderStep, goal: WearingGoal, break_minutes: int) -> WearStep:
    """A row for this goal. Where full wear does not reach beyond the day, the night is not worn."""
    low, high = _row_minutes(row, row.shape, goal, break_minutes)
    if row.shape.nights and low > goal.full_wear_minutes:
        shape = _by_day(row.shape)
        low, high = _row_minutes(row, shape, goal, break_minutes)
        return _capped(low, high, shape, goal.full_wear_minutes)
    return _capped(low, high, row.shape, goal.full_wear_minutes)


def _row_minutes(row: LadderStep, shape: StepShape, goal: WearingGoal, break_minutes: int) -> tuple[int, int]:
    if row.minutes is None:
        return _shape_minutes(shape, goal, break_minutes)
    night = night_minutes(shape, goal, break_minutes) if shape.nights else 0
    return row.minutes[0] + night, row.minutes[1] + night


def _shape_minutes(shape: StepShape, goal: WearingGoal, break_minutes: int) -> tuple[int, int]:
    held = held_minutes(shape, goal, break_minutes)
    if held is None:
        raise ValueError(f"a ladder step states neither minutes nor a shape that holds them: {shape}")
    return held


def _grown(growth: Growth, last: LadderStep, goal: WearingGoal) -> Iterator[WearStep]:
    """Steps after the last row, each larger than the one before, until `until_minutes` or the whole day is worn."""
    low, high = last.minutes or (0, 0)
    which = 1 if goal.range_end is RangeEnd.HIGH else 0
    while (low, high)[which] < growth.until_minutes:
        low = min(low * growth.times + growth.add_minutes[0], growth.until_minutes)
        high = min(high * growth.times + growth.add_minutes[1], growth.until_minutes)
        yield _capped(low, high, last.shape, goal.full_wear_minutes)


def _full_wear_shape(protocol: WearProtocol, goal: WearingGoal) -> StepShape:
    """The document's own way of full wear where the window does not hold it; else as the last step lay."""
    if protocol.full_wear_shape and goal.full_wear_minutes > goal.window_minutes:
        return protocol.full_wear_shape
    last = protocol.ladder[-1].shape
    return StepShape(periods=last.periods)


def _by_day(shape: StepShape) -> StepShape:
    return StepShape(shape.periods, shape.on, shape.off, nights=False, rest_days=shape.rest_days)


def _capped(low: int, high: int, shape: StepShape, full_wear_minutes: int) -> WearStep:
    return WearStep(min(low, full_wear_minutes), min(high, full_wear_minutes), shape)


def _not_below(before: WearStep, step: WearStep) -> WearStep:
    """The step with no less time than the one before: a window may hold less of longer stretches."""
    low = max(before.low_minutes, step.low_minutes)
    return WearStep(low, max(low, before.high_minutes, step.high_minutes), step.shape)


def lines_of(steps: Sequence[WearStep]) -> tuple[tuple[WearStep, int, int], ...]:
    """The steps with their first and last number, equal neighbours taken together."""
    runs: list[tuple[WearStep, int, int]] = []
    for number, step in enumerate(steps, 1):
        if runs and runs[-1][0] == step:
            runs[-1] = (step, runs[-1][1], number)
        else:
            runs.append((step, number, number))
    return tuple(runs)
