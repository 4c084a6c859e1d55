"""Every rule deleted, every threshold moved one unit, every output lowered: each is caught by the load or by a case.

`python -m tests.clinical.test_rule_mutations` prints the table.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from followup.clinical.load_rules import build_rule_set, read_raw
from followup.core.finding import Finding, FindingKind
from followup.core.rule_set import OVER_LIMIT, OVER_TARGET
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import InvalidInput
from tests.clinical.clinical_cases import expected, found, read_cases

CASES = read_cases()
RAW = read_raw()
FINDINGS = build_rule_set(RAW).findings
MOVED = {OVER_LIMIT: (20, 22), OVER_TARGET: (60, 62)}
Mutation = tuple[str, str, dict[str, Any] | None]


def mutations() -> Iterator[Mutation]:
    """Kind of change, rule id, and the changed rule, or None where it is deleted."""
    for rule in RAW["rules"]:
        yield "rule deleted", rule["id"], None
        yield from lowered(rule)
        yield from moved(rule)
        yield from narrowed(rule)


def lowered(rule: Mapping[str, Any]) -> Iterator[Mutation]:
    urgency = Urgency.from_id(rule["urgency"])
    yield "urgency lowered", rule["id"], {**rule, "urgency": Urgency(urgency - 1).id}
    strength = WearInstruction(rule["instruction"]).strength
    if strength:
        yield "instruction lowered", rule["id"], {**rule, "instruction": list(WearInstruction)[strength - 1].value}
    if "cannot_stand" in rule:
        yield "variant dropped", rule["id"], {key: value for key, value in rule.items() if key != "cannot_stand"}


def moved(rule: Mapping[str, Any]) -> Iterator[Mutation]:
    for finding, value in rule["when"].items():
        for other in neighbours(FINDINGS[finding], value):
            yield "threshold moved", rule["id"], {**rule, "when": {**rule["when"], finding: other}}
        if len(rule["when"]) > 1:
            rest = {key: each for key, each in rule["when"].items() if key != finding}
            yield "condition dropped", rule["id"], {**rule, "when": rest}
    if "days_since_delivery_from" in rule:
        for step in (-1, 1):
            days = rule["days_since_delivery_from"] + step
            yield "days moved", rule["id"], {**rule, "days_since_delivery_from": days}


def narrowed(rule: Mapping[str, Any]) -> Iterator[Mutation]:
    precautions = rule.get("precautions", [])
    if precautions:
        yield "precautions ignored", rule["id"], {**rule, "precautions": []}
    for each in precautions if len(precautions) > 1 else []:
        rest = [other for other in precautions if other != each]
        yield "precaution dropped", rule["id"], {**rule, "precautions": rest}


def neighbours(finding: Finding, value: object) -> tuple[object, ...]:
    """The thresholds one unit lower and higher; the best answer, which no rule may start at, included."""
    if value in MOVED:
        return MOVED[str(value)]
    if finding.kind is FindingKind.NUMBER and isinstance(value, int):
        return (value - 1, value + 1)
    position = finding.rank(value)
    return finding.answers[max(position - 1, 0) : position] + finding.answers[position + 1 : position + 2]


def caught_by(id: str, changed: Mapping[str, Any] | None) -> str | None:
    """What notices the change: "load", "case", or None."""
    raw = copy.copy(RAW)
    kept = [each for each in RAW["rules"] if each["id"] != id]
    raw["rules"] = kept if changed is None else [*kept, changed]
    try:
        rule_set = build_rule_set(raw)
    except InvalidInput:
        return "load"
    return "case" if any(found(case, rule_set) != expected(case) for case in CASES) else None


def table() -> str:
    counts = Counter((kind, caught_by(id, changed)) for kind, id, changed in mutations())
    kinds = sorted({kind for kind, _ in counts})
    rows = [(kind, counts[kind, "load"], counts[kind, "case"], counts[kind, None]) for kind in kinds]
    lines = [f"{kind:<22}{load:>8}{case:>8}{missed:>8}" for kind, load, case, missed in rows]
    return "\n".join([f"{'change':<22}{'load':>8}{'case':>8}{'missed':>8}", *lines])


def test_the_rule_set_as_it_is_passes_every_case():
    rules = build_rule_set(RAW)
    assert all(found(case, rules) == expected(case) for case in CASES)


def test_every_change_of_a_rule_is_caught_by_the_load_or_by_a_case():
    assert [
        (kind, id, changed and changed["when"]) for kind, id, changed in mutations() if not caught_by(id, changed)
    ] == []


if __name__ == "__main__":
    print(table())  # noqa: T201 the table is what the command is for
