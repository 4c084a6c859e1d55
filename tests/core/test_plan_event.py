"""Plan events as JSON: read, written, and refused with words that say what to write."""

from __future__ import annotations

from typing import Any

import pytest

from followup.core.plan_event_json import event_as_json, parse_event
from followup.errors import InvalidInput

CHECK = {"plan_on": "2026-03-02", "result": "clear"}
TRIAGE = {"instruction": "same_time_again", "urgency": "clinician_today", "place": "heel", "reason": "long_mark"}
WORD = {"action": "resume", "from_on": "2026-03-04", "step": 2, "by": "ruiz"}


def stated(type: str = "skin_check", data: object = CHECK, **changes: object) -> dict[str, Any]:
    told = {"occurred_at": "2026-03-02T10:00:00+01:00", "recorded_at": "2026-03-02T09:05:00Z"}
    return {"id": "a1", "type": type, **told, "data": data, **changes}


@pytest.mark.parametrize(
    ("type", "data"), [("skin_check", CHECK), ("triage_result", TRIAGE), ("plan_instruction", WORD)]
)
def test_an_event_written_and_read_again_is_the_same(type: str, data: object) -> None:
    event = parse_event(stated(type, data))
    assert parse_event(event_as_json(event)) == event


def test_instants_are_kept_in_utc() -> None:
    assert event_as_json(parse_event(stated()))["occurred_at"] == "2026-03-02T09:00:00+00:00"


@pytest.mark.parametrize(
    ("bad", "path", "says"),
    [
        (stated(data={**CHECK, "looked_at": "2026-03-02T23:00:00Z"}), "data.looked_at", "not after recorded_at"),
        (stated("walk"), "type", "skin_check, complaint, triage_result, plan_instruction"),
        (stated(id=""), "id", "not empty"),
        (stated(occurred_at="2026-03-02T10:00:00"), "occurred_at", "offset"),
        (stated(occurred_at="yesterday"), "occurred_at", "offset"),
        (stated(occurred_at="0001-01-01T00:00:00+14:00"), "occurred_at", "offset"),
        (stated(recorded_at="2026-03-02T08:00:00Z"), "recorded_at", "not before"),
        (stated(data=None), "data", "JSON object"),
        (stated(extra=1), "extra", "Take this field out"),
        (stated(data={**CHECK, "plan_on": "2026-02-30"}), "data.plan_on", "date such as"),
        (stated(data={**CHECK, "result": "fine"}), "data.result", "clear, mark, sore, cannot_say"),
        (stated(data={**CHECK, "mark_minutes": -1}), "data.mark_minutes", "0 to 1440"),
        (stated(data={**CHECK, "worn_minutes": True}), "data.worn_minutes", "whole minutes"),
        (stated(data={**CHECK, "broken": "yes"}), "data.broken", "true or false"),
        (stated(data={**CHECK, "minutes": 3}), "data.minutes", "mark_minutes"),
        (stated("triage_result", {**TRIAGE, "urgency": "3"}), "data.urgency", "clinician_today"),
        (stated("plan_instruction", {**WORD, "step": 0}), "data.step", "whole number"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(bad: dict[str, Any], path: str, says: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse_event(bad)
    assert refused.value.path == path
    assert says in refused.value.message


def test_what_is_no_object_is_refused() -> None:
    with pytest.raises(InvalidInput, match="JSON object"):
        parse_event([])  # type: ignore[arg-type]
