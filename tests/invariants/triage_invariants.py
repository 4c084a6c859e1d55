"""What triage must always hold, as plain functions of the modules that do it: each raises ``AssertionError``."""

from __future__ import annotations

import copy
import itertools
from types import ModuleType
from typing import Any

from followup.clinical.load_rules import load_rule_set, read_raw
from followup.core.finding import FindingKind
from followup.errors import InvalidInput

RULES = load_rule_set()
CALM = {id: each.best for id, each in RULES.findings.items()}
REDUCED = ("shorter_time", "off_until_we_speak")


def check_taking_it_off_is_made_safe(triage: ModuleType) -> None:
    """Invariant 2: a protective orthosis is never reduced; who cannot stand alone hears today and is told how."""
    for id, finding in RULES.findings.items():
        said = {**CALM, id: finding.worst}
        plain = triage.triage(RULES, triage.Facts(said, {}, "walks"))
        protected = triage.triage(RULES, triage.Facts(said, {"protective": True}, "walks"))
        assert protected.instruction.value not in REDUCED, id
        if plain.instruction.value in REDUCED:
            assert (protected.instruction.value, protected.urgency >= 3) == ("leave_on_as_ordered", True), id
        for without in ("with_help", "transfers_only", "must_not_stand", None):
            told = triage.triage(RULES, triage.Facts(said, {}, without))
            if told.instruction.value == "off_until_we_speak":
                assert (told.instruction_key, told.urgency >= 3) == ("off_sitting", True), id


def check_unknown_is_not_no(triage: ModuleType) -> None:
    """Invariant 4: an unanswered urgent question never ends in "keep to the plan"; an unrecorded precaution counts."""
    for id, finding in RULES.findings.items():
        if not finding.urgent:
            continue
        for said in ({**CALM, id: "cant_say"}, {each: value for each, value in CALM.items() if each != id}):
            result = triage.triage(RULES, triage.Facts(said, {}, "walks"))
            assert result.urgency > 0, id
            assert result.instruction.value != "as_planned", id
    for flag in RULES.red_flags:
        reached = triage.triage(RULES, triage.Facts({**CALM, **flag.findings}, {}, "walks"))
        assert reached.urgency >= flag.urgency, flag.id


def check_worse_never_lowers(triage: ModuleType) -> None:
    """Invariant 5: over every pair of findings, no worse answer lowers either output."""
    for one, other in itertools.combinations(RULES.findings, 2):
        for steady in (RULES.findings[other].best, RULES.findings[other].worst):
            before = (-1, -1)
            for value in _answers(one):
                facts = triage.Facts({**CALM, other: steady, one: value}, {}, "walks", target_minutes=60)
                result = triage.triage(RULES, facts)
                after = (int(result.urgency), result.instruction.strength)
                assert after[0] >= before[0], (one, value, other, steady)
                assert after[1] >= before[1], (one, value, other, steady)
                before = after


def check_every_rule_has_a_source(load_rules: ModuleType) -> None:
    """Invariant 6: a rule whose source is missing or unknown is not loaded, and every loaded one can be cited."""
    for sources in ([], ["S99"]):
        raw = copy.deepcopy(read_raw())
        raw["rules"][0]["sources"] = sources
        assert _fault_code(load_rules, raw) == "missing_source", sources
    assert all(rule.sources for rule in load_rules.load_rule_set().rules)


def _answers(id: str) -> list[object]:
    finding = RULES.findings[id]
    if finding.kind is FindingKind.NUMBER:
        return [value for value in (0, 1, 2, 4, 7, 10, 21, 41, 61) if value <= finding.worst]
    return list(finding.answers)


def _fault_code(load_rules: ModuleType, raw: dict[str, Any]) -> str | None:
    try:
        load_rules.build_rule_set(raw)
    except InvalidInput as error:
        return error.code
    return None
