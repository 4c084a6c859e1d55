"""The rule set in force on a day, from dated TOML files, proved before anybody may use it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from datetime import date
from functools import cache
from typing import Any

from followup.clinical.load_findings import LANGUAGES, build_findings, build_gates, check_lines
from followup.clinical.load_sources import CLINICAL, load_sources, read_toml
from followup.clinical.prove import prove
from followup.core.finding import Answer, Finding, FindingKind
from followup.core.place import Place
from followup.core.rule_set import (
    COMMON_PRACTICE,
    OVER_LIMIT,
    OVER_TARGET,
    PRECAUTIONS,
    AloneOk,
    Condition,
    Outcome,
    RedFlag,
    Rule,
    RuleSet,
    RuleWords,
)
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import InvalidInput

_RELATIVE = (OVER_LIMIT, OVER_TARGET)
_RULE_KEYS = {
    "id",
    "label",
    "when",
    "precautions",
    "days_since_delivery_from",
    "urgency",
    "instruction",
    "cannot_stand",
}
_RULE_KEYS |= {"causes", "sources", "effective_on", "withdrawn", *LANGUAGES}


@cache
def load_rule_set(on: date | None = None) -> RuleSet:
    """The rule set in force on `on`, or the newest; raises ``InvalidInput`` naming the first fault found."""
    return build_rule_set(read_raw(), on)


def read_raw() -> dict[str, Any]:
    """Every clinical file of the rule set as plain data, not yet checked."""
    gates, urgency = read_toml("gates.toml"), read_toml("urgency.toml")
    return {
        "findings": _entries("findings", "finding"),
        "gates": gates["gate"],
        "labels": gates["labels"],
        "rules": _entries("rules", "rule"),
        "alone_ok": read_toml("alone_ok.toml")["alone_ok"],
        "red_flags": read_toml("red_flags.toml")["red_flag"],
        "causes": read_toml("causes.toml")["cause"],
        "urgency": urgency["urgency"],
        "instruction": urgency["instruction"],
        "sources": dict(load_sources()),
    }


def _entries(folder: str, table: str) -> list[dict[str, Any]]:
    names = sorted(each.name for each in (CLINICAL / folder).iterdir() if each.name.endswith(".toml"))
    return [entry for name in names for entry in read_toml(f"{folder}/{name}")[table]]


def build_rule_set(raw: Mapping[str, Any], on: date | None = None) -> RuleSet:
    """A checked and proved rule set from plain data; raises ``InvalidInput`` with the place of the fault."""
    entries = in_force(raw["rules"], on)
    findings, gates = build_findings(raw, _urgent(entries)), build_gates(raw["gates"])
    check_lines(gates, findings)
    rules = tuple(_rule(entry, findings, raw) for entry in entries)
    rule_set = RuleSet(
        id=f"rules-{max(rule.effective_on for rule in rules).isoformat()}",
        digest=_digest({**raw, "rules": entries}),
        findings=findings,
        rules=rules,
        gates=gates,
        alone_ok=tuple(_alone_ok(entry, findings, raw) for entry in raw["alone_ok"]),
        red_flags=tuple(_red_flag(entry, findings, raw) for entry in raw["red_flags"]),
        causes=_translated(raw["causes"], ("label", "check")),
        urgency_words=_translated(raw["urgency"], ("staff", "family")),
        instruction_words=_translated(raw["instruction"], ("staff", "family")),
        sources=raw["sources"],
    )
    prove(rule_set)
    return rule_set


def in_force(entries: Iterable[Mapping[str, Any]], on: date | None) -> list[Mapping[str, Any]]:
    """The newest dated form of each rule on `on`; a day before the first rule sees the first forms.

    A change is a dated successor under the same id; a rule is ended by a successor with ``withdrawn = true``.
    """
    ordered = sorted(entries, key=_effective_on)
    first = _effective_on(ordered[0])
    day = date.max if on is None else max(on, first)
    chosen: dict[str, Mapping[str, Any]] = {}
    for entry in ordered:
        earlier = chosen.get(entry["id"])
        if earlier is not None and _effective_on(earlier) == _effective_on(entry):
            raise InvalidInput("duplicate_rule", f"Two rules are called {entry['id']} from the same day.", entry["id"])
        if _effective_on(entry) <= day:
            chosen[entry["id"]] = entry
    return [each for each in chosen.values() if not each.get("withdrawn", False)]


def _effective_on(entry: Mapping[str, Any]) -> date:
    day = entry.get("effective_on")
    if not entry.get("id") or type(day) is not date:
        raise InvalidInput("bad_rule", "Give every rule an id and the day it takes effect.", str(entry.get("id", "")))
    return day


def _urgent(entries: Iterable[Mapping[str, Any]]) -> frozenset[str]:
    """Findings that some rule takes to clinician today or more."""
    return frozenset(
        finding
        for entry in entries
        if _urgency(entry.get("urgency"), entry["id"]) >= Urgency.CLINICIAN_TODAY
        for finding in entry.get("when", {})
    )


def _rule(entry: Mapping[str, Any], findings: Mapping[str, Finding], raw: Mapping[str, Any]) -> Rule:
    id = entry["id"]
    unknown = entry.keys() - _RULE_KEYS
    if unknown or not entry.get("when") or not entry.get("label"):
        raise InvalidInput("bad_rule", f"Give a label, a condition and only known keys: {sorted(unknown)}.", id)
    return Rule(
        id=id,
        label=entry["label"],
        when=tuple(_condition(finding, value, findings, id) for finding, value in entry["when"].items()),
        urgency=_urgency(entry["urgency"], id),
        instruction=_instruction(entry.get("instruction"), id),
        effective_on=entry["effective_on"],
        sources=_sources(entry, raw, id),
        precautions=_precautions(entry, id),
        days_since_delivery_from=entry.get("days_since_delivery_from"),
        cannot_stand=_outcome(entry["cannot_stand"], id) if "cannot_stand" in entry else None,
        causes=_causes(entry, raw, id),
        words=_rule_words(entry, id),
    )


def _condition(finding_id: str, value: Answer, findings: Mapping[str, Finding], rule: str) -> Condition:
    finding = findings.get(finding_id)
    if finding is None:
        raise InvalidInput("unknown_finding", f"There is no finding called {finding_id!r}.", f"{rule}.when")
    if value in _RELATIVE and finding.kind is FindingKind.NUMBER:
        return Condition(finding_id, value, 1)
    try:
        rank = finding.rank(value)
    except InvalidInput as error:
        raise InvalidInput("impossible_threshold", error.message, f"{rule}.when.{finding_id}") from error
    if rank == 0:
        raise InvalidInput(
            "impossible_threshold", "A rule cannot start at the best answer.", f"{rule}.when.{finding_id}"
        )
    return Condition(finding_id, value, rank)


def _outcome(entry: Mapping[str, Any], rule: str) -> Outcome:
    return Outcome(_urgency(entry.get("urgency"), rule), _instruction(entry.get("instruction"), rule))


def _urgency(id: object, rule: str) -> Urgency:
    try:
        return Urgency.from_id(str(id))
    except KeyError as error:
        raise InvalidInput("bad_rule", f"{id!r} is not an urgency.", f"{rule}.urgency") from error


def _instruction(id: object, rule: str) -> WearInstruction:
    try:
        return WearInstruction(str(id))
    except ValueError as error:
        raise InvalidInput("bad_rule", f"{id!r} is not a wear instruction.", f"{rule}.instruction") from error


def _sources(entry: Mapping[str, Any], raw: Mapping[str, Any], id: str) -> tuple[str, ...]:
    """Keys of documents, or "common practice, no source" said openly."""
    sources = tuple(entry.get("sources", ()))
    unknown = [each for each in sources if each != COMMON_PRACTICE and each not in raw["sources"]]
    if not sources or unknown:
        raise InvalidInput(
            "missing_source", f"Name a source, or {COMMON_PRACTICE!r}. Unknown: {unknown}.", f"{id}.sources"
        )
    return sources


def _precautions(entry: Mapping[str, Any], id: str) -> frozenset[str]:
    precautions = frozenset(entry.get("precautions", ()))
    if precautions - PRECAUTIONS:
        raise InvalidInput("unknown_precaution", f"Unknown: {sorted(precautions - PRECAUTIONS)}.", f"{id}.precautions")
    return precautions


def _causes(entry: Mapping[str, Any], raw: Mapping[str, Any], id: str) -> tuple[str, ...]:
    causes = tuple(entry.get("causes", ()))
    if not raw["causes"].keys() >= set(causes):
        raise InvalidInput("unknown_cause", f"Unknown among {causes}.", f"{id}.causes")
    return causes


def _rule_words(entry: Mapping[str, Any], id: str) -> dict[str, RuleWords]:
    translated = _translated({id: {each: entry.get(each, {}) for each in LANGUAGES}}, ("family", "staff"))[id]
    return {language: RuleWords(words["family"], words["staff"]) for language, words in translated.items()}


def _translated(table: Mapping[str, Any], parts: tuple[str, ...]) -> dict[str, Mapping[str, Mapping[str, str]]]:
    """The table, once every entry is known to have every part in every language."""
    for id, words in table.items():
        for language in LANGUAGES:
            if not all(words.get(language, {}).get(part) for part in parts):
                raise InvalidInput("missing_translation", f"Give {' and '.join(parts)} in {language}.", id)
    return dict(table)


def _alone_ok(entry: Mapping[str, Any], findings: Mapping[str, Finding], raw: Mapping[str, Any]) -> AloneOk:
    if entry["finding"] not in findings:
        raise InvalidInput("unknown_finding", f"There is no finding called {entry['finding']!r}.", "alone_ok")
    return AloneOk(entry["finding"], entry["at_most"], _sources(entry, raw, f"alone_ok.{entry['finding']}"))


def _red_flag(entry: Mapping[str, Any], findings: Mapping[str, Finding], raw: Mapping[str, Any]) -> RedFlag:
    id = entry["id"]
    for finding, value in entry["findings"].items():
        _condition(finding, value, findings, id)
    return RedFlag(
        id=id,
        label=entry["label"],
        findings=dict(entry["findings"]),
        precautions=_precautions(entry, id),
        urgency=_urgency(entry["urgency"], id),
        sources=_sources(entry, raw, id),
    )


def _digest(raw: Mapping[str, Any]) -> str:
    text = json.dumps(raw, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@cache
def load_places() -> tuple[Place, ...]:
    """Every place on the leg, riskiest group first."""
    regions = json.loads((CLINICAL / "places.json").read_text("utf-8"))["regions"]
    return tuple(_place(each) for each in regions)


def _place(raw: Mapping[str, Any]) -> Place:
    words = {language: str(raw[language]) for language in LANGUAGES}
    return Place(raw["id"], words, raw["clinical"], raw["risk_order"], raw["risk_group"], tuple(raw["views"]))


def load_replies() -> Mapping[int, Mapping[str, Answer]]:
    """What each text reply 1 to 4 states, by finding."""
    return {int(number): _stated(entry) for number, entry in read_toml("replies.toml")["reply"].items()}


def load_looks() -> Mapping[str, Mapping[str, Answer]]:
    """What each of the page's first buttons states: clear, mark, broken, call."""
    return {look: _stated(entry) for look, entry in read_toml("replies.toml")["look"].items()}


def _stated(entry: Mapping[str, Any]) -> dict[str, Answer]:
    findings = load_rule_set().findings.values()
    best = {each.id: each.best for each in findings if each.gate in entry.get("gates", ())}
    return {**best, **entry.get("findings", {})}
