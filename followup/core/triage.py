"""From answered facts to how soon somebody must act and what to do with the orthosis: pure and order-free."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import reduce

from followup.core.finding import CANT_SAY, Answer
from followup.core.precaution import WithoutOrthosis
from followup.core.rule_set import NOTHING, PRECAUTIONS, Outcome, Rule, RuleSet, RuleWords
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import UnknownId


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known. A finding that is absent was not asked; a precaution that is absent was not recorded.

    `opened` holds the gates (and gate members) to be asked one by one. `target_minutes` is the day's planned wear.
    """

    findings: Mapping[str, Answer] = field(default_factory=dict)
    precautions: Mapping[str, bool] = field(default_factory=dict)
    without_orthosis: str | None = None
    days_since_delivery: int | None = None
    mark_limit_minutes: int = 20
    target_minutes: int | None = None
    opened: frozenset[str] = frozenset()

    @property
    def cannot_stand(self) -> bool:
        """True also where nobody recorded it: unknown is not "no"."""
        return self.without_orthosis is None or WithoutOrthosis(self.without_orthosis).cannot_stand_alone

    @property
    def protective(self) -> bool:
        """True where the orthosis is recorded as protective (fracture, surgery, acute Charcot foot)."""
        return self.precautions.get("protective", False)

    def knows(self, finding: str) -> bool:
        """True where the finding has an answer other than "can't say"."""
        return self.findings.get(finding, CANT_SAY) != CANT_SAY


@dataclass(frozen=True, slots=True)
class FiredRule:
    """A rule that holds, with what it asks for and why it may."""

    id: str
    label: str
    urgency: Urgency
    instruction: WearInstruction
    sources: tuple[str, ...]
    words: Mapping[str, RuleWords]


@dataclass(frozen=True, slots=True)
class TriageResult:
    """Both outputs, with the rules that fired (most urgent first) and what is not answered.

    `floor` takes unanswered findings at their best, `ceiling` at their worst. `still_matters` are the unanswered
    findings that could raise the result. `instruction_key` names the words for the instruction: ``off_sitting`` in
    place of ``off_until_we_speak`` for a wearer who cannot stand alone without the orthosis.
    """

    rule_set: str
    digest: str
    urgency: Urgency
    floor: Urgency
    ceiling: Urgency
    instruction: WearInstruction
    instruction_key: str
    fired: tuple[FiredRule, ...]
    unanswered: tuple[str, ...]
    still_matters: tuple[str, ...]
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """The rules sorted by what is known: fired, or open because only unanswered findings are missing."""

    fired: tuple[Rule, ...]
    open: tuple[Rule, ...]


def triage(rule_set: RuleSet, facts: Facts) -> TriageResult:
    """The result for `facts`. Raises ``UnknownId`` or ``InvalidInput`` for a fact outside the vocabulary."""
    reading = read_rules(rule_set, facts)
    floor = settle(reading.fired, facts)
    ceiling = settle(reading.fired + reading.open, facts)
    unanswered = tuple(each for each in rule_set.findings if not facts.knows(each))
    final = _final(floor, ceiling, any(rule_set.findings[each].urgent for each in unanswered))
    fired = tuple(_fired(rule, facts) for rule in _most_urgent_first(reading.fired, facts))
    return TriageResult(
        rule_set=rule_set.id,
        digest=rule_set.digest,
        urgency=final.urgency,
        floor=floor.urgency,
        ceiling=ceiling.urgency,
        instruction=final.instruction,
        instruction_key=_instruction_key(final.instruction, facts),
        fired=fired,
        unanswered=unanswered,
        still_matters=tuple(can_still_raise(reading, facts)),
        causes=_causes(reading.fired, facts),
    )


def read_rules(rule_set: RuleSet, facts: Facts) -> Reading:
    """Which rules fire and which could still fire; raises for a fact outside the vocabulary."""
    ranks = rank_facts(rule_set, facts)
    fired: list[Rule] = []
    open_rules: list[Rule] = []
    for rule in rule_set.rules:
        if not _concerns(rule, facts):
            continue
        state = _state(rule, ranks, facts)
        if state is True:
            fired.append(rule)
        elif state is None:
            open_rules.append(rule)
    return Reading(tuple(fired), tuple(open_rules))


def rank_facts(rule_set: RuleSet, facts: Facts) -> dict[str, int]:
    """The rank of every known finding. Raises ``UnknownId`` for an id, ``InvalidInput`` for a value, outside it."""
    ranks: dict[str, int] = {}
    for id, value in facts.findings.items():
        if id not in rule_set.findings:
            raise UnknownId("unknown_finding", f"There is no finding called {id!r}; see `findings list`.", id)
        if value != CANT_SAY:
            ranks[id] = rule_set.findings[id].rank(value)
    for id in facts.precautions:
        if id not in PRECAUTIONS:
            known = ", ".join(sorted(PRECAUTIONS))
            raise UnknownId("unknown_precaution", f"There is no precaution called {id!r}; use one of {known}.", id)
    return ranks


def _concerns(rule: Rule, facts: Facts) -> bool:
    """Whether the wearer's precautions and the days since delivery let the rule speak."""
    unrecorded = rule.unrecorded_counts
    if rule.precautions and not any(facts.precautions.get(each, unrecorded) for each in rule.precautions):
        return False
    if rule.days_since_delivery_from is None:
        return True
    if facts.days_since_delivery is None:
        return unrecorded
    return facts.days_since_delivery >= rule.days_since_delivery_from


def _state(rule: Rule, ranks: Mapping[str, int], facts: Facts) -> bool | None:
    """True when every condition holds, False when one cannot, None when it waits for an unanswered finding."""
    waiting = False
    for condition in rule.when:
        threshold = condition.threshold(facts.mark_limit_minutes, facts.target_minutes)
        rank = ranks.get(condition.finding)
        if rank is None:
            waiting = True
        elif rank < threshold:
            return False
    return None if waiting else True


def outcome_of(rule: Rule, facts: Facts) -> Outcome:
    """What one rule asks for, before the whole is settled for this wearer."""
    if rule.cannot_stand is not None and facts.cannot_stand:
        return rule.cannot_stand
    return Outcome(rule.urgency, rule.instruction)


def settle(rules: Iterable[Rule], facts: Facts) -> Outcome:
    """The worst of each output, made safe for this wearer.

    A protective orthosis is never reduced: it stays on as ordered, with a clinician today. Who cannot stand without
    it and is told to take it off hears from a clinician today.
    """
    return _made_safe(_joined(rules, facts), facts)


def _joined(rules: Iterable[Rule], facts: Facts) -> Outcome:
    return reduce(Outcome.join, (outcome_of(rule, facts) for rule in rules), NOTHING)


def _made_safe(outcome: Outcome, facts: Facts) -> Outcome:
    urgency, instruction = outcome
    reduced = instruction in (WearInstruction.SHORTER_TIME, WearInstruction.OFF_UNTIL_WE_SPEAK)
    if facts.protective and reduced:
        return Outcome(max(urgency, Urgency.CLINICIAN_TODAY), WearInstruction.LEAVE_ON_AS_ORDERED)
    if facts.cannot_stand and instruction is WearInstruction.OFF_UNTIL_WE_SPEAK:
        return Outcome(max(urgency, Urgency.CLINICIAN_TODAY), instruction)
    return Outcome(urgency, instruction)


def _final(floor: Outcome, ceiling: Outcome, urgent_unanswered: bool) -> Outcome:
    """Lifted towards the ceiling, to clinician today at most, while an urgent finding is open; wear never rises."""
    if not urgent_unanswered:
        return floor
    lifted = max(floor.urgency, min(Urgency.CLINICIAN_TODAY, ceiling.urgency))
    if lifted == floor.urgency:
        return floor
    return floor.join(Outcome(lifted, WearInstruction.SAME_TIME_AGAIN))


def can_still_raise(reading: Reading, facts: Facts) -> dict[str, Urgency]:
    """The unanswered findings that could change either output, each with the urgency it could lead to, worst first."""
    fired = _joined(reading.fired, facts)
    floor = _made_safe(fired, facts)
    reach: dict[str, Urgency] = {}
    for rule in reading.open:
        if _made_safe(fired.join(outcome_of(rule, facts)), facts) == floor:
            continue
        urgency = outcome_of(rule, facts).urgency
        for condition in rule.when:
            if not facts.knows(condition.finding):
                reach[condition.finding] = max(urgency, reach.get(condition.finding, Urgency.KEEP_TO_PLAN))
    return dict(sorted(reach.items(), key=lambda each: -each[1]))


def _most_urgent_first(rules: Iterable[Rule], facts: Facts) -> list[Rule]:
    return sorted(rules, key=lambda rule: -outcome_of(rule, facts).urgency)


def _fired(rule: Rule, facts: Facts) -> FiredRule:
    urgency, instruction = outcome_of(rule, facts)
    return FiredRule(rule.id, rule.label, urgency, instruction, rule.sources, rule.words)


def _instruction_key(instruction: WearInstruction, facts: Facts) -> str:
    if instruction is WearInstruction.OFF_UNTIL_WE_SPEAK and facts.cannot_stand:
        return "off_sitting"
    return str(instruction)


def _causes(rules: Iterable[Rule], facts: Facts) -> tuple[str, ...]:
    """Likely causes of the fired rules, those of the most urgent rule first, each once."""
    return tuple(dict.fromkeys(cause for rule in _most_urgent_first(rules, facts) for cause in rule.causes))


def as_json(result: TriageResult) -> dict[str, object]:
    """The result as the command line prints it and storage keeps it."""
    return {
        "rule_set": result.rule_set,
        "digest": result.digest,
        "urgency": result.urgency.id,
        "level": int(result.urgency),
        "floor_level": int(result.floor),
        "ceiling_level": int(result.ceiling),
        "instruction": str(result.instruction),
        "instruction_key": result.instruction_key,
        "fired": [_fired_as_json(each) for each in result.fired],
        "unanswered": list(result.unanswered),
        "still_matters": list(result.still_matters),
        "causes": list(result.causes),
    }


def _fired_as_json(rule: FiredRule) -> dict[str, object]:
    return {
        "id": rule.id,
        "label": rule.label,
        "urgency": rule.urgency.id,
        "level": int(rule.urgency),
        "instruction": str(rule.instruction),
        "sources": list(rule.sources),
    }
