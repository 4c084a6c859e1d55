"""Orthoses and their delivery checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, or_, select, update

from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.storage.rows import new_id
from followup.storage.tables import check_release, delivery_check, orthosis, wear_plan, wearer


def add_orthosis(connection: Connection, values: Mapping[str, Any]) -> int:
    """A new orthosis; the id."""
    return new_id(connection.execute(insert(orthosis).values(dict(values))))


def orthosis_row(connection: Connection, orthosis_id: int) -> Mapping[str, Any] | None:
    """The orthosis of that id."""
    row = connection.execute(select(orthosis).where(orthosis.c.id == orthosis_id)).mappings().first()
    return dict(row) if row else None


def hold(connection: Connection, orthosis_id: int) -> None:
    """Let nobody else change the plans or the calls of a wearer until the transaction ends; taken before all else.

    Of two orthoses the slower leads, so both are held, in one order. On SQLite every writing transaction is alone
    anyway. New rows may refer to the orthosis meanwhile.
    """
    whose = select(orthosis.c.wearer_id).where(orthosis.c.id == orthosis_id).scalar_subquery()
    query = select(orthosis.c.id).where(orthosis.c.wearer_id == whose).order_by(orthosis.c.id)
    connection.execute(query.with_for_update(key_share=True))


def by_identifier(connection: Connection, identifier: str) -> Mapping[str, Any] | None:
    """The orthosis that carries that identifier."""
    row = connection.execute(select(orthosis).where(orthosis.c.identifier == identifier)).mappings().first()
    return dict(row) if row else None


def replace_orthosis(connection: Connection, orthosis_id: int, values: Mapping[str, Any]) -> None:
    """Bring the record of an orthosis up to date; its plan events stay."""
    connection.execute(update(orthosis).where(orthosis.c.id == orthosis_id).values(dict(values)))


def count_of_wearer(connection: Connection, wearer_id: int) -> int:
    """How many orthoses a wearer has."""
    return connection.execute(select(func.count()).where(orthosis.c.wearer_id == wearer_id)).scalar_one()


def count_running(connection: Connection, wearer_id: int) -> int:
    """How many plans of a wearer have begun and not ended."""
    running = orthosis.c.started_at.is_not(None), orthosis.c.ended_at.is_(None)
    return connection.execute(select(func.count()).where(orthosis.c.wearer_id == wearer_id, *running)).scalar_one()


def has_started(connection: Connection, wearer_id: int) -> bool:
    """True where a plan of this wearer has begun."""
    query = select(orthosis.c.id).where(orthosis.c.wearer_id == wearer_id, orthosis.c.started_at.is_not(None))
    return connection.execute(query.limit(1)).first() is not None


def sides_where_two(connection: Connection, ids: Sequence[int]) -> dict[int, str]:
    """Which leg each of these orthoses is on, where its wearer has one on either; else it need not be said."""
    other = orthosis.alias()
    query = (
        select(orthosis.c.id, orthosis.c.side)
        .join(other, (other.c.wearer_id == orthosis.c.wearer_id) & (other.c.side != orthosis.c.side))
        .where(orthosis.c.id.in_(ids))
        .distinct()
    )
    return {row.id: row.side for row in connection.execute(query)}


def of_wearer(connection: Connection, wearer_id: int) -> list[int]:
    """The ids of a wearer's orthoses, newest delivery first."""
    query = select(orthosis.c.id).where(orthosis.c.wearer_id == wearer_id)
    return list(connection.execute(query.order_by(orthosis.c.delivered_on.desc(), orthosis.c.id.desc())).scalars())


def list_orthoses(connection: Connection, words: str, limit: int = 200) -> list[Mapping[str, Any]]:
    """Orthoses with their wearer and plan, by wearer's name; `words` narrows to a name, reference or identifier."""
    joined = orthosis.join(wearer, orthosis.c.wearer_id == wearer.c.id).outerjoin(
        wear_plan, wear_plan.c.orthosis_id == orthosis.c.id
    )
    query = (
        select(
            orthosis.c.id,
            orthosis.c.side,
            orthosis.c.delivered_on,
            orthosis.c.started_at,
            orthosis.c.ended_why,
            wearer.c.name,
            wearer.c.reference,
            wear_plan.c.state,
            wear_plan.c.day,
            wear_plan.c.target_minutes,
        )
        .select_from(joined)
        .order_by(wearer.c.name, orthosis.c.id)
        .limit(limit)
    )
    if words:
        like = f"%{words.lower()}%"
        columns = (wearer.c.name, wearer.c.reference, orthosis.c.identifier)
        query = query.where(or_(*(func.lower(column).like(like) for column in columns)))
    return [dict(row) for row in connection.execute(query).mappings()]


def start(connection: Connection, orthosis_id: int, at: datetime) -> None:
    """Note that the wear plan begins."""
    connection.execute(update(orthosis).where(orthosis.c.id == orthosis_id).values(started_at=at))


def reopen_checks(connection: Connection, orthosis_id: int) -> None:
    """From now on only delivery checks still to be recorded count: the orthosis may fit otherwise than before."""
    newest = select(func.max(delivery_check.c.id)).where(delivery_check.c.orthosis_id == orthosis_id).scalar_subquery()
    changed = update(orthosis).where(orthosis.c.id == orthosis_id)
    connection.execute(changed.values(checks_after_id=func.coalesce(newest, 0)))


def end(connection: Connection, orthosis_id: int, why: str, at: datetime) -> None:
    """Note that the wear plan has ended for good."""
    connection.execute(update(orthosis).where(orthosis.c.id == orthosis_id).values(ended_at=at, ended_why=why))


def name_checker(connection: Connection, orthosis_id: int, checker: str) -> None:
    """Note who looks at the skin."""
    connection.execute(update(orthosis).where(orthosis.c.id == orthosis_id).values(checker=checker))


def has_died(connection: Connection, wearer_id: int) -> bool:
    """True where a plan of this wearer ended because they died."""
    query = select(orthosis.c.id).where(orthosis.c.wearer_id == wearer_id, orthosis.c.ended_why == "died")
    return connection.execute(query.limit(1)).first() is not None


def record_check(
    connection: Connection, orthosis_id: int, answer: CheckAnswer, staff_id: int | None, at: datetime
) -> None:
    """Append one delivery check."""
    values = {"check": answer.check, "outcome": answer.outcome, "reason": answer.reason}
    connection.execute(insert(delivery_check).values(orthosis_id=orthosis_id, staff_id=staff_id, at=at, **values))


def record_release(
    connection: Connection, orthosis_id: int, check: str, note: str, staff_id: int, at: datetime
) -> None:
    """Append a clinician's release of an exception."""
    connection.execute(
        insert(check_release).values(orthosis_id=orthosis_id, check=check, note=note, staff_id=staff_id, at=at)
    )


def checks_of(connection: Connection, orthosis_id: int) -> list[CheckAnswer]:
    """The newest answer of each check since they were reopened; a release counts only if it came after that answer."""
    newest: dict[str, Any] = {}
    counts_after = select(func.coalesce(orthosis.c.checks_after_id, 0)).where(orthosis.c.id == orthosis_id)
    mine = delivery_check.c.orthosis_id == orthosis_id, delivery_check.c.id > counts_after.scalar_subquery()
    rows = connection.execute(select(delivery_check).where(*mine).order_by(delivery_check.c.id))
    for row in rows:
        newest[row.check] = row
    releases = releases_of(connection, orthosis_id)
    return [
        CheckAnswer(
            DeliveryCheck(row.check),
            Outcome(row.outcome),
            row.reason,
            row.check in releases and releases[row.check]["at"] >= row.at,
        )
        for row in newest.values()
    ]


def releases_of(connection: Connection, orthosis_id: int) -> dict[str, Mapping[str, Any]]:
    """The newest release of each check."""
    query = select(check_release).where(check_release.c.orthosis_id == orthosis_id).order_by(check_release.c.id)
    return {row["check"]: dict(row) for row in connection.execute(query).mappings()}
