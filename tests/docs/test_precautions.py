from __future__ import annotations

from followup.core.precaution import Precaution
from tests.docs.precautions_table import PAGE, missing_rows, written
from tests.structure.source_tree import ROOT


def test_the_table_of_the_page_is_that_of_the_rules():
    assert PAGE.read_text() == written(PAGE.read_text()), "run `python -m tests.docs.precautions_table`"


def test_every_rule_of_caution_is_in_the_changelog_with_source_and_date():
    clinical = (ROOT / "docs/changelog.md").read_text().split("### Clinical")[1].split("###")[0]
    assert list(missing_rows(clinical)) == []


def test_every_precaution_but_the_one_explained_is_in_the_table():
    text = PAGE.read_text()
    assert [each for each in Precaution if f"`{each}`" not in text] == [Precaution.SPINAL_CORD_INJURY_HIGH]
    assert "spinal cord injury above T6" in text
