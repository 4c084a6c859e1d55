"""The audit trail: who did what to which record, and when. Ids only, never a name."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from followup.storage.tables import audit


def write_entry(
    connection: Connection, at: datetime, actor: str, action: str, subject: str, data: Mapping[str, Any] | None = None
) -> None:
    """Append an entry. `actor` and `subject` are such as ``staff:3``, ``contact:12``, ``orthosis:7``, ``program``."""
    connection.execute(insert(audit).values(at=at, actor=actor, action=action, subject=subject, data=dict(data or {})))


def entries_of(connection: Connection, subject: str) -> list[Mapping[str, Any]]:
    """The entries of one record, oldest first."""
    query = select(audit).where(audit.c.subject == subject).order_by(audit.c.id)
    return [dict(row) for row in connection.execute(query).mappings()]
