from __future__ import annotations

import re

import pytest

from tests.structure.source_tree import ROOT

GLOSSARY = (ROOT / "docs/glossary.md").read_text()
DEFINED = {word.strip() for row in re.findall(r"^\| ([^|`]+) \|", GLOSSARY, re.MULTILINE) for word in row.split(",")}
TERMS = (
    *("orthosis", "wearer", "caregiver", "contact", "wearing goal", "precaution", "without the orthosis"),
    *("ladder", "band", "full wear", "on and off in turn", "removal"),
    *("wear protocol", "wear plan", "wear step", "wearing period", "skin check", "mark", "place", "complaint"),
    *("report", "finding", "rule", "rule set", "source", "urgency", "wear instruction", "triage result", "callback"),
    *(
        "desk item",
        "plan instruction",
        "message",
        "outbox",
        "attempt",
        "consent",
        "audit entry",
        "delivery",
        "red flag",
    ),
    *("cause", "gate question", "interview", "floor", "ceiling", "taken by", "may not have arrived"),
)


@pytest.mark.parametrize("term", TERMS)
def test_every_word_of_the_trade_used_here_is_defined(term):
    assert term in DEFINED
