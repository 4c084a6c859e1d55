"""The test message of a delivery: whether it was sent, left, and was answered, as far as the program knows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import Connection

from followup.core.outbox import OutboxState
from followup.storage import outbox
from followup.storage.audit import entries_of, write_entry
from followup.storage.people import Contact

ANSWERED = "test_answered"
LEFT = frozenset({OutboxState.ACCEPTED, OutboxState.IN_DOUBT})


class TestStanding(StrEnum):
    """How far the newest test message has come. `NOBODY` means that no contact is sent messages."""

    __test__ = False

    NOBODY = "nobody"
    UNSENT = "unsent"
    ON_ITS_WAY = "on_its_way"
    NOT_DELIVERED = "not_delivered"
    SENT = "sent"
    ANSWERED = "answered"


@dataclass(frozen=True, slots=True)
class SentTest:
    """Where the test message of an orthosis stands, and since when (UTC); `at` is None before anything left."""

    standing: TestStanding
    at: datetime | None = None


def note_answered(connection: Connection, orthosis_id: int, contact_id: int, now: datetime) -> None:
    """Keep that a contact answered the test message of an orthosis."""
    write_entry(connection, now, f"contact:{contact_id}", ANSWERED, f"orthosis:{orthosis_id}")


def see_sent_test(connection: Connection, orthosis_id: int, contacts: list[Contact]) -> SentTest:
    """The test message of an orthosis; an answer counts only after one had left."""
    rows = outbox.tests_of(connection, orthosis_id)
    left = [row["settled_at"] for row in rows if row["state"] in LEFT]
    answers = [each["at"] for each in entries_of(connection, f"orthosis:{orthosis_id}") if each["action"] == ANSWERED]
    heard = [at for at in answers if left and at >= min(left)]
    if heard:
        return SentTest(TestStanding.ANSWERED, heard[0])
    if not rows:
        reached = any(each.as_recipient().reachable for each in contacts)
        return SentTest(TestStanding.UNSENT if reached else TestStanding.NOBODY)
    newest = rows[-1]
    if newest["state"] in LEFT:
        return SentTest(TestStanding.SENT, newest["settled_at"])
    if newest["state"] in {OutboxState.REFUSED, OutboxState.EXPIRED}:
        return SentTest(TestStanding.NOT_DELIVERED, newest["settled_at"])
    return SentTest(TestStanding.ON_ITS_WAY)
