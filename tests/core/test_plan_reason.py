"""Reasons as sentences, in each language."""

from __future__ import annotations

import pytest

from followup.core.plan_reason import Lead, Reason, ReasonCode, day_sentence, sentence

FADED = Reason(ReasonCode.MARK_FADED, Lead.SAME, target_minutes=120, minutes=35)


def test_sentence_says_the_time_and_why() -> None:
    assert sentence(FADED) == "the same 2 h as yesterday: the mark took 35 minutes to fade"
    assert sentence(FADED, "es") == "lo mismo que ayer, 2 h: la marca tardó 35 minutos en irse"


def test_two_reasons_share_one_beginning() -> None:
    trimmed = Reason(ReasonCode.WINDOW_TOO_SHORT, Lead.SAME, 120, minutes=120)
    assert day_sentence([FADED, trimmed]).endswith("to fade; the hours of the day hold no more than 2 h")


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("lead", list(Lead))
@pytest.mark.parametrize("code", list(ReasonCode))
def test_every_reason_has_words_without_a_name_for_the_device(code: ReasonCode, lead: Lead, language: str) -> None:
    words = sentence(Reason(code, lead, 60, 30, 20), language)
    assert "{" not in words
    assert not any(term in words for term in ("orthosis", "brace", "ortesis", "férula"))
