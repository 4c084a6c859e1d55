"""Commands that need no database: the vocabulary, the rules, and triage of a file of facts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import click

from followup.cli.json_input import each_key_once
from followup.clinical.load_rules import load_rule_set
from followup.clinical.load_sources import cite
from followup.core.facts_json import parse_facts
from followup.core.finding import Finding
from followup.core.interview import Question, QuestionKind, next_question
from followup.core.rule_set import Rule, RuleSet
from followup.core.triage import Facts, TriageResult, as_json
from followup.core.triage import triage as triage_facts
from followup.errors import InvalidInput

as_text_or_json = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="How to print it."
)


@click.group()
def findings() -> None:
    """The facts that can be reported."""


@findings.command("list")
@as_text_or_json
def list_findings(form: str) -> None:
    """Every finding, with its answers from best to worst."""
    rows = [finding_as_json(each) for each in load_rule_set().findings.values()]
    _print(rows, form, ("id", "kind", "unit", "answers", "urgent", "gate"))


@click.group()
def rules() -> None:
    """The rules in force."""


@rules.command("list")
@as_text_or_json
def list_rules(form: str) -> None:
    """Every rule, with what it asks for and its sources."""
    rows = [rule_as_json(each) for each in load_rule_set().rules]
    _print(rows, form, ("id", "when", "urgency", "instruction", "sources"))


@click.command()
@click.option(
    "--findings",
    "file",
    required=True,
    type=click.Path(exists=True, dir_okay=False, allow_dash=True, path_type=Path),
    help="A JSON file of findings, precautions and context; - reads standard input.",
)
@click.option("--next", "ask_next", is_flag=True, help="Show the next question too.")
@as_text_or_json
def triage(file: Path, ask_next: bool, form: str) -> None:
    """How soon somebody must act on the facts of a file, and what to do with the orthosis meanwhile."""
    rule_set = load_rule_set()
    facts = parse_facts(rule_set, _read_json(file))
    result = triage_facts(rule_set, facts)
    question = next_question(rule_set, facts) if ask_next else None
    if form == "text":
        click.echo("\n".join(_sentences(rule_set, result, facts, question, ask_next)))
        return
    shown = as_json(result)
    if ask_next:
        shown["next"] = question_as_json(rule_set, question, facts)
    click.echo(json.dumps(shown, ensure_ascii=False, indent=2))


def finding_as_json(finding: Finding) -> dict[str, Any]:
    """One row of `findings list`; `unit` and `gate` are null where there is none."""
    return {
        "id": finding.id,
        "kind": str(finding.kind),
        "unit": finding.unit or None,
        "answers": list(finding.answers),
        "urgent": finding.urgent,
        "gate": finding.gate,
        "question": finding.words["en"].family,
    }


def rule_as_json(rule: Rule) -> dict[str, Any]:
    """One row of `rules list`; `when` holds the thresholds and, where they narrow it, precautions and days."""
    when: dict[str, Any] = {each.finding: each.at_least for each in rule.when}
    if rule.precautions:
        when["precautions"] = sorted(rule.precautions)
    if rule.days_since_delivery_from is not None:
        when["days_since_delivery"] = rule.days_since_delivery_from
    return {
        "id": rule.id,
        "label": rule.label,
        "when": when,
        "urgency": rule.urgency.id,
        "level": int(rule.urgency),
        "instruction": str(rule.instruction),
        "sources": list(rule.sources),
        "effective_on": rule.effective_on.isoformat(),
    }


def question_as_json(rule_set: RuleSet, question: Question | None, facts: Facts) -> dict[str, Any] | None:
    """The next question with its words; null when nothing can change the result."""
    if question is None:
        return None
    return {
        "kind": str(question.kind),
        "id": question.id,
        "findings": list(question.findings),
        "answers": list(question.answers),
        "text": _question_text(rule_set, question),
    }


def _question_text(rule_set: RuleSet, question: Question) -> str:
    if question.kind is QuestionKind.GATE:
        return rule_set.gates[question.id].words["en"]["family"]
    return rule_set.findings[question.id].words["en"].family


def _read_json(file: Path) -> object:
    try:
        with click.open_file(str(file), encoding="utf-8") as stream:
            raw: object = json.load(stream, object_pairs_hook=each_key_once)
        json.dumps(raw, ensure_ascii=False).encode()  # half a character cannot be printed back in an error
        return raw
    except (ValueError, RecursionError) as error:
        raise InvalidInput("not_json", f"The file must be one JSON object: {error}.", str(file)) from error


def _print(rows: Sequence[dict[str, Any]], form: str, columns: Iterable[str]) -> None:
    if form == "json":
        click.echo(json.dumps(rows, ensure_ascii=False, indent=2))
        return
    for row in rows:
        click.echo("  ".join(_cell(row[each]) for each in columns))


def _cell(value: Any) -> str:
    if isinstance(value, dict):
        return " and ".join(f"{name} ≥ {_cell(each)}" for name, each in value.items())
    if isinstance(value, list):
        return ", ".join(_cell(each) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "-" if value is None else str(value)


def _sentences(
    rule_set: RuleSet, result: TriageResult, facts: Facts, question: Question | None, ask_next: bool
) -> list[str]:
    """The result in words; levels are never shown as numbers."""
    urgency = rule_set.urgency_words
    lines = [
        urgency[result.urgency.id]["en"]["staff"] + ".",
        rule_set.instruction_words[result.instruction_key]["en"]["family"],
    ]
    if result.floor != result.ceiling:
        least, most = urgency[result.floor.id]["en"]["staff"], urgency[result.ceiling.id]["en"]["staff"]
        lines.append(f"At least {least}; it could become {most}.")
    for rule in result.fired:
        lines.append(f"- {rule.label} ({'; '.join(cite(each, rule_set.sources) for each in rule.sources)})")
    if ask_next:
        lines.append(f"Next: {_question_text(rule_set, question)}" if question else "Nothing more to ask.")
    return lines
