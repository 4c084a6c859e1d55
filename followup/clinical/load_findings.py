"""The vocabulary from its TOML files: findings, their words and the gates they stand behind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from followup.core.finding import CANT_SAY, Answer, Finding, FindingKind, FindingWords
from followup.core.rule_set import Gate, GateLine
from followup.errors import InvalidInput

LANGUAGES = ("en", "es")
_KNOWN = {"id", "kind", "unit", "answers", "choices", "best", "gate", "asked", *LANGUAGES}


def build_findings(raw: Mapping[str, Any], urgent: frozenset[str]) -> dict[str, Finding]:
    """Every finding by id, in the order of the files; `urgent` are those a rule takes to clinician today or more."""
    findings: dict[str, Finding] = {}
    for entry in raw["findings"]:
        finding = _finding(entry, raw["labels"], urgent)
        if finding.id in findings:
            raise InvalidInput("duplicate_finding", f"Two findings are called {finding.id}.", finding.id)
        if finding.gate is not None and finding.gate not in {each["id"] for each in raw["gates"]}:
            raise InvalidInput("unknown_gate", f"{finding.id} stands behind an unknown gate.", finding.id)
        findings[finding.id] = finding
    return findings


def _finding(entry: Mapping[str, Any], labels: Mapping[str, Any], urgent: frozenset[str]) -> Finding:
    id = str(entry.get("id", ""))
    unknown = entry.keys() - _KNOWN
    if not id or unknown:
        raise InvalidInput("bad_finding", f"Give an id and no other keys than the known ones: {sorted(unknown)}.", id)
    kind = FindingKind(entry.get("kind", "boolean"))
    answers = _answers(kind, entry)
    return Finding(
        id=id,
        kind=kind,
        answers=answers,
        unit=entry.get("unit", ""),
        urgent=id in urgent,
        gate=entry.get("gate"),
        asked=entry.get("asked", True),
        choices=tuple(entry.get("choices", ())),
        words={language: _words(id, kind, entry, labels, language) for language in LANGUAGES},
    )


def _answers(kind: FindingKind, entry: Mapping[str, Any]) -> tuple[Answer, ...]:
    if kind is FindingKind.BOOLEAN:
        best = bool(entry.get("best", False))
        return (best, not best)
    answers = tuple(entry.get("answers", ()))
    if len(answers) < 2 or len(set(answers)) != len(answers) or CANT_SAY in answers:
        raise InvalidInput("bad_finding", "Give at least two different answers, best first.", entry["id"])
    if kind is FindingKind.NUMBER and not (len(answers) == 2 and answers[0] < answers[1]):
        raise InvalidInput("bad_finding", "Give the lowest and the highest number allowed.", entry["id"])
    return answers


def _words(
    id: str, kind: FindingKind, entry: Mapping[str, Any], labels: Mapping[str, Any], language: str
) -> FindingWords:
    words = entry.get(language, {})
    if not all(words.get(each) for each in ("family", "staff", "short")):
        raise InvalidInput("missing_translation", f"Give family, staff and short words in {language}.", id)
    shared = dict(labels[language])
    own = dict(words.get("labels", {}))
    offered = entry.get("choices", entry.get("answers", ()))
    missing = [str(each) for each in offered if kind is FindingKind.ORDERED and str(each) not in own]
    missing += [str(each) for each in entry.get("choices", ()) if str(each) not in own]
    if missing:
        raise InvalidInput("missing_translation", f"Label {', '.join(missing)} in {language}.", id)
    return FindingWords(words["family"], words["staff"], words["short"], {**shared, **own})


def build_gates(entries: Iterable[Mapping[str, Any]]) -> dict[str, Gate]:
    """Each gate by id, with words in every language."""
    gates: dict[str, Gate] = {}
    for entry in entries:
        for language in LANGUAGES:
            if not all(entry.get(language, {}).get(each) for each in ("family", "staff", "none", "not_sure")):
                raise InvalidInput("missing_translation", f"Give all words in {language}.", entry["id"])
        lines = tuple(_line(line, entry["id"]) for line in entry.get("line", ()))
        gates[entry["id"]] = Gate(entry["id"], {each: entry[each] for each in LANGUAGES}, lines)
    return gates


def check_lines(gates: Mapping[str, Gate], findings: Mapping[str, Finding]) -> None:
    """Every member of a gate that is asked stands in exactly one of its lines, or nobody would be shown it."""
    for gate in gates.values():
        members = sorted(each.id for each in findings.values() if each.gate == gate.id)
        shown = sorted(id for line in gate.lines for id in line.findings)
        if gate.lines and members != shown:
            odd = ", ".join(sorted(set(members) ^ set(shown)) or shown)
            raise InvalidInput("bad_gate", f"Each member must stand in exactly one line; look at {odd}.", gate.id)


def _line(entry: Mapping[str, Any], gate_id: str) -> GateLine:
    if not all(entry.get(each) for each in ("id", "findings", *LANGUAGES)):
        raise InvalidInput("bad_gate", "Give each line an id, its findings, and words in every language.", gate_id)
    return GateLine(entry["id"], tuple(entry["findings"]), {each: entry[each] for each in LANGUAGES})
