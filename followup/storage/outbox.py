"""The outbox: claims are conditional updates with a lease, so that two workers never hold the same message."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, or_, select, text, update
from sqlalchemy.exc import IntegrityError

from followup.core.message import UNTIL_WE_SPEAK, MessageKind
from followup.core.outbox import OutboxState
from followup.storage.rows import new_id
from followup.storage.tables import attempt, outbox

UNSENT = (OutboxState.PLANNED, OutboxState.CLAIMED)


def add_message(connection: Connection, values: Mapping[str, Any]) -> int | None:
    """Plan a message once for each key; None if it is there already."""
    fresh = {"state": OutboxState.PLANNED, "attempt": 0, "not_before_at": values["due_at"]}
    try:
        with connection.begin_nested():
            return new_id(connection.execute(insert(outbox).values({**fresh, **values})))
    except IntegrityError:
        return None


def slots_taken(connection: Connection, orthosis_id: int, since: datetime) -> set[tuple[int, Any, str]]:
    """The (contact, plan day, slot) of messages not withdrawn, due since then."""
    query = select(outbox.c.contact_id, outbox.c.plan_on, outbox.c.slot).where(
        outbox.c.orthosis_id == orthosis_id, outbox.c.state != OutboxState.WITHDRAWN, outbox.c.due_at >= since
    )
    return {(row.contact_id, row.plan_on, row.slot) for row in connection.execute(query)}


def withdraw_unsent(connection: Connection, orthosis_id: int, at: datetime) -> int:
    """Take back what a changed plan made untrue and nobody has begun to send; how many.

    "Off until we speak", that it waits and that it rests stay: they are true until a clinician's word, which brings a
    message of its own. Any other change waiting for quiet hours to end goes, and the next morning's times say what
    holds.
    """
    stays = outbox.c.slot.like("event-%") & outbox.c.kind.in_(UNTIL_WE_SPEAK)
    mine = (outbox.c.orthosis_id == orthosis_id) & outbox.c.state.in_(UNSENT) & ~stays & (outbox.c.slot != "reply")
    return connection.execute(update(outbox).where(mine).values(state=OutboxState.WITHDRAWN, settled_at=at)).rowcount


def withdraw_events(connection: Connection, orthosis_id: int, at: datetime) -> int:
    """Take back unsent messages about earlier changes: a newer one replaces them; how many."""
    mine = (outbox.c.orthosis_id == orthosis_id) & outbox.c.state.in_(UNSENT) & outbox.c.slot.like("event-%")
    return connection.execute(update(outbox).where(mine).values(state=OutboxState.WITHDRAWN, settled_at=at)).rowcount


def withdraw_all(connection: Connection, orthosis_id: int, at: datetime) -> int:
    """Take back everything about an orthosis that nobody has begun to send; how many."""
    mine = (outbox.c.orthosis_id == orthosis_id) & outbox.c.state.in_(UNSENT)
    return connection.execute(update(outbox).where(mine).values(state=OutboxState.WITHDRAWN, settled_at=at)).rowcount


def told_only_off(connection: Connection, orthosis_id: int) -> bool:
    """True unless a change not sent yet, or sent last, says something else than off until we speak."""
    changes = (outbox.c.orthosis_id == orthosis_id) & outbox.c.slot.like("event-%")
    told = outbox.c.state.not_in((OutboxState.WITHDRAWN, OutboxState.EXPIRED))
    query = select(outbox.c.kind).where(changes, told).order_by(outbox.c.id.desc()).limit(1)
    newest = connection.execute(query).scalar()
    return newest is None or newest in UNTIL_WE_SPEAK


def expire(connection: Connection, now: datetime) -> list[Mapping[str, Any]]:
    """Give up planned messages whose words would be stale; those rows."""
    mine = (outbox.c.state == OutboxState.PLANNED) & (outbox.c.not_before_at <= now) & (outbox.c.expires_at <= now)
    query = update(outbox).where(mine).values(state=OutboxState.EXPIRED, settled_at=now)
    return [dict(row) for row in connection.execute(query.returning(outbox)).mappings()]


def claim(connection: Connection, now: datetime, lease_until: datetime, limit: int) -> list[Mapping[str, Any]]:
    """Take the messages that have waited longest, with a lease and a new attempt number each."""
    due = (
        select(outbox.c.id)
        .where(outbox.c.state == OutboxState.PLANNED, outbox.c.not_before_at <= now, outbox.c.expires_at > now)
        .order_by(outbox.c.not_before_at, outbox.c.id)
        .limit(limit)
        .with_for_update(skip_locked=True)
        .cte("due")  # as a plain subquery PostgreSQL may run it again for each row, past the limit
    )
    taken = (
        update(outbox)
        .where(outbox.c.id.in_(select(due.c.id)), outbox.c.state == OutboxState.PLANNED)
        .values(state=OutboxState.CLAIMED, attempt=outbox.c.attempt + 1, lease_until=lease_until)
        .returning(outbox)
    )
    rows = [dict(row) for row in connection.execute(taken).mappings()]
    return sorted(rows, key=lambda row: (row["not_before_at"], row["id"]))


def move(
    connection: Connection, row_id: int, attempt_number: int, before: str, after: str, values: Mapping[str, Any]
) -> bool:
    """Change a message's state if this attempt still holds it; False when the lease went to another."""
    mine = (outbox.c.id == row_id) & (outbox.c.attempt == attempt_number) & (outbox.c.state == before)
    return connection.execute(update(outbox).where(mine).values(state=after, **values)).rowcount == 1


def run_out_leases(connection: Connection, now: datetime) -> tuple[int, list[Mapping[str, Any]]]:
    """Claimed messages go back to planned; those being sent are in doubt. How many went back, and the doubtful rows."""
    late = text("state IN ('claimed', 'sending')") & (outbox.c.lease_until <= now)  # as written in ix_outbox_leased
    back = connection.execute(
        update(outbox)
        .where(outbox.c.state == OutboxState.CLAIMED, late)
        .values(state=OutboxState.PLANNED, lease_until=None)
    ).rowcount
    doubtful = (
        update(outbox)
        .where(outbox.c.state == OutboxState.SENDING, late)
        .values(state=OutboxState.IN_DOUBT, settled_at=now)
        .returning(outbox)
    )
    return back, [dict(row) for row in connection.execute(doubtful).mappings()]


def record_attempt(connection: Connection, values: Mapping[str, Any]) -> None:
    """Append how one attempt went."""
    connection.execute(insert(attempt).values(dict(values)))


def message_row(connection: Connection, row_id: int) -> Mapping[str, Any] | None:
    """The message of that id."""
    row = connection.execute(select(outbox).where(outbox.c.id == row_id)).mappings().first()
    return dict(row) if row else None


def by_message_id(connection: Connection, ids: Sequence[str]) -> Mapping[str, Any] | None:
    """The newest message with one of those Message-IDs."""
    query = select(outbox).where(outbox.c.message_id.in_(ids)).order_by(outbox.c.id.desc()).limit(1)
    row = connection.execute(query).mappings().first()
    return dict(row) if row else None


def messages_of(connection: Connection, orthosis_id: int, since: datetime) -> list[Mapping[str, Any]]:
    """Messages about an orthosis that left or may have left since then, oldest first."""
    left = or_(
        *(outbox.c.state == state for state in (OutboxState.ACCEPTED, OutboxState.IN_DOUBT, OutboxState.REFUSED))
    )
    query = select(outbox).where(outbox.c.orthosis_id == orthosis_id, outbox.c.settled_at >= since, left)
    return [dict(row) for row in connection.execute(query.order_by(outbox.c.settled_at, outbox.c.id)).mappings()]


def tests_of(connection: Connection, orthosis_id: int) -> list[Mapping[str, Any]]:
    """The test messages of an orthosis that were not withdrawn, oldest first."""
    mine = (outbox.c.orthosis_id == orthosis_id) & (outbox.c.kind == MessageKind.TEST)
    query = select(outbox).where(mine, outbox.c.state != OutboxState.WITHDRAWN).order_by(outbox.c.id)
    return [dict(row) for row in connection.execute(query).mappings()]


def count_states(connection: Connection) -> dict[str, int]:
    """How many messages stand in each state."""
    query = select(outbox.c.state, func.count()).group_by(outbox.c.state)
    return {row[0]: row[1] for row in connection.execute(query)}


def withdraw_of_contact(connection: Connection, contact_id: int, at: datetime) -> int:
    """Take back everything not sent yet to a contact who wants no messages; how many."""
    mine = (outbox.c.contact_id == contact_id) & outbox.c.state.in_(UNSENT)
    return connection.execute(update(outbox).where(mine).values(state=OutboxState.WITHDRAWN, settled_at=at)).rowcount


def every_message(connection: Connection) -> list[Mapping[str, Any]]:
    """All messages in the order they were planned, without their words and addresses."""
    left_out = {"payload", "address", "lease_until"}
    query = select(*(column for column in outbox.c if column.name not in left_out)).order_by(outbox.c.id)
    return [dict(row) for row in connection.execute(query).mappings()]
