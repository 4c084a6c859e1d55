"""The worked examples of docs/protocols.md, made from the shipped files: `python -m tests.docs.protocol_examples`."""

from __future__ import annotations

import re
from zoneinfo import ZoneInfo

from followup.cli.protocol_text import draw_ladder
from followup.clinical.load_protocols import find_protocol
from followup.core.plan_terms import PlanTerms
from followup.core.precaution import WithoutOrthosis
from followup.core.wearing_goal import WearingGoal
from tests.structure.source_tree import PACKAGE, ROOT

PAGE = ROOT / "docs/protocols.md"
FOLDER = PACKAGE / "clinical/protocols"
HEAD = ("id", "effective_on", "source", "title", "whom", "looks")
MARK = re.compile(r"<!-- example (\w+) -->\n.*?<!-- end of example -->", re.DOTALL)


def example(id: str) -> str:
    """The citation, what the file says below its head, and the ladder as it is drawn."""
    protocol = find_protocol(id)
    minutes = protocol.full_wear_minutes or 480
    goal = WearingGoal(ZoneInfo("UTC"), minutes)
    terms = PlanTerms.of(protocol, goal, frozenset(), WithoutOrthosis.WALKS)
    cited = f"`{FOLDER.name}/{file_of(id)}`: {protocol.source} ({protocol.source_key}, grade {protocol.grade})."
    drawn = "\n".join(draw_ladder(terms))
    return f"{cited}\n\n```toml\n{body_of(id)}\n```\n\n```text\n{drawn}\n```"


def file_of(id: str) -> str:
    """The newest form's file."""
    return sorted(file.name for file in FOLDER.glob(f"{id}_*.toml"))[-1]


def body_of(id: str) -> str:
    """The file without what every file has at its head."""
    lines = (FOLDER / file_of(id)).read_text().splitlines()
    return "\n".join(line for line in lines if line.split(" = ")[0] not in HEAD).strip()


def written(text: str) -> str:
    """The page with each example made anew."""
    return MARK.sub(lambda found: f"<!-- example {found[1]} -->\n{example(found[1])}\n<!-- end of example -->", text)


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text()))
