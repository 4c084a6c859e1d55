from __future__ import annotations

import copy
import time
import tomllib
from datetime import date
from pathlib import Path

import pytest

from followup.clinical.load_rules import build_rule_set, load_looks, load_places, load_replies, load_rule_set, read_raw
from followup.clinical.load_sources import load_sources
from followup.clinical.prove import lower_than
from followup.core.rule_set import COMMON_PRACTICE
from followup.core.urgency import Urgency
from followup.errors import InvalidInput

KEPT_IDS = frozenset(tomllib.loads((Path(__file__).parent / "contract_ids.toml").read_text())["findings"])


@pytest.fixture
def raw():
    return copy.deepcopy(read_raw())


def rule_of(raw, id):
    return next(each for each in raw["rules"] if each["id"] == id)


def fault_of(raw):
    with pytest.raises(InvalidInput) as caught:
        build_rule_set(raw)
    return caught.value.code


def test_every_finding_of_the_command_line_contract_exists_and_is_used():
    rules = load_rule_set()
    assert rules.findings.keys() >= KEPT_IDS
    assert rules.findings.keys() == {each.finding for rule in rules.rules for each in rule.when}


def test_the_rule_set_loads_and_is_proved_within_a_second():
    begun = time.perf_counter()
    assert len(build_rule_set(read_raw()).rules) >= 25
    assert time.perf_counter() - begun < 1


def test_every_rule_says_where_it_comes_from():
    sources = load_sources()
    for rule in load_rule_set().rules:
        assert rule.sources
        assert all(each == COMMON_PRACTICE or each in sources for each in rule.sources)


def test_a_rule_on_an_unknown_finding_is_refused(raw):
    rule_of(raw, "blister")["when"] = {"blistr": True}
    assert fault_of(raw) == "unknown_finding"


def test_a_rule_without_a_source_is_refused(raw):
    rule_of(raw, "blister")["sources"] = []
    assert fault_of(raw) == "missing_source"


def test_a_rule_citing_an_unknown_source_is_refused(raw):
    rule_of(raw, "blister")["sources"] = ["S99"]
    assert fault_of(raw) == "missing_source"


def test_two_rules_of_one_id_and_day_are_refused(raw):
    raw["rules"].append(rule_of(raw, "blister"))
    assert fault_of(raw) == "duplicate_rule"


@pytest.mark.parametrize(("language", "part"), [("en", "family"), ("es", "family"), ("es", "staff")])
def test_a_rule_without_a_translation_is_refused(raw, language, part):
    del rule_of(raw, "blister")[language][part]
    assert fault_of(raw) == "missing_translation"


def test_a_finding_without_a_translation_is_refused(raw):
    del raw["findings"][0]["es"]
    assert fault_of(raw) == "missing_translation"


@pytest.mark.parametrize("value", [0, 11, "a lot", True])
def test_a_threshold_no_answer_can_reach_is_refused(raw, value):
    rule_of(raw, "severe_pain")["when"] = {"pain": value}
    assert fault_of(raw) == "impossible_threshold"


def test_a_rule_that_never_decides_is_refused(raw):
    raw["rules"].append({**rule_of(raw, "blister"), "id": "blister_with_rash", "when": {"blister": True, "rash": True}})
    assert fault_of(raw) == "dead_rule"


def test_a_red_flag_below_its_published_level_is_refused(raw):
    rule_of(raw, "one_calf_swollen")["urgency"] = "clinician_today"
    assert fault_of(raw) == "red_flag_too_low"


def test_an_answer_nothing_is_made_of_is_refused(raw):
    raw["rules"].remove(rule_of(raw, "rash"))
    assert fault_of(raw) == "answer_ignored"


def test_an_urgent_finding_too_low_by_itself_is_refused(raw):
    rule_of(raw, "fever")["urgency"] = "desk_follow_up"
    assert fault_of(raw) == "urgent_alone_too_low"


def test_off_without_anyone_to_speak_is_refused(raw):
    rule_of(raw, "heel_slides")["instruction"] = "off_until_we_speak"
    assert fault_of(raw) == "off_without_call"


def test_wear_as_planned_while_a_clinician_is_to_call_is_refused(raw):
    rule_of(raw, "fall")["instruction"] = "as_planned"
    assert fault_of(raw) == "raised_while_waiting"


def test_an_unknown_urgency_instruction_cause_precaution_or_key_is_refused(raw):
    for key, value in [("urgency", "soon"), ("instruction", "hold"), ("precautions", ["tall"]), ("causes", ["moon"])]:
        broken = copy.deepcopy(raw)
        rule_of(broken, "blister")[key] = value
        assert fault_of(broken) in {"bad_rule", "unknown_precaution", "unknown_cause"}
    rule_of(raw, "blister")["wen"] = {}
    assert fault_of(raw) == "bad_rule"


def test_a_dated_successor_stands_from_its_day_and_the_old_rule_before(raw):
    later = {**rule_of(raw, "rash"), "urgency": "clinician_today", "effective_on": date(2027, 3, 1)}
    raw["rules"].append(later)
    before, after = (build_rule_set(raw, on) for on in (date(2027, 2, 28), date(2027, 3, 1)))
    level = {name: next(r.urgency for r in rules.rules if r.id == "rash") for name, rules in vars_of(before, after)}
    assert level == {"before": Urgency.CLINICIAN_NEXT_DAY, "after": Urgency.CLINICIAN_TODAY}
    assert before.digest == load_rule_set().digest != after.digest
    assert lower_than(before, after) == ()
    assert lower_than(after, before) == ("rash",)


def vars_of(before, after):
    return [("before", before), ("after", after)]


def test_a_day_before_the_first_rule_sees_the_first_rules():
    assert load_rule_set(date(1999, 1, 1)).digest == load_rule_set().digest


def test_urgent_means_that_some_rule_leads_to_clinician_today():
    rules = load_rule_set()
    urgent = {each.finding for rule in rules.rules if rule.urgency >= Urgency.CLINICIAN_TODAY for each in rule.when}
    assert {id for id, each in rules.findings.items() if each.urgent} == urgent


def test_every_place_has_words_in_both_languages():
    assert len(load_places()) == 21
    assert all(place.words["en"] and place.words["es"] for place in load_places())


def test_every_reply_and_look_states_answers_that_are_possible():
    findings = load_rule_set().findings
    for stated in [*load_replies().values(), *load_looks().values()]:
        for id, value in stated.items():
            assert findings[id].read(value) == value
    assert load_replies().keys() == {1, 2, 3, 4}
    assert load_looks().keys() == {"clear", "mark", "broken", "call"}


def test_a_gate_that_would_hide_a_member_is_refused():
    raw = copy.deepcopy(read_raw())
    raw["gates"][0]["line"].pop()
    with pytest.raises(InvalidInput) as refused:
        build_rule_set(raw)
    assert (refused.value.code, refused.value.path) == ("bad_gate", "body")
