"""Which question comes next: only what can still change the result, most dangerous first, silent when nothing can."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from followup.core.finding import Answer, Finding, FindingKind
from followup.core.rule_set import OVER_LIMIT, GateLine, RuleSet
from followup.core.triage import Facts, can_still_raise, read_rules
from followup.errors import InvalidInput, UnknownId

NONE_OF_THESE = "none"
NOT_SURE = "not_sure"
LIMIT = "limit"


class QuestionKind(StrEnum):
    """A gate lists several findings at once; a finding is asked by itself."""

    GATE = "gate"
    FINDING = "finding"


@dataclass(frozen=True, slots=True)
class Question:
    """What to ask. `findings` are the members a gate lists; `answers` are the values a form may send back.

    `lines` are a gate's lines that still speak for a member; the id of one is an answer as well.
    """

    kind: QuestionKind
    id: str
    findings: tuple[str, ...]
    answers: tuple[str, ...]
    lines: tuple[GateLine, ...] = ()


def next_question(rule_set: RuleSet, facts: Facts) -> Question | None:
    """The most dangerous finding that can still change the result, behind its gate where that is closed; else None."""
    reach = can_still_raise(read_rules(rule_set, facts), facts)
    askable = [id for id in rule_set.findings if id in reach and _may_ask(rule_set.findings[id], facts)]
    if not askable:
        return None
    worst = max(askable, key=lambda id: (id in facts.opened, reach[id]))
    return question_for(rule_set, facts, worst)


def question_for(rule_set: RuleSet, facts: Facts, finding_id: str) -> Question:
    """The question that covers one finding now: its gate while that is closed and lists more than one, or itself."""
    finding = rule_set.findings[finding_id]
    members = _gate_members(rule_set, facts, finding.gate)
    if finding.gate is None or finding_id not in members or len(members) < 2:
        return Question(QuestionKind.FINDING, finding_id, (finding_id,), _values(finding, facts))
    return _gate_question(rule_set, finding.gate, members)


def question_called(rule_set: RuleSet, facts: Facts, id: str) -> Question:
    """The question a form names, by gate or finding id; raises ``UnknownId``."""
    if id in rule_set.findings:
        finding = rule_set.findings[id]
        return Question(QuestionKind.FINDING, id, (id,), _values(finding, facts))
    if id in rule_set.gates:
        members = _gate_members(rule_set, facts, id)
        return _gate_question(rule_set, id, members)
    raise UnknownId("unknown_question", f"There is no question called {id!r}; open the page again.", id)


def apply_answer(rule_set: RuleSet, facts: Facts, question: Question, answer: object) -> Facts:
    """`facts` with one answer more. A gate takes "none", "not_sure" or the id of a member that is so.

    Raises ``InvalidInput`` that says what to choose.
    """
    if question.kind is QuestionKind.GATE:
        return _answer_gate(rule_set, facts, question, answer)
    finding = rule_set.findings[question.id]
    text = str(answer) if answer in (LIMIT, OVER_LIMIT) else answer
    value = finding.read(resolve(text, facts.mark_limit_minutes))
    return _with(facts, {question.id: value})


def state_findings(rule_set: RuleSet, facts: Facts, stated: Mapping[str, object]) -> Facts:
    """`facts` with findings said in one go, such as by a text reply; raises ``UnknownId`` or ``InvalidInput``."""
    read: dict[str, Answer] = {}
    for id, value in stated.items():
        if id not in rule_set.findings:
            raise UnknownId("unknown_finding", f"There is no finding called {id!r}; see `findings list`.", id)
        read[id] = rule_set.findings[id].read(resolve(value, facts.mark_limit_minutes))
    return _with(facts, read)


def resolve(value: object, mark_limit_minutes: int) -> object:
    """Minutes in place of "limit" (gone by then) and "over_limit" (outlasts it)."""
    if value == LIMIT:
        return mark_limit_minutes
    return mark_limit_minutes + 1 if value == OVER_LIMIT else value


def _may_ask(finding: Finding, facts: Facts) -> bool:
    return finding.asked and finding.id not in facts.findings


def _gate_members(rule_set: RuleSet, facts: Facts, gate: str | None) -> tuple[str, ...]:
    """Members still to be asked in one go: unanswered and not opened."""
    if gate is None or gate in facts.opened:
        return ()
    return tuple(
        each.id
        for each in rule_set.findings.values()
        if each.gate == gate and _may_ask(each, facts) and each.id not in facts.opened
    )


def _gate_question(rule_set: RuleSet, gate: str, members: tuple[str, ...]) -> Question:
    lines = (replace(line, findings=_among(members, line.findings)) for line in rule_set.gates[gate].lines)
    answers = (NONE_OF_THESE, *members, NOT_SURE)
    return Question(QuestionKind.GATE, gate, members, answers, tuple(line for line in lines if line.findings))


def _among(members: Iterable[str], wanted: Iterable[str]) -> tuple[str, ...]:
    return tuple(id for id in wanted if id in members)


def _answer_gate(rule_set: RuleSet, facts: Facts, question: Question, answer: object) -> Facts:
    if answer == NONE_OF_THESE:
        return _with(facts, {id: rule_set.findings[id].best for id in question.findings})
    if answer == NOT_SURE:
        return replace(facts, opened=facts.opened | {question.id})
    if isinstance(answer, str) and answer in question.findings:
        return _say_member(facts, rule_set.findings[answer])
    for line in question.lines:
        if answer == line.id:
            return replace(facts, opened=facts.opened | frozenset(line.findings))
    choices = (*question.answers, *(line.id for line in question.lines))
    raise InvalidInput("bad_answer", f"Choose one of: {_listed(choices)}.", question.id)


def _say_member(facts: Facts, member: Finding) -> Facts:
    """A yes-or-no member is now known at its worst; any other is to be asked by itself."""
    if member.kind is FindingKind.BOOLEAN:
        return _with(facts, {member.id: member.worst})
    return replace(facts, opened=facts.opened | {member.id})


def _values(finding: Finding, facts: Facts) -> tuple[str, ...]:
    """What a form may send: the choices of a number, or every answer, and "can't say"."""
    chosen = [resolve(each, facts.mark_limit_minutes) for each in finding.choices] or finding.answers
    if finding.kind is FindingKind.BOOLEAN:
        chosen = ["yes", "no"]
    return (*(str(each) for each in chosen), "cant_say")


def _with(facts: Facts, more: Mapping[str, Answer]) -> Facts:
    return replace(facts, findings={**facts.findings, **more})


def _listed(values: Iterable[str]) -> str:
    return ", ".join(values)
