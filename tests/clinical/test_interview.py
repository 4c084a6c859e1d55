from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from followup.clinical.load_rules import load_looks, load_rule_set
from followup.core.finding import CANT_SAY, FindingKind
from followup.core.interview import (
    NONE_OF_THESE,
    NOT_SURE,
    QuestionKind,
    apply_answer,
    next_question,
    question_called,
    state_findings,
)
from followup.core.triage import Facts, triage
from followup.core.urgency import Urgency, WearInstruction
from followup.errors import InvalidInput, UnknownId
from tests.clinical.test_triage_two_ways import CONTEXT, values_of

RULES = load_rule_set()
ASKED = {id: each for id, each in RULES.findings.items() if each.asked}
TRUTHS = st.fixed_dictionaries(
    {id: st.sampled_from([each.best, each.best, each.best, *values_of(each), CANT_SAY]) for id, each in ASKED.items()}
)
NAMES = ("toes_blue_or_white", "recovers_when_off", "foot_cold", "numb_or_tingling_new", "orthosis_noise_new", "rash")
SMALL = replace(
    RULES,
    findings={id: RULES.findings[id] for id in NAMES},
    rules=tuple(rule for rule in RULES.rules if {each.finding for each in rule.when} <= set(NAMES)),
)
WALKER = Facts({}, {"diabetes": False, "reduced_sensation": False}, "walks", 3)


def calm(rules=RULES):
    return {id: each.best for id, each in rules.findings.items() if each.asked}


def answer_of(rules, question, truth, by_line=False):
    """What somebody who knows `truth` says: "none" only where each member is at its best, else a line or a member."""
    if question.kind is QuestionKind.FINDING:
        return truth[question.id]
    worse = {id for id in question.findings if truth[id] != rules.findings[id].best}
    if not worse:
        return NONE_OF_THESE
    if by_line and question.lines:
        return next(line.id for line in question.lines if worse & set(line.findings))
    plain = [id for id in question.findings if rules.findings[id].kind is FindingKind.BOOLEAN]
    so = [id for id in plain if truth[id] == rules.findings[id].worst]
    return so[0] if so else NOT_SURE


def interviewed(rules, facts, truth, by_line=False):
    asked = []
    while (question := next_question(rules, facts)) is not None:
        facts = apply_answer(rules, facts, question, answer_of(rules, question, truth, by_line))
        asked.append(question)
        assert len(asked) <= 2 * len(rules.findings)
    return facts, asked


def outputs(rules, facts):
    result = triage(rules, facts)
    return result.urgency, result.instruction


@settings(max_examples=300)
@given(TRUTHS, st.builds(Facts, **{**CONTEXT, "findings": st.just({})}), st.booleans())
def test_the_interview_never_ends_in_another_result_than_asking_everything(truth, facts, by_line):
    facts, _ = interviewed(RULES, facts, truth, by_line)
    assert outputs(RULES, facts) == outputs(RULES, replace(facts, findings=truth))


def test_the_same_holds_for_every_truth_of_a_small_rule_set():
    for said in itertools.product(*([*each.answers, CANT_SAY] for each in SMALL.findings.values())):
        truth = dict(zip(SMALL.findings, said, strict=True))
        facts, _ = interviewed(SMALL, WALKER, truth)
        assert outputs(SMALL, facts) == outputs(SMALL, replace(WALKER, findings=truth)), truth


@given(st.fixed_dictionaries({}, optional={id: st.sampled_from(SMALL.findings[id].answers) for id in SMALL.findings}))
def test_a_question_is_asked_exactly_while_an_answer_could_change_the_result(said):
    facts = replace(WALKER, findings=said)
    question = next_question(SMALL, facts)
    open_ids = [id for id in SMALL.findings if id not in said]
    ends = [
        dict(zip(open_ids, each, strict=True))
        for each in itertools.product(*(SMALL.findings[id].answers for id in open_ids))
    ]
    results = {tuple(end.items()): outputs(SMALL, replace(facts, findings={**said, **end})) for end in ends}
    if question is None:
        assert len(set(results.values())) == 1
        return
    assert any(
        results[tuple(end.items())] != results[tuple({**end, id: SMALL.findings[id].worst}.items())]
        for end in ends
        for id in question.findings
    )


def test_skin_looked_at_and_no_problem_takes_two_gates_and_keeps_to_the_plan():
    facts = state_findings(RULES, WALKER, load_looks()["clear"])
    facts, asked = interviewed(RULES, facts, calm())
    assert [each.id for each in asked] == ["body", "orthosis"]
    assert outputs(RULES, facts) == (Urgency.KEEP_TO_PLAN, WearInstruction.AS_PLANNED)


def test_the_two_gates_cover_every_danger_the_look_does_not():
    facts = state_findings(RULES, WALKER, load_looks()["clear"])
    facts, _ = interviewed(RULES, facts, calm())
    assert not [id for id, each in RULES.findings.items() if each.urgent and not facts.knows(id)]


def test_the_body_is_asked_about_first():
    assert next_question(RULES, WALKER).id == "body"


def test_nothing_more_is_asked_in_an_emergency():
    assert next_question(RULES, replace(WALKER, findings={"chest_pain": True})) is None


def test_not_sure_opens_a_gate_one_question_at_a_time():
    opened = apply_answer(RULES, WALKER, next_question(RULES, WALKER), NOT_SURE)
    question = next_question(RULES, opened)
    assert (question.kind, question.answers) == (QuestionKind.FINDING, ("yes", "no", "cant_say"))
    assert RULES.findings[question.id].gate == "body"


def test_a_line_that_is_so_opens_only_the_members_it_speaks_for():
    told = apply_answer(RULES, WALKER, next_question(RULES, WALKER), "body_hurt")
    assert told.opened == {"pain_out_of_proportion", "pain", "muscle_ache"}
    assert next_question(RULES, told).id in told.opened


def test_the_other_lines_are_asked_once_those_members_are_answered():
    told = apply_answer(RULES, WALKER, next_question(RULES, WALKER), "body_hurt")
    answered = replace(told, findings={id: RULES.findings[id].best for id in told.opened})
    assert "body_hurt" not in {line.id for line in next_question(RULES, answered).lines}


def test_none_of_these_says_nothing_about_what_is_known_already():
    known = replace(WALKER, findings={"fall": True})
    told = apply_answer(RULES, known, next_question(RULES, known), NONE_OF_THESE)
    assert told.findings["fall"] is True


def test_naming_a_number_among_the_members_asks_for_the_number():
    facts = apply_answer(RULES, WALKER, question_called(RULES, WALKER, "body"), "pain")
    question = next_question(RULES, facts)
    assert (question.id, question.answers) == ("pain", ("0", "2", "5", "8", "cant_say"))


def test_a_mark_is_asked_for_with_the_limit_of_the_wearer():
    facts = replace(WALKER, mark_limit_minutes=30)
    assert question_called(RULES, facts, "mark_minutes").answers == ("0", "30", "31", "cant_say")
    assert apply_answer(RULES, facts, question_called(RULES, facts, "mark_minutes"), "over_limit").findings == {
        "mark_minutes": 31
    }


@pytest.mark.parametrize("answer", ["", "maybe", "11", "-1", "1.5", True, None, ["2"]])
def test_an_impossible_answer_is_refused_with_what_to_choose(answer):
    with pytest.raises(InvalidInput, match="whole number from 0 to 10"):
        apply_answer(RULES, WALKER, question_called(RULES, WALKER, "pain"), answer)


@pytest.mark.parametrize("answer", ["", "some", "rash", None])
def test_an_answer_a_gate_does_not_list_is_refused(answer):
    with pytest.raises(InvalidInput, match="Choose one of: none, "):
        apply_answer(RULES, WALKER, question_called(RULES, WALKER, "body"), answer)


def test_a_question_nobody_asked_is_unknown():
    with pytest.raises(UnknownId):
        question_called(RULES, WALKER, "shoe_size")
    with pytest.raises(UnknownId):
        state_findings(RULES, WALKER, {"shoe_size": 42})
