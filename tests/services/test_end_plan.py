"""One event ends everything: the plan, its messages, its links, and what is still to be done about it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from followup.core.plan_event import GoalChange, PlanEnd, PlanEnding
from followup.core.wear_day import PlanState
from followup.errors import Conflict, InvalidInput
from followup.services.change_plan import record_change
from followup.services.desk import see_desk
from followup.services.follow_plan import load_plan
from followup.services.links import make_link, open_link
from followup.services.read_replies import read_replies, take_in
from followup.services.work_callbacks import see_queue
from followup.storage import plans
from followup.storage.tables import outbox
from tests.builders import ALDO, Clinic, Letters, day, letter, text_of

TODAY = day("2026-03-02")


def end(clinic: Clinic, why: PlanEnding, days: int = 0, orthosis_id: int = 1) -> int | None:
    change = PlanEnd(why, TODAY + timedelta(days=days))
    return record_change(clinic.practice, orthosis_id, change, clinic.odd, clinic.now)


def under_way(clinic: Clinic) -> str:
    """A plan with a message planned, a page, an open call and something for the desk; the page's token."""
    clinic.start()
    token = make_link(clinic.practice, 1, 1, clinic.now)
    clinic.report(1, {"mark_minutes": 50})
    clinic.report(1, {"strap_worn": True})
    return token


def unsent(clinic: Clinic) -> set[str]:
    return {row["kind"] for row in clinic.rows(outbox.select()) if row["state"] in {"planned", "claimed"}}


def told(clinic: Clinic) -> list[str]:
    """What the family was sent; the person on call is one of ours."""
    return [text_of(each.content) for each in clinic.server.tried if each.recipient == "maj@phones.example"]


def state_on(clinic: Clinic, on: str) -> PlanState:
    with clinic.practice.store.read() as connection:
        days = load_plan(connection, clinic.practice, 1, clinic.now).days(clinic.now)
    return next(each for each in days if each.on == day(on)).state


def test_one_event_ends_plan_messages_page_and_what_is_to_be_done(clinic: Clinic) -> None:
    token = under_way(clinic)
    assert unsent(clinic)
    end(clinic, PlanEnding.DIED)
    assert state_on(clinic, "2026-03-03") is PlanState.ENDED
    assert unsent(clinic) == set()
    with pytest.raises(InvalidInput, match="This page is closed"):
        open_link(clinic.practice, token, clinic.now)
    assert see_queue(clinic.practice, clinic.now) == ()
    assert see_desk(clinic.practice, clinic.now) == ()
    with clinic.practice.store.read() as connection:
        assert plans.due_plans(connection, clinic.now + timedelta(days=400), 10) == []


def test_after_a_death_nothing_is_ever_sent(clinic: Clinic) -> None:
    under_way(clinic)
    end(clinic, PlanEnding.DIED)
    take_in(clinic.practice, Letters({"a": letter("HELP"), "b": letter("STOP")}), clinic.now)
    read_replies(clinic.practice, clinic.now)
    clinic.report(1, {"mark_minutes": 50}, channel="phone")
    clinic.run_until("2026-03-05 21:00")
    assert told(clinic) == []


def test_a_death_ends_every_plan_of_the_wearer(clinic: Clinic) -> None:
    clinic.start()
    clinic.start({**ALDO, "identifier": "Q-7", "side": "right"})
    end(clinic, PlanEnding.DIED, orthosis_id=2)
    clinic.run_until("2026-03-04 21:00")
    assert told(clinic) == []


@pytest.mark.parametrize("why", [PlanEnding.TRANSFERRED, PlanEnding.WITHDRAWN])
def test_the_family_hears_once_that_it_ends_and_then_nothing(clinic: Clinic, why: PlanEnding) -> None:
    under_way(clinic)
    end(clinic, why)
    clinic.run_until("2026-03-05 21:00")
    (said,) = told(clinic)
    assert "This is our last message." in said


def test_an_open_call_stays_with_the_clinicians_unless_they_died(clinic: Clinic) -> None:
    under_way(clinic)
    end(clinic, PlanEnding.TRANSFERRED)
    assert len(see_queue(clinic.practice, clinic.now)) == 1
    assert see_desk(clinic.practice, clinic.now) == ()


def test_an_end_to_come_ends_everything_on_its_day(clinic: Clinic) -> None:
    token = under_way(clinic)
    end(clinic, PlanEnding.TRANSFERRED, days=2)
    assert open_link(clinic.practice, token, clinic.now)
    clinic.run_until("2026-03-04 09:00")
    with pytest.raises(InvalidInput, match="This page is closed"):
        open_link(clinic.practice, token, clinic.now)
    assert "This is our last message." in told(clinic)[-1]


def test_a_plan_that_has_ended_is_not_changed(clinic: Clinic) -> None:
    clinic.start()
    end(clinic, PlanEnding.WITHDRAWN)
    with pytest.raises(Conflict, match="has ended"):
        record_change(clinic.practice, 1, GoalChange(TODAY, full_wear_minutes=300), clinic.runa, clinic.now)


def test_the_same_end_twice_is_recorded_once(clinic: Clinic) -> None:
    clinic.start()
    assert end(clinic, PlanEnding.WITHDRAWN)
    assert end(clinic, PlanEnding.WITHDRAWN) is None


def test_a_death_is_recorded_for_today(clinic: Clinic) -> None:
    clinic.start()
    with pytest.raises(InvalidInput, match="choose today"):
        end(clinic, PlanEnding.DIED, days=1)


def test_a_plan_that_never_began_can_end(clinic: Clinic) -> None:
    clinic.deliver()
    end(clinic, PlanEnding.TRANSFERRED)
    clinic.run_until("2026-03-03 09:00")
    assert told(clinic) == []
