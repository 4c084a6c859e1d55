from __future__ import annotations

import pytest

from followup.core.plan_event import PlanAction
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wear_day import PlanState
from followup.web.staff_words import (
    ACTIONS,
    INSTRUCTIONS,
    PRECAUTIONS,
    STATES,
    URGENCIES,
    WITHOUT,
    late_words,
    reason_words,
)


def test_every_id_of_the_clinic_has_words_for_staff() -> None:
    assert URGENCIES.keys() == set(Urgency)
    assert INSTRUCTIONS.keys() == set(WearInstruction)
    assert ACTIONS.keys() == set(PlanAction)
    assert PRECAUTIONS.keys() == set(Precaution)
    assert WITHOUT.keys() == set(WithoutOrthosis)
    assert STATES.keys() == {state.value for state in PlanState}


def test_no_urgency_is_said_as_a_number() -> None:
    assert not any(character.isdigit() for each in URGENCIES.values() for character in each.words)


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(1, "1 minute late"), (59, "59 minutes late"), (60, "1 hour late"), (960, "16 hours late"), (4320, "3 days late")],
)
def test_lateness_is_said_in_the_unit_a_person_would_use(minutes: int, said: str) -> None:
    assert late_words(minutes) == said


def test_reasons_are_one_sentence_after_the_colon() -> None:
    assert reason_words("A new noise: It clicks; Over the leaflet's limit.") == (
        "a new noise: it clicks; over the leaflet’s limit."
    )
