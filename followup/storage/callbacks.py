"""Callbacks and desk items."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from followup.storage.rows import new_id
from followup.storage.tables import callback, callback_report, desk_item, orthosis, report, wearer


def open_of(connection: Connection, orthosis_id: int) -> Mapping[str, Any] | None:
    """The open callback of an orthosis, locked until the transaction ends."""
    query = select(callback).where(callback.c.orthosis_id == orthosis_id, callback.c.state == "open")
    row = connection.execute(query.with_for_update()).mappings().first()
    return dict(row) if row else None


def add_callback(connection: Connection, values: Mapping[str, Any]) -> int:
    """A new open callback; the id."""
    fresh = {"state": "open", "tries": 0, "version": 1}
    return new_id(connection.execute(insert(callback).values({**fresh, **values})))


def join_report(connection: Connection, callback_id: int, report_id: int) -> None:
    """Note that a report belongs to a callback."""
    pair = {"callback_id": callback_id, "report_id": report_id}
    known = select(callback_report).where(
        callback_report.c.callback_id == callback_id, callback_report.c.report_id == report_id
    )
    if connection.execute(known).first() is None:
        connection.execute(insert(callback_report).values(pair))


def change_callback(
    connection: Connection, callback_id: int, values: Mapping[str, Any], version: int | None = None
) -> bool:
    """Change an open callback; False if it is closed, or no longer at that version."""
    mine = (callback.c.id == callback_id) & (callback.c.state == "open")
    if version is not None:
        mine &= callback.c.version == version
    changed = connection.execute(update(callback).where(mine).values({**values, "version": callback.c.version + 1}))
    return changed.rowcount == 1


def callback_row(connection: Connection, callback_id: int) -> Mapping[str, Any] | None:
    """The callback of that id with its wearer."""
    row = connection.execute(_joined().where(callback.c.id == callback_id)).mappings().first()
    return dict(row) if row else None


def open_callbacks(connection: Connection, limit: int = 500) -> list[Mapping[str, Any]]:
    """Open callbacks with their wearers."""
    query = _joined().where(callback.c.state == "open").order_by(callback.c.due_at).limit(limit)
    return [dict(row) for row in connection.execute(query).mappings()]


def count_states(connection: Connection) -> dict[str, int]:
    """How many callbacks stand in each state."""
    query = select(callback.c.state, func.count()).group_by(callback.c.state)
    return {row[0]: row[1] for row in connection.execute(query)}


def reports_of_callback(connection: Connection, callback_id: int) -> list[Mapping[str, Any]]:
    """The reports a callback stands for, oldest first."""
    joined = report.join(callback_report, callback_report.c.report_id == report.c.id)
    query = select(report).select_from(joined).where(callback_report.c.callback_id == callback_id)
    return [dict(row) for row in connection.execute(query.order_by(report.c.begun_at)).mappings()]


def waiting_for_on_call(connection: Connection, now: datetime) -> list[Mapping[str, Any]]:
    """Open callbacks past their time that nobody took and nobody on call was told of."""
    query = _joined().where(
        callback.c.state == "open",
        callback.c.due_at <= now,
        callback.c.taken_by.is_(None),
        callback.c.on_call_alerted_at.is_(None),
    )
    return [dict(row) for row in connection.execute(query).mappings()]


def add_desk_item(connection: Connection, values: Mapping[str, Any]) -> int | None:
    """A new thing for the desk, once for each key; None if it is there already."""
    known = connection.execute(select(desk_item.c.id).where(desk_item.c.key == values["key"])).scalar()
    if known is not None:
        return None
    try:
        with connection.begin_nested():
            return new_id(connection.execute(insert(desk_item).values({"note": "", **values})))
    except IntegrityError:
        return None


def open_desk_items(connection: Connection, limit: int = 500) -> list[Mapping[str, Any]]:
    """Things for the desk that are not done, with their wearers."""
    joined = desk_item.outerjoin(orthosis, desk_item.c.orthosis_id == orthosis.c.id).outerjoin(
        wearer, orthosis.c.wearer_id == wearer.c.id
    )
    query = (
        select(desk_item, wearer.c.name.label("wearer_name"), orthosis.c.wearer_id)
        .select_from(joined)
        .where(desk_item.c.closed_at.is_(None))
        .order_by(desk_item.c.due_at, desk_item.c.id)
        .limit(limit)
    )
    return [dict(row) for row in connection.execute(query).mappings()]


def close_desk_item(connection: Connection, item_id: int, staff_id: int, note: str, at: datetime) -> bool:
    """Note that something was done; False if somebody was first."""
    mine = (desk_item.c.id == item_id) & desk_item.c.closed_at.is_(None)
    values = {"closed_at": at, "closed_by": staff_id, "note": note}
    return connection.execute(update(desk_item).where(mine).values(values)).rowcount == 1


def desk_item_row(connection: Connection, item_id: int) -> Mapping[str, Any] | None:
    """The thing for the desk of that id."""
    row = connection.execute(select(desk_item).where(desk_item.c.id == item_id)).mappings().first()
    return dict(row) if row else None


def close_desk_items_of(connection: Connection, orthosis_id: int, kind: str, note: str, at: datetime) -> None:
    """Close the open items of one kind that an answer has made needless."""
    mine = (desk_item.c.orthosis_id == orthosis_id) & (desk_item.c.kind == kind) & desk_item.c.closed_at.is_(None)
    connection.execute(update(desk_item).where(mine).values(closed_at=at, note=note))


def close_all_desk_items_of(connection: Connection, orthosis_id: int, note: str, at: datetime) -> None:
    """Close every open item about an orthosis whose plan has ended."""
    mine = (desk_item.c.orthosis_id == orthosis_id) & desk_item.c.closed_at.is_(None)
    connection.execute(update(desk_item).where(mine).values(closed_at=at, note=note))


def _joined() -> Any:
    joined = callback.outerjoin(orthosis, callback.c.orthosis_id == orthosis.c.id).outerjoin(
        wearer, orthosis.c.wearer_id == wearer.c.id
    )
    columns = (wearer.c.name.label("wearer_name"), orthosis.c.wearer_id, orthosis.c.side, orthosis.c.zone)
    return select(callback, *columns).select_from(joined)


def of_report(connection: Connection, report_id: int) -> Mapping[str, Any] | None:
    """The callback a report belongs to: the open one, or else the newest."""
    rows = _of_report(connection, report_id)
    return next((row for row in rows if row["state"] == "open"), rows[0] if rows else None)


def open_of_report(connection: Connection, report_id: int) -> list[Mapping[str, Any]]:
    """Every open callback that stands for a report, newest first."""
    return [row for row in _of_report(connection, report_id) if row["state"] == "open"]


def _of_report(connection: Connection, report_id: int) -> list[Mapping[str, Any]]:
    joined = callback.join(callback_report, callback_report.c.callback_id == callback.c.id)
    query = select(callback).select_from(joined).where(callback_report.c.report_id == report_id)
    return [dict(row) for row in connection.execute(query.order_by(callback.c.id.desc())).mappings()]


def closed_of(connection: Connection, orthosis_id: int, since: datetime) -> list[Mapping[str, Any]]:
    """Callbacks of an orthosis closed since then, oldest first."""
    mine = (callback.c.orthosis_id == orthosis_id) & (callback.c.state == "closed") & (callback.c.closed_at >= since)
    query = select(callback).where(mine).order_by(callback.c.closed_at)
    return [dict(row) for row in connection.execute(query).mappings()]
