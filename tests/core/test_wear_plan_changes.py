"""A change on the day before a clear check counts: the check was of the other protocol, or of the orthosis before."""

from __future__ import annotations

from typing import Any

import pytest

from followup.clinical.load_protocols import find_protocol
from followup.core.plan_event import PlanEvent
from followup.core.plan_reason import ReasonCode
from followup.core.precaution import WithoutOrthosis
from followup.core.wear_plan import WearDay, replay
from tests.wearing import ASHA, codes


def change(day: int, type: str, **data: Any) -> PlanEvent:
    stated = {"from_on": ASHA.on(day).isoformat(), **data}
    return ASHA._event(type, ASHA.at(day, "05:00"), ASHA.at(day, "05:00"), stated)


def plan(events: list[PlanEvent], days: int) -> tuple[WearDay, ...]:
    other = find_protocol("s04")
    found = replay(
        find_protocol("s01"),
        ASHA.goal,
        frozenset(),
        WithoutOrthosis.WALKS,
        ASHA.delivered_on,
        events,
        ASHA.at(days, "23:59"),
        days,
        protocols={other.digest: other},
    )
    return found


def test_another_protocol_begins_at_the_step_the_clinician_says_whatever_the_last_check_was() -> None:
    other = find_protocol("s04")
    moved = change(3, "protocol_change", protocol="s04", digest=other.digest, by="ruiz", step=3)
    third = plan([*ASHA.clear(1, 2), moved], 3)[-1]
    assert (third.step, third.target_minutes) == (3, 60)
    assert codes(third) == [ReasonCode.PROTOCOL_CHANGED]


def test_the_day_after_goes_on_from_there() -> None:
    other = find_protocol("s04")
    moved = change(3, "protocol_change", protocol="s04", digest=other.digest, by="ruiz", step=3)
    assert plan([*ASHA.clear(1, 2, 3), moved], 4)[-1].step == 4


@pytest.mark.parametrize("what", ["repaired", "returned_unchanged"])
def test_the_same_orthosis_handed_back_begins_with_the_same_time(what: str) -> None:
    back = change(3, "orthosis_change", change=what)
    days = plan([*ASHA.clear(1, 2), back], 3)
    assert days[2].target_minutes == days[1].target_minutes
    assert codes(days[2]) == [what]
