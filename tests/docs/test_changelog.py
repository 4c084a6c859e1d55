from __future__ import annotations

import pytest

from followup.clinical.load_protocols import protocol_versions
from tests.docs.rule_rows import missing_rows
from tests.structure.source_tree import ROOT

CLINICAL = (ROOT / "docs/changelog.md").read_text().split("### Clinical")[1].split("###")[0]


@pytest.mark.parametrize("protocol", protocol_versions(), ids=lambda each: f"{each.id}-{each.effective_on}")
def test_every_form_of_a_protocol_is_in_the_changelog_with_source_and_date(protocol):
    (row,) = [
        line for line in CLINICAL.splitlines() if f"`{protocol.id}`" in line and str(protocol.effective_on) in line
    ]
    assert f"| {protocol.source_key} |" in row
    assert f"Mark limit {protocol.mark_limit_minutes} minutes" in row


def test_every_form_of_a_rule_is_in_the_changelog_with_source_and_date():
    assert list(missing_rows()) == []
