"""The evaluator against a naive one that reads the TOML itself, and against every combination of a small set."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from followup.clinical.load_rules import load_rule_set, read_raw
from followup.core.finding import CANT_SAY, FindingKind
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.triage import Facts, triage
from followup.core.urgency import Urgency, WearInstruction

RULES = load_rule_set()
RAW = read_raw()["rules"]
INSTRUCTIONS = [each.value for each in WearInstruction]


def values_of(finding):
    if finding.kind is FindingKind.NUMBER:
        return [v for v in (0, 1, 2, 3, 4, 6, 7, 10, 20, 21, 31, 41, 60, 61, 480, 481) if v <= finding.answers[1]]
    return list(finding.answers)


ANSWERS = {id: st.sampled_from(values_of(each)) for id, each in RULES.findings.items()}
SOME_ANSWERS = st.fixed_dictionaries({}, optional={id: each | st.just(CANT_SAY) for id, each in ANSWERS.items()})
CONTEXT = {
    "precautions": st.dictionaries(st.sampled_from([str(each) for each in Precaution]), st.booleans()),
    "without_orthosis": st.sampled_from([None, *[str(each) for each in WithoutOrthosis]]),
    "days_since_delivery": st.sampled_from([None, 0, 13, 14, 30]),
    "mark_limit_minutes": st.sampled_from([20, 30, 40]),
    "target_minutes": st.sampled_from([None, 60]),
}
FACTS = st.builds(Facts, findings=SOME_ANSWERS, **CONTEXT)


def worse(finding_id, value, threshold, facts):
    """Whether an answer is at least as bad as a threshold, straight from the vocabulary."""
    finding = RULES.findings[finding_id]
    if finding.kind is not FindingKind.NUMBER:
        return finding.answers.index(value) >= finding.answers.index(threshold)
    if threshold == "over_limit":
        return value > facts.mark_limit_minutes
    if threshold == "over_target":
        return value > (480 if facts.target_minutes is None else facts.target_minutes)
    return value >= threshold


def speaks(rule, facts):
    unrecorded = Urgency.from_id(rule["urgency"]) >= Urgency.CLINICIAN_TODAY
    needed = rule.get("precautions", [])
    if needed and not any(facts.precautions.get(each, unrecorded) for each in needed):
        return False
    days = rule.get("days_since_delivery_from")
    if days is None or facts.days_since_delivery is None:
        return days is None or unrecorded
    return facts.days_since_delivery >= days


def naive(facts, unknown):
    """(level, instruction) with every unknown finding at its ``best`` or ``worst``."""
    said = {
        id: facts.findings[id] if facts.findings.get(id, CANT_SAY) != CANT_SAY else getattr(each, unknown)
        for id, each in RULES.findings.items()
    }
    level, instruction = 0, "as_planned"
    stands = facts.without_orthosis == "walks"
    for rule in RAW:
        if speaks(rule, facts) and all(worse(id, said[id], least, facts) for id, least in rule["when"].items()):
            asked = rule if stands else rule.get("cannot_stand", rule)
            level = max(level, Urgency.from_id(asked["urgency"]))
            instruction = max(instruction, asked["instruction"], key=INSTRUCTIONS.index)
    if facts.precautions.get("protective") and instruction in ("shorter_time", "off_until_we_speak"):
        return max(level, 3), "leave_on_as_ordered"
    if not stands and instruction == "off_until_we_speak":
        return max(level, 3), instruction
    return level, instruction


@settings(max_examples=1000)
@given(FACTS)
def test_floor_ceiling_and_final_level_equal_a_naive_reading_of_the_files(facts):
    result = triage(RULES, facts)
    (floor, instruction), (ceiling, _) = naive(facts, "best"), naive(facts, "worst")
    urgent_open = any(RULES.findings[each].urgent for each in result.unanswered)
    final = max(floor, min(3, ceiling)) if urgent_open else floor
    assert (result.floor, result.ceiling, result.urgency) == (floor, ceiling, final)
    assert result.instruction == (
        max(instruction, "same_time_again", key=INSTRUCTIONS.index) if final > floor else instruction
    )


def test_every_combination_of_eight_findings_equals_the_naive_reading():
    names = ["toes_blue_or_white", "recovers_when_off", "foot_cold", "numb_or_tingling_new", "skin_open", "rash"]
    names += ["outer_knee_pressure", "orthosis_noise_new"]
    calm = {id: each.best for id, each in RULES.findings.items()}
    for said in itertools.product(*(RULES.findings[each].answers for each in names)):
        facts = Facts({**calm, **dict(zip(names, said, strict=True))}, {}, "walks", 0)
        result = triage(RULES, facts)
        assert (result.urgency, result.instruction.value) == naive(facts, "best")


@settings(max_examples=1000)
@given(FACTS, st.sampled_from(sorted(RULES.findings)), st.randoms(use_true_random=False))
def test_a_worse_answer_never_lowers_either_output(facts, id, chance):
    finding = RULES.findings[id]
    better, bad = sorted(chance.choices(values_of(finding), k=2), key=finding.rank)
    before, after = (triage(RULES, replace(facts, findings={**facts.findings, id: each})) for each in (better, bad))
    assert after.urgency >= before.urgency
    assert after.instruction.strength >= before.instruction.strength


@given(FACTS, st.sampled_from(sorted(RULES.findings)))
def test_the_worst_answer_is_never_below_no_answer(facts, id):
    without = {each: value for each, value in facts.findings.items() if each != id}
    unknown = triage(RULES, replace(facts, findings=without))
    worst = triage(RULES, replace(facts, findings={**without, id: RULES.findings[id].worst}))
    assert worst.urgency >= unknown.urgency


@given(FACTS, st.sampled_from([str(each) for each in Precaution if each is not Precaution.PROTECTIVE]))
def test_a_precaution_present_never_lowers_either_output(facts, precaution):
    absent, present = (
        triage(RULES, replace(facts, precautions={**facts.precautions, precaution: each})) for each in (False, True)
    )
    assert present.urgency >= absent.urgency
    assert present.instruction.strength >= absent.instruction.strength


@given(FACTS)
def test_a_protective_orthosis_is_never_reduced_and_a_clinician_hears_today(facts):
    told = triage(RULES, replace(facts, precautions={**facts.precautions, "protective": True}))
    assert told.instruction not in (WearInstruction.SHORTER_TIME, WearInstruction.OFF_UNTIL_WE_SPEAK)
    if told.instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
        assert told.urgency >= Urgency.CLINICIAN_TODAY


@given(FACTS)
def test_the_result_lies_between_floor_and_ceiling(facts):
    result = triage(RULES, facts)
    assert result.floor <= result.urgency <= result.ceiling


@given(FACTS)
def test_the_order_of_rules_does_not_matter(facts):
    shuffled = replace(RULES, rules=tuple(random.Random(len(facts.findings)).sample(RULES.rules, len(RULES.rules))))
    one, other = triage(RULES, facts), triage(shuffled, facts)
    assert (one.urgency, one.instruction, one.floor, one.ceiling) == (
        other.urgency,
        other.instruction,
        other.floor,
        other.ceiling,
    )
