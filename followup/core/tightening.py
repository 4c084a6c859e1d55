"""What a precaution asks of a wear plan beyond its protocol, as sourced rules of caution."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from followup.core.precaution import Precaution


class Ask(StrEnum):
    """What a rule of caution asks.

    ``mark_limit``: a mark may last no longer than `minutes` without a recorded decision. ``smaller_steps``: each growth
    is taken in two. ``both_looks``: the skin is looked at at every removal and once more after the limit.
    ``by_touch``: it is felt by hand as well. ``look_while_on``: it is looked at every `minutes` of wear up to the
    wearing day `until_day`. ``named_checker``: somebody is named who looks at the skin. ``no_self_advance``: the
    program never raises the plan. ``watched``: no silence is allowed, and seven clear days are wanted at full wear.
    ``never_reduced``: the program neither shortens nor stops the wear.
    """

    MARK_LIMIT = "mark_limit"
    SMALLER_STEPS = "smaller_steps"
    BOTH_LOOKS = "both_looks"
    BY_TOUCH = "by_touch"
    LOOK_WHILE_ON = "look_while_on"
    NAMED_CHECKER = "named_checker"
    NO_SELF_ADVANCE = "no_self_advance"
    WATCHED = "watched"
    NEVER_REDUCED = "never_reduced"


@dataclass(frozen=True, slots=True)
class Tightening:
    """One rule of caution: any of `precautions` asks it.

    `source` is the citation, `source_key` its row in the sources; without a document the key is empty and the grade
    T. `says` is what the document says, `ours` what it leaves open and the program decides; either may be empty.
    """

    id: str
    precautions: tuple[Precaution, ...]
    asks: Ask
    effective_on: date
    source: str
    source_key: str
    grade: str
    says: str
    ours: str
    minutes: int = 0
    until_day: int = 0


def rules_for(
    rules: Iterable[Tightening], precautions: Collection[Precaution], written_for: Collection[Precaution] = ()
) -> tuple[Tightening, ...]:
    """The rules that concern this wearer.

    A protocol `written_for` a precaution has its small steps already, so it is not slowed again. A protective
    orthosis is never slowed: fewer minutes than ordered would be less protection (derived).
    """
    return tuple(rule for rule in rules if _concerns(rule, precautions, written_for))


def _concerns(rule: Tightening, precautions: Collection[Precaution], written_for: Collection[Precaution]) -> bool:
    mine = [each for each in rule.precautions if each in precautions]
    if rule.asks is Ask.SMALLER_STEPS:
        mine = [each for each in mine if each not in written_for and Precaution.PROTECTIVE not in precautions]
    return bool(mine)
