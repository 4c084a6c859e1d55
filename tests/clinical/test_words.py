"""What families read of the findings and rules is plain, in both languages."""

from __future__ import annotations

import pytest

from followup.clinical.load_findings import LANGUAGES
from followup.clinical.load_rules import load_rule_set
from followup.words.readability import read_text

RULES = load_rule_set()
UNSAID = ("brace", "diagnos", "peroneal", "peroneo", "malleol", "oedema", "thrombosis", "trombosis")


def family_words(language):
    said = [rule.words[language].family for rule in RULES.rules]
    said += [finding.words[language].family for finding in RULES.findings.values()]
    said += [words[language]["family"] for words in RULES.instruction_words.values()]
    said += [words[language]["family"] for words in RULES.urgency_words.values()]
    return said


@pytest.mark.parametrize("language", LANGUAGES)
def test_all_that_families_read_is_within_grade_six(language):
    assert read_text(" ".join(family_words(language)), language).easy


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_for_families_is_long(language):
    sentences = [each for text in family_words(language) for each in text.replace("?", ".").split(". ")]
    assert [each for each in sentences if len(each.split()) > 21] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_families_read_no_clinical_word(language):
    assert [text for text in family_words(language) if any(word in text.lower() for word in UNSAID)] == []


def test_an_emergency_rule_says_to_ring_now():
    for rule in RULES.rules:
        if rule.urgency.id == "emergency_now":
            assert rule.words["en"].family.endswith("Ring the emergency number now.")
            assert rule.words["es"].family.endswith("lame ya al número de urgencias.")
