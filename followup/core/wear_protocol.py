"""A published wear schedule as data."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from functools import cached_property

from followup.core.precaution import Precaution
from followup.core.step_shape import WearStep
from followup.core.tightening import Tightening
from followup.core.wearing_goal import RangeEnd, WearingGoal

LONGEST_MARK_LIMIT_WITH_CARE = 30


class LookKind(StrEnum):
    """When the skin is looked at: as the orthosis comes off, again once the mark limit has passed, and while it is on."""

    REMOVAL = "removal"
    AFTER_LIMIT = "after_limit"
    WHILE_ON = "while_on"


@dataclass(frozen=True, slots=True)
class LadderStep:
    """Published minutes a day, lowest and highest, that stand for `days` wear steps."""

    low_minutes: int
    high_minutes: int
    days: int = 1


@dataclass(frozen=True)
class WearProtocol:
    """One published schedule: named steps, then the same addition at every further step until full wear.

    `source` is the citation, `source_key` its row in the sources; `mark_limit_source` is the row that gives the
    minutes a mark may last, since not every schedule says.
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
    add_low_minutes: int
    add_high_minutes: int
    looks: tuple[LookKind, ...] = (LookKind.REMOVAL, LookKind.AFTER_LIMIT)
    written_for: frozenset[Precaution] = frozenset()
    tightening: tuple[Tightening, ...] = ()

    def __hash__(self) -> int:
        return hash(self.digest)

    @cached_property
    def named_steps(self) -> tuple[tuple[int, int], ...]:
        """The (low, high) minutes of each step the document names, one a wear step."""
        return tuple((each.low_minutes, each.high_minutes) for each in self.ladder for _ in range(each.days))

    @cached_property
    def digest(self) -> str:
        """A SHA-256 over every field: two protocols with the same digest give the same plans."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True, default=_plain).encode()).hexdigest()

    def steps(self, goal: WearingGoal) -> tuple[WearStep, ...]:
        """The whole ladder for this goal; the last step is full wear."""
        top = self.steps_to(goal.full_wear_minutes, goal.range_end)
        return tuple(WearStep(*self.step_range(step, goal.full_wear_minutes)) for step in range(1, top + 1))

    def own_steps(self, goal: WearingGoal) -> int:
        """How many of the steps the program may reach by itself."""
        return self.steps_to(goal.full_wear_minutes, goal.range_end)

    def step_range(self, step: int, full_wear_minutes: int) -> tuple[int, int]:
        """The published (low, high) minutes of wear step `step` (from 1), never above full wear."""
        beyond = max(0, step - len(self.named_steps))
        low, high = self.named_steps[min(step, len(self.named_steps)) - 1]
        low, high = low + beyond * self.add_low_minutes, high + beyond * self.add_high_minutes
        return min(low, full_wear_minutes), min(high, full_wear_minutes)

    def target(self, step: int, goal: WearingGoal) -> int:
        """The minutes to wear at `step`: the low end of the range unless the goal says the high one."""
        low, high = self.step_range(step, goal.full_wear_minutes)
        return high if goal.range_end is RangeEnd.HIGH else low

    def steps_to(self, full_wear_minutes: int, range_end: RangeEnd = RangeEnd.LOW) -> int:
        """The first wear step whose chosen end is full wear."""
        which = 1 if range_end is RangeEnd.HIGH else 0
        step = 1
        while self.step_range(step, full_wear_minutes)[which] < full_wear_minutes:
            step += 1
        return step


def _plain(value: object) -> object:
    return sorted(value) if isinstance(value, frozenset) else str(value)


def mark_limit(protocol: WearProtocol, precautions: frozenset[Precaution]) -> int:
    """Minutes a mark may last after removal for this wearer.

    Never above 30 with reduced sensation or diabetes, whatever the schedule says (30 with diabetes: East Lancashire
    Hospitals NHS Trust, *Diabetes and orthotics*, grade A; for reduced sensation derived).
    """
    if precautions & {Precaution.REDUCED_SENSATION, Precaution.DIABETES}:
        return min(protocol.mark_limit_minutes, LONGEST_MARK_LIMIT_WITH_CARE)
    return protocol.mark_limit_minutes
