"""Rules: conjunctions of `finding >= value`, so that a worse answer can only raise what they say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from followup.core.finding import Answer, Finding
from followup.core.precaution import Precaution
from followup.core.urgency import Urgency, WearInstruction

PRECAUTIONS = frozenset(str(each) for each in Precaution)
COMMON_PRACTICE = "common practice, no source"
OVER_LIMIT = "over_limit"
OVER_TARGET = "over_target"
USUAL_FULL_WEAR = 480
"""Minutes of a full day of wear where no goal says otherwise (common practice)."""
_STRENGTH = {each: each.strength for each in WearInstruction}


class Outcome(NamedTuple):
    """The two separate outputs of triage."""

    urgency: Urgency
    instruction: WearInstruction

    def join(self, other: Outcome) -> Outcome:
        """The worse of each output."""
        stronger = _STRENGTH[self.instruction] >= _STRENGTH[other.instruction]
        return Outcome(max(self.urgency, other.urgency), self.instruction if stronger else other.instruction)


NOTHING = Outcome(Urgency.KEEP_TO_PLAN, WearInstruction.AS_PLANNED)


@dataclass(frozen=True, slots=True)
class Condition:
    """`finding >= at_least`.

    `rank` is the answer's position; where `at_least` follows the mark limit or the day's target, it is the distance
    above that value.
    """

    finding: str
    at_least: Answer
    rank: int

    def threshold(self, mark_limit_minutes: int, target_minutes: int | None) -> int:
        """The rank at which it holds; a target nobody knows counts as the usual full wear."""
        if self.at_least == OVER_LIMIT:
            return mark_limit_minutes + self.rank
        if self.at_least == OVER_TARGET:
            return (USUAL_FULL_WEAR if target_minutes is None else target_minutes) + self.rank
        return self.rank


@dataclass(frozen=True, slots=True)
class RuleWords:
    """What a fired rule says in one language, to the family and to staff."""

    family: str
    staff: str


@dataclass(frozen=True, slots=True)
class Rule:
    """Fires when every condition holds, any of `precautions` is present and enough days have passed since delivery.

    `cannot_stand`, where given, replaces the outcome for a wearer who cannot stand alone without the orthosis.
    """

    id: str
    label: str
    when: tuple[Condition, ...]
    urgency: Urgency
    instruction: WearInstruction
    effective_on: date
    sources: tuple[str, ...]
    precautions: frozenset[str] = frozenset()
    days_since_delivery_from: int | None = None
    cannot_stand: Outcome | None = None
    causes: tuple[str, ...] = ()
    words: Mapping[str, RuleWords] = field(default_factory=dict)

    @property
    def unrecorded_counts(self) -> bool:
        """For clinician today and above, a precaution nobody recorded counts as present."""
        return self.urgency >= Urgency.CLINICIAN_TODAY


@dataclass(frozen=True, slots=True)
class GateLine:
    """One line of a gate, in words by language, that speaks for one or more of its members."""

    id: str
    findings: tuple[str, ...]
    words: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Gate:
    """One question that lists its members in a few lines: "none of these" sets each to its best, "not sure" opens all.

    A line that is so opens the members it speaks for, to be asked one by one.
    """

    id: str
    words: Mapping[str, Mapping[str, str]]
    lines: tuple[GateLine, ...] = ()


@dataclass(frozen=True, slots=True)
class AloneOk:
    """An answer worse than the best that by itself is no cause for anything, with the source that says so.

    For a number, every value below the first threshold of any rule.
    """

    finding: str
    at_most: Answer
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RedFlag:
    """A published danger sign, the answers that make it and the least urgency it must reach."""

    id: str
    label: str
    findings: Mapping[str, Answer]
    precautions: frozenset[str]
    urgency: Urgency
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Everything triage needs, in force on one day. `digest` changes with any number, rule or word."""

    id: str
    digest: str
    findings: Mapping[str, Finding]
    rules: tuple[Rule, ...]
    gates: Mapping[str, Gate] = field(default_factory=dict)
    alone_ok: tuple[AloneOk, ...] = ()
    red_flags: tuple[RedFlag, ...] = ()
    causes: Mapping[str, Mapping[str, Mapping[str, str]]] = field(default_factory=dict)
    urgency_words: Mapping[str, Mapping[str, Mapping[str, str]]] = field(default_factory=dict)
    instruction_words: Mapping[str, Mapping[str, Mapping[str, str]]] = field(default_factory=dict)
    sources: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
