from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta

import pytest

from followup.core.wear_plan import state_of
from followup.services.follow_plan import load_plan, projected
from followup.storage import plans
from followup.storage.engine import Store, open_store
from tests.builders import ALDO, Clinic, clinic_on

IN_HAND = timedelta(minutes=5)


@pytest.fixture
def clinic(store: Store) -> Clinic:
    """A practice with one plan under way."""
    made = clinic_on(store)
    made.start()
    return made


def rebuilt_equals_row(clinic: Clinic, orthosis_id: int = 1) -> None:
    with clinic.practice.store.read() as connection:
        record = load_plan(connection, clinic.practice, orthosis_id)
        row = plans.projection(connection, orthosis_id)
    assert row is not None
    rebuilt = projected(state_of(record.days(clinic.now, ahead=1), clinic.now))
    assert {name: row[name] for name in rebuilt} == rebuilt


def test_the_projection_row_can_be_rebuilt_from_the_events_day_after_day(clinic: Clinic) -> None:
    rebuilt_equals_row(clinic)
    for number in range(3, 9):
        clinic.at(f"2026-03-0{number - 1} 19:00")
        clinic.report(1, {"mark_minutes": 50} if number == 7 else clinic.practice.replies[1])
        rebuilt_equals_row(clinic)
        clinic.at(f"2026-03-0{number} 06:30")
        clinic.tick()
        rebuilt_equals_row(clinic)


def test_events_come_back_in_the_order_they_were_recorded(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        for minutes in (3, 1, 2):
            at = clinic.now + timedelta(minutes=minutes)
            plans.add_event(connection, 1, "skin_check", {}, clinic.now, at)
        assert [row["id"] for row in plans.events_of(connection, 1)] == [2, 3, 1]


def claim(url: str, now: datetime) -> bool:
    store = open_store(url)
    with store.write() as connection:
        taken = plans.claim_plan(connection, 1, now, now + IN_HAND)
    store.close()
    return taken


def test_of_four_workers_one_takes_a_plan_in_hand(store_url: str, clinic: Clinic) -> None:
    with ThreadPoolExecutor(4) as workers:
        assert sum(workers.map(lambda _: claim(store_url, clinic.now), range(4))) == 1


def test_a_plan_its_worker_lost_is_due_again(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        plans.claim_plan(connection, 1, clinic.now, clinic.now + IN_HAND)
        assert plans.due_plans(connection, clinic.now, 10) == []
        assert plans.due_plans(connection, clinic.now + IN_HAND, 10) == [1]


def test_the_longest_waiting_plan_comes_first(clinic: Clinic) -> None:
    clinic.now += timedelta(minutes=1)
    other = clinic.start({**ALDO, "wearer_reference": "W9", "identifier": "Q-9"})
    with clinic.practice.store.read() as connection:
        assert plans.due_plans(connection, clinic.now, 10) == [1, other]
