from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError

from followup.storage import callbacks
from followup.storage.engine import Store, open_store
from tests.builders import Clinic, clinic_on, utc

NOW = utc("2026-03-02 12:00")
FRESH = {"urgency": 3, "instruction": "off_until_we_speak", "reason": "a mark", "opened_at": NOW, "due_at": NOW}


def item(**changes: Any) -> dict[str, Any]:
    return {
        "key": "silence:1",
        "kind": "silence",
        "text": "no look",
        "from_at": NOW,
        "due_at": NOW,
        "opened_at": NOW,
        **changes,
    }


@pytest.fixture
def clinic(store: Store) -> Clinic:
    """A practice with one orthosis and an open callback on it."""
    made = clinic_on(store)
    made.deliver()
    with store.write() as connection:
        callbacks.add_callback(connection, {**FRESH, "orthosis_id": 1})
    return made


def test_an_orthosis_has_one_open_callback(clinic: Clinic) -> None:
    with pytest.raises(IntegrityError), clinic.practice.store.write() as connection:
        callbacks.add_callback(connection, {**FRESH, "orthosis_id": 1})


def test_calls_of_unknown_callers_stand_side_by_side(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        ids = [callbacks.add_callback(connection, {**FRESH, "orthosis_id": None}) for _ in range(2)]
    assert len(set(ids)) == 2


def test_a_closed_callback_makes_room_and_cannot_be_changed(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        assert callbacks.change_callback(connection, 1, {"state": "closed"}, 1)
        assert not callbacks.change_callback(connection, 1, {"reason": "late"})
        assert callbacks.add_callback(connection, {**FRESH, "orthosis_id": 1}) == 2


def test_a_change_seen_at_an_older_version_is_not_made(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        assert callbacks.change_callback(connection, 1, {"reason": "worse"})
        assert not callbacks.change_callback(connection, 1, {"state": "closed"}, 1)


def close_at_version_one(url: str) -> bool:
    store = open_store(url)
    with store.write() as connection:
        done = callbacks.change_callback(connection, 1, {"state": "closed"}, 1)
    store.close()
    return done


def test_of_four_who_close_at_once_one_succeeds(store_url: str, clinic: Clinic) -> None:
    with ThreadPoolExecutor(4) as workers:
        assert sum(workers.map(close_at_version_one, [store_url] * 4)) == 1


def test_a_thing_for_the_desk_is_there_once(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        found = [callbacks.add_desk_item(connection, item()) for _ in range(2)]
    assert found == [1, None]


def test_the_desk_closes_a_thing_once(clinic: Clinic) -> None:
    odd = clinic.odd
    with clinic.practice.store.write() as connection:
        callbacks.add_desk_item(connection, item())
        closed = [callbacks.close_desk_item(connection, 1, odd.staff_id, "", NOW) for _ in range(2)]
    assert closed == [True, False]


def test_the_person_on_call_is_told_of_what_is_late_and_not_taken(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        early = callbacks.waiting_for_on_call(connection, NOW - timedelta(minutes=1))
        late = callbacks.waiting_for_on_call(connection, NOW)
    assert (len(early), len(late)) == (0, 1)


def test_a_report_joins_a_callback_once(clinic: Clinic) -> None:
    report = clinic.report(1, {"sore_or_broken": True})
    with clinic.practice.store.write() as connection:
        callbacks.join_report(connection, 1, report.report_id)
        assert len(callbacks.reports_of_callback(connection, 1)) == 1
