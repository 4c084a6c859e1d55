from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Any

import pytest

from followup.core.outbox import LEASE, OutboxState
from followup.storage import outbox
from followup.storage.engine import Store, open_store
from tests.builders import utc

NOW = utc("2026-03-02 08:00")


def planned(number: int, **changes: Any) -> dict[str, Any]:
    return {
        "key": f"key {number}",
        "kind": "times",
        "slot": "times",
        "channel": "email",
        "address": "maj@phones.example",
        "language": "en",
        "revision": 1,
        "payload": {},
        "due_at": NOW + timedelta(seconds=number),
        "expires_at": NOW + timedelta(hours=2),
        "message_id": f"<{number}@q.example>",
        **changes,
    }


def fill(store: Store, count: int) -> None:
    with store.write() as connection:
        for number in range(count):
            outbox.add_message(connection, planned(number))


def claim(store: Store, now: datetime, limit: int = 16) -> list[Any]:
    with store.write() as connection:
        return list(outbox.claim(connection, now, now + LEASE, limit))


def move(store: Store, row: Any, before: OutboxState, after: OutboxState) -> bool:
    with store.write() as connection:
        return outbox.move(connection, row["id"], row["attempt"], before, after, {})


def state_of(store: Store, row_id: int) -> str:
    with store.read() as connection:
        row = outbox.message_row(connection, row_id)
    assert row is not None
    return str(row["state"])


LATER = NOW + timedelta(minutes=1)


def claim_until_empty(url: str, batch: int) -> list[int]:
    store = open_store(url)
    found: list[int] = []
    while rows := claim(store, LATER, batch):
        found.extend(row["id"] for row in rows)
    store.close()
    return found


def test_no_message_is_handed_to_two_workers(store_url: str) -> None:
    store = open_store(store_url)
    fill(store, 60)
    store.close()
    with ThreadPoolExecutor(4) as workers:
        hands = list(workers.map(lambda _: claim_until_empty(store_url, 5), range(4)))
    assert sorted(each for hand in hands for each in hand) == list(range(1, 61))


def test_the_longest_waiting_come_first(store: Store) -> None:
    fill(store, 5)
    assert [row["key"] for row in claim(store, LATER, 2)] == ["key 0", "key 1"]


def test_nothing_is_claimed_before_it_is_due_or_once_it_is_stale(store: Store) -> None:
    fill(store, 1)
    assert claim(store, NOW - timedelta(seconds=1)) == []
    assert claim(store, NOW + timedelta(hours=2)) == []


def test_a_key_is_planned_once_until_it_is_withdrawn(store: Store) -> None:
    with store.write() as connection:
        first = outbox.add_message(connection, planned(1))
        second = outbox.add_message(connection, planned(1))
    assert (first, second) == (1, None)


def test_a_withdrawn_key_may_be_planned_again(store: Store) -> None:
    fill(store, 1)
    (row,) = claim(store, LATER)
    move(store, row, OutboxState.CLAIMED, OutboxState.WITHDRAWN)
    with store.write() as connection:
        assert outbox.add_message(connection, planned(0)) is not None


@pytest.mark.parametrize("state", [each for each in OutboxState if each is not OutboxState.WITHDRAWN])
def test_a_key_in_any_other_state_is_taken(store: Store, state: OutboxState) -> None:
    with store.write() as connection:
        outbox.add_message(connection, planned(1, state=state))
        assert outbox.add_message(connection, planned(1)) is None


def test_only_the_attempt_that_holds_a_message_may_move_it(store: Store) -> None:
    fill(store, 1)
    (row,) = claim(store, LATER)
    assert not move(store, {**row, "attempt": row["attempt"] + 1}, OutboxState.CLAIMED, OutboxState.SENDING)
    assert move(store, row, OutboxState.CLAIMED, OutboxState.SENDING)


def test_a_message_is_moved_from_one_state_only_once(store: Store) -> None:
    fill(store, 1)
    (row,) = claim(store, LATER)
    moved = [move(store, row, OutboxState.CLAIMED, OutboxState.SENDING) for _ in range(2)]
    assert moved == [True, False]


def test_a_claim_that_ran_out_goes_back_and_its_worker_is_too_late(store: Store) -> None:
    fill(store, 1)
    (row,) = claim(store, LATER)
    with store.write() as connection:
        back, doubtful = outbox.run_out_leases(connection, LATER + LEASE)
    (again,) = claim(store, LATER + LEASE)
    assert (back, doubtful, again["attempt"]) == (1, [], 2)
    assert not move(store, row, OutboxState.CLAIMED, OutboxState.SENDING)


def test_sending_that_ran_out_is_in_doubt(store: Store) -> None:
    fill(store, 1)
    (row,) = claim(store, LATER)
    move(store, row, OutboxState.CLAIMED, OutboxState.SENDING)
    with store.write() as connection:
        _, doubtful = outbox.run_out_leases(connection, LATER + LEASE)
    assert [each["state"] for each in doubtful] == [OutboxState.IN_DOUBT]


def test_a_lease_still_running_is_left_alone(store: Store) -> None:
    fill(store, 1)
    claim(store, LATER)
    with store.write() as connection:
        assert outbox.run_out_leases(connection, LATER + LEASE - timedelta(seconds=1)) == (0, [])


def test_what_became_stale_expires_once(store: Store) -> None:
    fill(store, 2)
    with store.write() as connection:
        first = outbox.expire(connection, NOW + timedelta(hours=2))
        second = outbox.expire(connection, NOW + timedelta(hours=3))
    assert (len(first), second, state_of(store, 1)) == (2, [], OutboxState.EXPIRED)


def test_states_are_counted(store: Store) -> None:
    fill(store, 3)
    claim(store, LATER, 1)
    with store.read() as connection:
        assert Counter(outbox.count_states(connection)) == {"planned": 2, "claimed": 1}
