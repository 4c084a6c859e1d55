"""The cases under `cases/`: sentences a clinician can read, as inputs and expected outputs."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from followup.core.rule_set import PRECAUTIONS, RuleSet
from followup.core.triage import Facts, triage

FOLDER = Path(__file__).parent / "cases"
CALM = {"without_orthosis": "walks", "days_since_delivery": 0, "mark_limit_minutes": 20, "target_minutes": 60}


def read_cases() -> list[dict[str, Any]]:
    return [case for file in sorted(FOLDER.glob("*.toml")) for case in tomllib.loads(file.read_text())["case"]]


def facts_of(case: Mapping[str, Any], rule_set: RuleSet) -> Facts:
    rest = {} if case.get("rest") == "not_asked" else {id: each.best for id, each in rule_set.findings.items()}
    precautions = {id: id in case.get("present", []) for id in PRECAUTIONS if id not in case.get("unrecorded", [])}
    context = {**CALM, **case.get("context", {})}
    known = {name: None if value == "not_recorded" else value for name, value in context.items()}
    return Facts({**rest, **case["findings"]}, precautions, **known)


def expected(case: Mapping[str, Any]) -> tuple[str, str, list[str]]:
    return case["urgency"], case["instruction"], sorted(case["fired"])


def found(case: Mapping[str, Any], rule_set: RuleSet) -> tuple[str, str, list[str]]:
    result = triage(rule_set, facts_of(case, rule_set))
    return result.urgency.id, str(result.instruction), sorted(each.id for each in result.fired)
