from __future__ import annotations

import re

import pytest

from followup.core.plan_event import PlanAction
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.urgency import Urgency, WearInstruction
from tests.structure.source_tree import ROOT

GLOSSARY = (ROOT / "docs/glossary.md").read_text()


def ids_under(heading: str) -> list[str]:
    """The ids in the table under a heading, in order."""
    section = GLOSSARY.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    return re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE)


@pytest.mark.parametrize(
    ("heading", "ids"),
    [
        ("Urgency", [each.id for each in Urgency]),
        ("Wear instruction", list(WearInstruction)),
        ("Plan instruction", list(PlanAction)),
        ("Precaution", list(Precaution)),
        ("Without the orthosis", list(WithoutOrthosis)),
    ],
)
def test_each_vocabulary_is_in_the_glossary_whole_and_in_its_order(heading, ids):
    assert ids_under(heading) == ids
