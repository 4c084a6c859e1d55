"""The tables of docs/rules.md, made from the rule set in force: `python -m tests.docs.rules_table` writes them."""

from __future__ import annotations

import re
from pathlib import Path

from followup.clinical.load_rules import load_rule_set
from followup.clinical.load_sources import cite
from followup.core.rule_set import COMMON_PRACTICE, OVER_LIMIT, OVER_TARGET, Rule
from tests.structure.source_tree import ROOT

PAGE = ROOT / "docs/rules.md"
RULES = load_rule_set()
SHOWN = {OVER_LIMIT: "> the mark limit", OVER_TARGET: "> the day's target", True: "", False: "= no"}


def table_of_rules() -> str:
    rows = [f"| `{rule.id}` | {when(rule)} | {asks(rule)} | {', '.join(rule.sources)} |" for rule in RULES.rules]
    return "\n".join(["| rule | fires when | asks for | sources |", "|---|---|---|---|", *rows])


def table_of_red_flags() -> str:
    rows = [f"| {flag.label} | {words(flag.urgency.id)} | {', '.join(flag.sources)} |" for flag in RULES.red_flags]
    return "\n".join(["| danger sign, as published | at least | sources |", "|---|---|---|", *rows])


def table_of_excused() -> str:
    rows = [f"| `{each.finding}` | {each.at_most} | {', '.join(each.sources)} |" for each in RULES.alone_ok]
    return "\n".join(["| finding | no cause up to | sources |", "|---|---|---|", *rows])


def table_of_sources() -> str:
    cited = {key for rule in RULES.rules for key in rule.sources} | {key for f in RULES.red_flags for key in f.sources}
    cited |= {key for each in RULES.alone_ok for key in each.sources}
    rows = [f"| `{key}` | {cite(key, RULES.sources)} |" for key in sorted(cited - {COMMON_PRACTICE})]
    return "\n".join(["| key | document [grade] |", "|---|---|", *rows])


def when(rule: Rule) -> str:
    parts = [f"`{each.finding}` {shown(each.at_least)}".strip() for each in rule.when]
    if rule.precautions:
        parts.append("any of " + ", ".join(f"*{each}*" for each in sorted(rule.precautions)))
    if rule.days_since_delivery_from is not None:
        parts.append(f"day {rule.days_since_delivery_from} or later")
    return " and ".join(parts)


def shown(value: object) -> str:
    if isinstance(value, bool) or value in SHOWN:
        return SHOWN[value]
    return f"≥ {value}"


def asks(rule: Rule) -> str:
    said = f"{words(rule.urgency.id)}; {said_of(rule.instruction)}"
    if rule.cannot_stand is None:
        return said
    urgency, instruction = rule.cannot_stand
    return f"{said} (cannot stand without it: {words(urgency.id)}; {said_of(instruction)})"


def words(urgency: str) -> str:
    return RULES.urgency_words[urgency]["en"]["staff"]


def said_of(instruction: str) -> str:
    return RULES.instruction_words[instruction]["en"]["staff"].lower()


TABLES = {
    "rules": table_of_rules,
    "red flags": table_of_red_flags,
    "excused": table_of_excused,
    "sources": table_of_sources,
}


def written(text: str) -> str:
    """The page with each table between its two marks made anew."""
    for name, make in TABLES.items():
        marks = (f"<!-- {name}: made from the rule set -->", f"<!-- end of {name} -->")
        pattern = re.escape(marks[0]) + ".*?" + re.escape(marks[1])
        table = f"{marks[0]}\n{make()}\n{marks[1]}"
        text, found = re.subn(pattern, lambda _, table=table: table, text, flags=re.DOTALL)
        assert found == 1, name
    return text


def rewrite(page: Path = PAGE) -> None:
    page.write_text(written(page.read_text()))


if __name__ == "__main__":
    rewrite()
