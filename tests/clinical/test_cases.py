from __future__ import annotations

import pytest

from followup.clinical.load_rules import load_rule_set
from followup.core.rule_set import COMMON_PRACTICE
from tests.clinical.clinical_cases import expected, found, read_cases

CASES = read_cases()
RULES = load_rule_set()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["sentence"])
def test_a_case_comes_out_as_its_sentence_says(case):
    assert found(case, RULES) == expected(case)


def test_no_sentence_stands_twice():
    assert len({case["sentence"] for case in CASES}) == len(CASES) >= 60


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["sentence"])
def test_a_case_names_its_source(case):
    assert case["source"] == COMMON_PRACTICE or case["source"] in RULES.sources


def test_every_rule_fires_in_a_case():
    assert {rule.id for rule in RULES.rules} == {id for case in CASES for id in case["fired"]}


def test_every_red_flag_has_a_case_at_its_level():
    for flag in RULES.red_flags:
        matching = [case for case in CASES if case["findings"].items() >= flag.findings.items()]
        assert any(level_of(case) >= flag.urgency and _precautions(case, flag) for case in matching), flag.label


def level_of(case):
    return [*RULES.urgency_words].index(case["urgency"])


def _precautions(case, flag):
    return not flag.precautions or bool(flag.precautions & set(case.get("present", [])))
