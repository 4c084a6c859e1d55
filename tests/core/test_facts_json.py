from __future__ import annotations

import json

from hypothesis import given

from followup.clinical.load_rules import load_rule_set
from followup.core.facts_json import facts_as_json, parse_facts
from followup.core.triage import Facts, triage
from tests.clinical.test_triage_two_ways import FACTS

RULES = load_rule_set()


@given(FACTS)
def test_facts_come_back_as_they_were_written(facts):
    assert parse_facts(RULES, json.loads(json.dumps(facts_as_json(facts)))) == facts


def test_opened_gates_are_kept():
    facts = Facts(opened=frozenset({"body", "pain"}))
    assert parse_facts(RULES, facts_as_json(facts)) == facts


def test_a_mark_may_last_20_minutes_where_no_limit_is_given():
    fired = [[each.id for each in triage(RULES, Facts({"mark_minutes": minutes})).fired] for minutes in (20, 21)]
    assert fired == [[], ["mark_outlasts_limit"]]
