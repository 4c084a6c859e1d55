"""The rows of the changelog for the rules: run it to print those that docs/changelog.md lacks.

``.venv/bin/python -m tests.docs.rule_rows``
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from followup.clinical.load_rules import read_raw
from tests.structure.source_tree import ROOT

CLINICAL = (ROOT / "docs/changelog.md").read_text().split("### Clinical")[1].split("###")[0].splitlines()


def missing_rows() -> Iterator[str]:
    """A row for each dated form of a rule that the changelog does not hold with its source and date."""
    for rule in read_raw()["rules"]:
        start, end = f"| rule `{rule['id']}` | ", f" | {_sources(rule['sources'])} | {rule['effective_on']} |"
        if not any(line.startswith(start) and line.endswith(end) for line in CLINICAL):
            yield f"{start}First form. {rule['label']}.{end}"


def _sources(keys: list[str]) -> str:
    return ", ".join(keys) or "common practice"


if __name__ == "__main__":
    sys.stdout.writelines(row + "\n" for row in missing_rows())
