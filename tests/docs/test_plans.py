"""docs/plans.md names everything a plan can say or be told."""

from __future__ import annotations

from enum import StrEnum
from typing import get_args

import pytest

from followup.core.plan_event import CheckResult, EventData, EventType, PlanAction
from followup.core.plan_reason import ReasonCode
from followup.core.urgency import WearInstruction
from followup.core.wear_day import PlanState
from tests.structure.source_tree import ROOT

PAGE = (ROOT / "docs/plans.md").read_text()


@pytest.mark.parametrize("words", [EventType, CheckResult, PlanAction, ReasonCode, WearInstruction, PlanState])
def test_every_word_is_on_the_page(words: type[StrEnum]) -> None:
    assert [each.value for each in words if f"`{each.value}`" not in PAGE] == []


@pytest.mark.parametrize("data", get_args(EventData))
def test_every_field_of_an_event_is_on_the_page(data: type) -> None:
    assert [name for name in data.__slots__ if f"`{name}`" not in PAGE] == []  # type: ignore[attr-defined]
