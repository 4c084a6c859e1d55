"""Facts as a JSON object and back: ``{"findings": {}, "precautions": {}, "context": {}}``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from followup.core.finding import CANT_SAY, Answer
from followup.core.precaution import WithoutOrthosis
from followup.core.rule_set import PRECAUTIONS, RuleSet
from followup.core.triage import Facts
from followup.errors import InvalidInput, UnknownId

_PARTS = ("findings", "precautions", "context")
_WHOLE_NUMBERS = {"days_since_delivery": (0, 36500), "mark_limit_minutes": (1, 240), "target_minutes": (0, 1440)}
_CONTEXT = {*_WHOLE_NUMBERS, "without_orthosis", "opened"}


def parse_facts(rule_set: RuleSet, raw: object) -> Facts:
    """Checked facts; raises ``UnknownId`` for a finding or precaution, ``InvalidInput`` for a value or key."""
    parts = _object(raw, "")
    _only(parts, _PARTS, "")
    context = _context(_object(parts.get("context", {}), "context"))
    return Facts(
        findings=_findings(rule_set, _object(parts.get("findings", {}), "findings")),
        precautions=_precautions(_object(parts.get("precautions", {}), "precautions")),
        without_orthosis=context.get("without_orthosis"),
        days_since_delivery=context.get("days_since_delivery"),
        mark_limit_minutes=context.get("mark_limit_minutes", 20),
        target_minutes=context.get("target_minutes"),
        opened=frozenset(context.get("opened", ())),
    )


def facts_as_json(facts: Facts) -> dict[str, Any]:
    """The inverse of `parse_facts`; what is not known is left out."""
    context = {name: getattr(facts, name) for name in (*_WHOLE_NUMBERS, "without_orthosis")}
    known = {name: value for name, value in context.items() if value is not None}
    if facts.opened:
        known["opened"] = sorted(facts.opened)
    return {"findings": dict(facts.findings), "precautions": dict(facts.precautions), "context": known}


def _object(raw: object, path: str) -> Mapping[str, Any]:
    if not isinstance(raw, Mapping):
        raise InvalidInput("not_an_object", "Write a JSON object here.", path)
    return raw


def _only(raw: Mapping[str, Any], known: tuple[str, ...], path: str) -> None:
    for name in raw:
        if name not in known:
            raise InvalidInput("unknown_key", f"Use only {', '.join(known)} here.", f"{path}.{name}".lstrip("."))


def _findings(rule_set: RuleSet, raw: Mapping[str, Any]) -> dict[str, Answer]:
    found: dict[str, Answer] = {}
    for id, value in raw.items():
        path = f"findings.{id}"
        if id not in rule_set.findings:
            raise UnknownId("unknown_finding", f"There is no finding called {id!r}; see `findings list`.", path)
        if value == CANT_SAY:
            found[id] = CANT_SAY
            continue
        try:
            rule_set.findings[id].rank(value)
        except InvalidInput as error:
            raise InvalidInput(error.code, error.message, path) from error
        found[id] = value
    return found


def _precautions(raw: Mapping[str, Any]) -> dict[str, bool]:
    for id, value in raw.items():
        path = f"precautions.{id}"
        if id not in PRECAUTIONS:
            known = ", ".join(sorted(PRECAUTIONS))
            raise UnknownId("unknown_precaution", f"There is no precaution called {id!r}; use one of {known}.", path)
        if not isinstance(value, bool):
            raise InvalidInput("bad_precaution", "Give true or false; leave out what nobody recorded.", path)
    return dict(raw)


def _context(raw: Mapping[str, Any]) -> dict[str, Any]:
    _only(raw, tuple(sorted(_CONTEXT)), "context")
    given = {name: value for name, value in raw.items() if value is not None}
    for name, (low, high) in _WHOLE_NUMBERS.items():
        if name in given and not (type(given[name]) is int and low <= given[name] <= high):
            raise InvalidInput("bad_number", f"Give a whole number from {low} to {high}.", f"context.{name}")
    without = given.get("without_orthosis")
    if without is not None and without not in list(WithoutOrthosis):
        choices = ", ".join(WithoutOrthosis)
        raise InvalidInput("bad_without_orthosis", f"Choose one of {choices}.", "context.without_orthosis")
    opened = given.get("opened", [])
    if not isinstance(opened, list) or not all(isinstance(each, str) for each in opened):
        raise InvalidInput("bad_opened", "Give a list of gate or finding ids.", "context.opened")
    return given
