from __future__ import annotations

from followup.clinical.load_rules import load_rule_set
from tests.docs.rules_table import PAGE, written
from tests.structure.source_tree import ROOT


def test_the_tables_of_the_page_are_those_of_the_rule_set():
    assert PAGE.read_text() == written(PAGE.read_text()), "run `python -m tests.docs.rules_table`"


def test_every_rule_has_its_row():
    text = PAGE.read_text()
    assert [rule.id for rule in load_rule_set().rules if f"| `{rule.id}` |" not in text] == []


def test_the_rule_set_in_force_is_in_the_changelog():
    assert f"| rule set `{load_rule_set().id}` |" in (ROOT / "docs/changelog.md").read_text()
