from __future__ import annotations

import pytest

from followup.clinical.load_rules import load_looks, load_replies, load_rule_set
from followup.core.interview import next_question, state_findings
from followup.core.triage import Facts, triage

RULES = load_rule_set()
WEARER = Facts({}, {"protective": False}, "walks", 3)


@pytest.mark.parametrize(
    ("number", "urgency", "instruction"),
    [
        (1, "keep_to_plan", "as_planned"),
        (2, "clinician_today", "same_time_again"),
        (3, "clinician_today", "off_until_we_speak"),
        (4, "clinician_today", "same_time_again"),
    ],
)
def test_a_text_reply_by_itself_leads_to(number, urgency, instruction):
    result = triage(RULES, state_findings(RULES, WEARER, load_replies()[number]))
    assert (result.urgency.id, result.instruction) == (urgency, instruction)


def test_a_reply_of_fine_answers_every_urgent_finding():
    stated = load_replies()[1]
    assert [id for id, each in RULES.findings.items() if each.urgent and id not in stated] == []


@pytest.mark.parametrize("look", ["clear", "mark", "broken", "call"])
def test_the_first_tap_of_the_page_is_never_the_last_question(look):
    assert next_question(RULES, state_findings(RULES, WEARER, load_looks()[look])).id == "body"
