"""The table of docs/precautions.md, made from the rules of caution: `python -m tests.docs.precautions_table` writes it.

With ``--changelog`` it prints the rows that docs/changelog.md lacks.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator

from followup.clinical.load_precautions import load_precautions
from followup.core.tightening import Ask, Tightening
from tests.structure.source_tree import ROOT

PAGE = ROOT / "docs/precautions.md"
MARKS = ("<!-- precautions: made from the rules -->", "<!-- end of precautions -->")
CHANGES = {
    Ask.MARK_LIMIT: "mark limit: {minutes} minutes at most",
    Ask.SMALLER_STEPS: "smaller steps",
    Ask.BOTH_LOOKS: "both looks",
    Ask.BY_TOUCH: "by touch",
    Ask.LOOK_WHILE_ON: "looks while it is worn: every {minutes} minutes up to wearing day {until_day}",
    Ask.NAMED_CHECKER: "named checker",
    Ask.NO_SELF_ADVANCE: "clinician raises",
    Ask.WATCHED: "watched",
    Ask.NEVER_REDUCED: "stays on",
}


def change(rule: Tightening) -> str:
    return CHANGES[rule.asks].format(minutes=rule.minutes, until_day=rule.until_day)


def table() -> str:
    rows = [
        f"| {', '.join(f'`{each}`' for each in rule.precautions)} | {change(rule)} | {rule.says} | {rule.ours} "
        f"| {rule.source} `{rule.source_key}` [{rule.grade}] |"
        for rule in load_precautions()
    ]
    return "\n".join(
        [
            "| precaution | what changes | as published | as settled here | source [grade] |",
            "|---|---|---|---|---|",
            *rows,
        ]
    )


def written(text: str) -> str:
    """The page with its table made anew."""
    made, found = re.subn(
        re.escape(MARKS[0]) + ".*?" + re.escape(MARKS[1]),
        lambda _: f"{MARKS[0]}\n{table()}\n{MARKS[1]}",
        text,
        flags=re.DOTALL,
    )
    assert found == 1
    return made


def missing_rows(changelog: str) -> Iterator[str]:
    """A changelog row for each rule that has none with its source and date."""
    for rule in load_precautions():
        start, end = f"| caution `{rule.id}` | ", f" | {rule.source_key} | {rule.effective_on} |"
        if not any(line.startswith(start) and line.endswith(end) for line in changelog.splitlines()):
            whom = ", ".join(rule.precautions).replace("_", " ").capitalize()
            yield f"{start}First form. {whom}: {change(rule)}.{end}"


if __name__ == "__main__":
    if "--changelog" in sys.argv:
        sys.stdout.writelines(row + "\n" for row in missing_rows((ROOT / "docs/changelog.md").read_text()))
    else:
        PAGE.write_text(written(PAGE.read_text()))
