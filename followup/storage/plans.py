"""Plan events, which are the truth, and the one projection row an orthosis has for queries."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select, update

from followup.storage.rows import new_id
from followup.storage.tables import orthosis, plan_event, wear_plan


def add_event(
    connection: Connection,
    orthosis_id: int,
    type: str,
    data: Mapping[str, Any],
    occurred_at: datetime,
    recorded_at: datetime,
) -> int:
    """Append an event; the id."""
    values = {
        "orthosis_id": orthosis_id,
        "type": type,
        "data": dict(data),
        "occurred_at": occurred_at,
        "recorded_at": recorded_at,
    }
    return new_id(connection.execute(insert(plan_event).values(values)))


def events_of(connection: Connection, orthosis_id: int) -> list[Mapping[str, Any]]:
    """The events of a plan in the order they were recorded."""
    query = select(plan_event).where(plan_event.c.orthosis_id == orthosis_id)
    ordered = query.order_by(plan_event.c.recorded_at, plan_event.c.id)
    return [dict(row) for row in connection.execute(ordered).mappings()]


def projection(connection: Connection, orthosis_id: int) -> Mapping[str, Any] | None:
    """The projection row of a plan."""
    row = connection.execute(select(wear_plan).where(wear_plan.c.orthosis_id == orthosis_id)).mappings().first()
    return dict(row) if row else None


def put_projection(connection: Connection, orthosis_id: int, values: Mapping[str, Any]) -> None:
    """Write the projection row of a plan."""
    changed = connection.execute(update(wear_plan).where(wear_plan.c.orthosis_id == orthosis_id).values(dict(values)))
    if not changed.rowcount:
        connection.execute(insert(wear_plan).values(orthosis_id=orthosis_id, **values))


def due_plans(connection: Connection, now: datetime, limit: int) -> list[int]:
    """Orthoses whose plan has something to do, the longest waiting first; a plan that has ended has nothing to do."""
    joined = wear_plan.join(orthosis, orthosis.c.id == wear_plan.c.orthosis_id)
    due = wear_plan.c.next_due_at <= now, orthosis.c.ended_at.is_(None)
    query = select(wear_plan.c.orthosis_id).select_from(joined).where(*due)
    return list(connection.execute(query.order_by(wear_plan.c.next_due_at).limit(limit)).scalars())


def claim_plan(connection: Connection, orthosis_id: int, now: datetime, until: datetime) -> bool:
    """Take one due plan in hand until then; False if another worker was first."""
    mine = (wear_plan.c.orthosis_id == orthosis_id) & (wear_plan.c.next_due_at <= now)
    return connection.execute(update(wear_plan).where(mine).values(next_due_at=until)).rowcount == 1


def change_projection(connection: Connection, orthosis_id: int, values: Mapping[str, Any]) -> None:
    """Change bookkeeping columns of the projection row, such as when the plan next has something to do."""
    connection.execute(update(wear_plan).where(wear_plan.c.orthosis_id == orthosis_id).values(dict(values)))
