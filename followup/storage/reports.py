"""Reports as they come in, what triage made of them, and the raw items they were read from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from followup.storage.rows import new_id
from followup.storage.tables import inbound, report, triage_result


def add_report(connection: Connection, values: Mapping[str, Any]) -> int:
    """A new report; the id."""
    return new_id(connection.execute(insert(report).values(dict(values))))


def report_row(connection: Connection, report_id: int, *, lock: bool = False) -> Mapping[str, Any] | None:
    """The report of that id; `lock` keeps others from changing it until the transaction ends."""
    query = select(report).where(report.c.id == report_id)
    row = connection.execute(query.with_for_update() if lock else query).mappings().first()
    return dict(row) if row else None


def change_report(connection: Connection, report_id: int, values: Mapping[str, Any]) -> None:
    """Keep what was answered so far."""
    connection.execute(update(report).where(report.c.id == report_id).values(dict(values)))


def left_open(connection: Connection, before: datetime, limit: int) -> list[int]:
    """Reports begun before then that nobody finished."""
    query = select(report.c.id).where(report.c.state == "open", report.c.begun_at < before)
    return list(connection.execute(query.order_by(report.c.begun_at).limit(limit)).scalars())


def reports_of(connection: Connection, orthosis_id: int, since: datetime) -> list[Mapping[str, Any]]:
    """The reports on an orthosis since then, oldest first."""
    query = select(report).where(report.c.orthosis_id == orthosis_id, report.c.begun_at >= since)
    return [dict(row) for row in connection.execute(query.order_by(report.c.begun_at, report.c.id)).mappings()]


def count_reports(connection: Connection) -> int:
    """How many reports there are."""
    return connection.execute(select(func.count()).select_from(report)).scalar_one()


def add_result(connection: Connection, values: Mapping[str, Any]) -> int:
    """Append what triage made of a report; the id."""
    return new_id(connection.execute(insert(triage_result).values(dict(values))))


def newest_result(connection: Connection, report_id: int) -> Mapping[str, Any] | None:
    """The newest triage result of a report."""
    query = select(triage_result).where(triage_result.c.report_id == report_id)
    row = connection.execute(query.order_by(triage_result.c.id.desc()).limit(1)).mappings().first()
    return dict(row) if row else None


def take_in(connection: Connection, source_id: str, raw: str, at: datetime) -> int | None:
    """Keep a raw item once; None if that source id was taken in before."""
    known = connection.execute(select(inbound.c.id).where(inbound.c.source_id == source_id)).scalar()
    if known is not None:
        return None
    values = {"source_id": source_id, "raw": raw, "received_at": at, "state": "raw"}
    try:
        with connection.begin_nested():
            return new_id(connection.execute(insert(inbound).values(values)))
    except IntegrityError:
        return None


def raw_items(connection: Connection, limit: int) -> list[Mapping[str, Any]]:
    """Items taken in and not read yet."""
    query = select(inbound).where(inbound.c.state == "raw").order_by(inbound.c.id).limit(limit)
    return [dict(row) for row in connection.execute(query).mappings()]


def settle_raw_item(connection: Connection, item_id: int, state: str) -> bool:
    """Note what becomes of an item nobody has read yet; False if somebody has. Others wait for the transaction."""
    mine = (inbound.c.id == item_id) & (inbound.c.state == "raw")
    return connection.execute(update(inbound).where(mine).values(state=state)).rowcount == 1


def settle_item(connection: Connection, item_id: int, state: str, report_id: int | None) -> None:
    """Note what became of a raw item."""
    connection.execute(update(inbound).where(inbound.c.id == item_id).values(state=state, report_id=report_id))
