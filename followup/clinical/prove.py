"""What is proved of a rule set, exactly, each time it is loaded; the first fault stops the load."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from followup.core.finding import Answer, Finding, FindingKind
from followup.core.rule_set import NOTHING, OVER_LIMIT, OVER_TARGET, PRECAUTIONS, Outcome, Rule, RuleSet
from followup.core.triage import Facts, read_rules, settle, triage
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import InvalidInput

_TARGET = 60
_LIMITS = (20, 40)
_NO_PRECAUTION = dict.fromkeys(sorted(PRECAUTIONS), False)


def prove(rule_set: RuleSet) -> None:
    """Raises ``InvalidInput`` unless every rule is safe and live, every red flag and every answer is provided for."""
    for rule in rule_set.rules:
        _prove_safe(rule)
        _prove_live(rule_set, rule)
    _prove_red_flags(rule_set)
    for finding in rule_set.findings.values():
        _prove_answers(rule_set, finding)
        _prove_urgent_alone(rule_set, finding)


def calm_facts(rule_set: RuleSet) -> Facts:
    """Everything asked and at its best, no precaution, walks without the orthosis."""
    findings = {each.id: each.best for each in rule_set.findings.values()}
    return Facts(findings, _NO_PRECAUTION, "walks", days_since_delivery=0, target_minutes=_TARGET)


def minimal_point(rule_set: RuleSet, rule: Rule, mark_limit_minutes: int = 20) -> Facts:
    """The least that makes `rule` fire: its thresholds, one of its precautions, everything else at its best."""
    calm = calm_facts(rule_set)
    facts = replace(calm, mark_limit_minutes=mark_limit_minutes, days_since_delivery=rule.days_since_delivery_from or 0)
    values = {each.finding: value_at(rule_set.findings[each.finding], each.at_least, facts) for each in rule.when}
    present = {min(rule.precautions): True} if rule.precautions else {}
    return replace(facts, findings={**calm.findings, **values}, precautions={**_NO_PRECAUTION, **present})


def value_at(finding: Finding, at_least: Answer, facts: Facts) -> Answer:
    """The answer a condition starts at, with "over_limit" and "over_target" in minutes."""
    if finding.kind is FindingKind.NUMBER and at_least == OVER_LIMIT:
        return facts.mark_limit_minutes + 1
    if finding.kind is FindingKind.NUMBER and at_least == OVER_TARGET:
        return (facts.target_minutes or 0) + 1
    return at_least


def lower_than(old: RuleSet, new: RuleSet) -> tuple[str, ...]:
    """Rules of `old` at whose minimal point `new` asks for less: each lowering is to be listed and signed."""
    return tuple(rule.id for rule in old.rules if _falls_short(rule_outcome(new, minimal_point(old, rule)), old, rule))


def _falls_short(outcome: Outcome, old: RuleSet, rule: Rule) -> bool:
    before = rule_outcome(old, minimal_point(old, rule))
    return before.join(outcome) != outcome


def rule_outcome(rule_set: RuleSet, facts: Facts) -> Outcome:
    """Both outputs with what is known, unanswered findings at their best."""
    known = {id: value for id, value in facts.findings.items() if id in rule_set.findings}
    facts = replace(facts, findings=known)
    return settle(read_rules(rule_set, facts).fired, facts)


def _prove_safe(rule: Rule) -> None:
    """No rule asks for nothing, and none asks for more care in one output than the other allows."""
    if Outcome(rule.urgency, rule.instruction) == NOTHING or rule.instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
        raise _fault(
            "pointless_rule", f"{rule.id} asks for nothing, or for what only a protective orthosis may.", rule.id
        )
    if rule.urgency is Urgency.KEEP_TO_PLAN:
        raise _fault("silent_rule", "A rule must at least reach the desk.", rule.id)
    if rule.urgency is Urgency.EMERGENCY_NOW and rule.instruction is not WearInstruction.OFF_UNTIL_WE_SPEAK:
        raise _fault("emergency_worn", "In an emergency the orthosis stays off until we speak.", rule.id)
    if rule.urgency >= Urgency.CLINICIAN_NEXT_DAY and rule.instruction is WearInstruction.AS_PLANNED:
        raise _fault("raised_while_waiting", "Wear must not go up while a clinician is to call.", rule.id)
    if rule.instruction is WearInstruction.OFF_UNTIL_WE_SPEAK and rule.urgency < Urgency.CLINICIAN_NEXT_DAY:
        raise _fault("off_without_call", "Off until we speak needs a clinician to speak.", rule.id)


def _prove_live(rule_set: RuleSet, rule: Rule) -> None:
    """At its own minimal point the rule decides: it states the whole result, and without it the result is less."""
    for limit in _LIMITS:
        facts = minimal_point(rule_set, rule, limit)
        fired = read_rules(rule_set, facts).fired
        others = tuple(each for each in fired if each.id != rule.id)
        if rule in fired and settle(others, facts) != settle(fired, facts) == settle((rule,), facts):
            return
    raise _fault("dead_rule", f"{rule.id} never decides: other rules always say as much.", rule.id)


def _prove_red_flags(rule_set: RuleSet) -> None:
    """Each reaches its published level with its precautions present, and with none recorded."""
    for flag in rule_set.red_flags:
        for precautions in ({**_NO_PRECAUTION, **dict.fromkeys(flag.precautions, True)}, dict[str, bool]()):
            calm = calm_facts(rule_set)
            facts = replace(calm, findings={**calm.findings, **flag.findings}, precautions=precautions)
            reached = triage(rule_set, facts).urgency
            if reached < flag.urgency:
                raise _fault("red_flag_too_low", f"{flag.label}: reaches {reached.id}, not {flag.urgency.id}.", flag.id)


def _prove_answers(rule_set: RuleSet, finding: Finding) -> None:
    """Every answer but the best, alone, gives more than "keep to the plan" or stands in the sourced list."""
    calm = calm_facts(rule_set)
    excused = {each.finding: each for each in rule_set.alone_ok}
    for value in _answers_to_prove(finding, excused, calm):
        facts = replace(calm, findings={**calm.findings, finding.id: value})
        if triage(rule_set, facts).urgency is Urgency.KEEP_TO_PLAN:
            raise _fault("answer_ignored", f"{finding.id} = {value} alone asks for nothing.", finding.id)


def _answers_to_prove(finding: Finding, excused: Mapping[str, object], calm: Facts) -> Iterator[Answer]:
    """Answers beyond the excused ones; for a number the first value beyond stands for all, by monotony."""
    if finding.kind is not FindingKind.NUMBER:
        yield from (each for each in finding.answers[1:] if finding.id not in excused)
        return
    least = excused.get(finding.id)
    at_most = finding.best if least is None else _excused_up_to(least, calm)
    yield int(at_most) + 1


def _excused_up_to(entry: object, calm: Facts) -> int:
    at_most = getattr(entry, "at_most", 0)
    named = {"limit": calm.mark_limit_minutes, "target": calm.target_minutes or 0}
    return named[at_most] if isinstance(at_most, str) else int(at_most)


def _prove_urgent_alone(rule_set: RuleSet, finding: Finding) -> None:
    """An urgent finding, alone at its worst, reaches a clinician: so leaving it unanswered can be seen to matter."""
    calm = calm_facts(rule_set)
    facts = replace(calm, findings={**calm.findings, finding.id: finding.worst})
    if finding.urgent and triage(rule_set, facts).urgency < Urgency.CLINICIAN_NEXT_DAY:
        raise _fault("urgent_alone_too_low", f"{finding.id} at its worst must reach a clinician by itself.", finding.id)


def _fault(code: str, message: str, path: str) -> InvalidInput:
    return InvalidInput(code, message, path)
