from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import insert, select
from sqlalchemy.exc import SQLAlchemyError, StatementError

from followup.errors import FollowupError, InvalidInput
from followup.storage import audit, people
from followup.storage.engine import Store, migrate, open_store
from followup.storage.tables import audit as audit_table
from tests.builders import utc

NOON = utc("2026-03-29 12:00")


def kept(store: Store, at: datetime) -> datetime:
    with store.write() as connection:
        audit.write_entry(connection, at, "program", "tried", "orthosis:1")
    with store.read() as connection:
        found: datetime = connection.execute(select(audit_table.c.at)).scalar_one()
    return found


def test_an_instant_comes_back_aware_and_in_utc(store: Store) -> None:
    found = kept(store, NOON.astimezone(timezone(timedelta(hours=9))))
    assert (found, found.tzinfo) == (NOON, UTC)


def test_microseconds_are_kept(store: Store) -> None:
    assert kept(store, NOON.replace(microsecond=123456)).microsecond == 123456


def test_an_instant_without_its_zone_is_refused(store: Store) -> None:
    with pytest.raises(StatementError, match="needs its zone"), store.write() as connection:
        audit.write_entry(connection, NOON.replace(tzinfo=None), "program", "tried", "orthosis:1")


def test_instants_are_compared_as_instants(store: Store) -> None:
    kept(store, NOON)
    early = (NOON - timedelta(minutes=1)).astimezone(timezone(timedelta(hours=9)))
    with store.read() as connection:
        assert connection.execute(select(audit_table.c.id).where(audit_table.c.at > early)).scalar() is not None


def _write_and_fail(store: Store) -> None:
    with store.write() as connection:
        audit.write_entry(connection, NOON, "program", "tried", "orthosis:1")
        raise ZeroDivisionError


def test_a_transaction_that_fails_leaves_nothing(store: Store) -> None:
    with pytest.raises(ZeroDivisionError):
        _write_and_fail(store)
    with store.read() as connection:
        assert audit.entries_of(connection, "orthosis:1") == []


def test_an_error_of_the_database_repeats_no_names(store: Store) -> None:
    with store.write() as connection:
        people.add_staff(connection, "runa", "Runa Castellow", "clinician", "hash")
    with pytest.raises(SQLAlchemyError) as refused, store.write() as connection:
        people.add_staff(connection, "runa", "Runa Castellow", "clinician", "hash")
    assert "Castellow" not in str(refused.value)


def test_sqlite_keeps_what_it_confirmed(tmp_path: object) -> None:
    store = open_store(f"sqlite:///{tmp_path}/f.db")
    with store.engine.connect() as connection:
        found = [connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous")]
    store.close()
    assert found == ["wal", 2]


def test_sqlite_minds_what_a_row_refers_to(store: Store) -> None:
    with pytest.raises(SQLAlchemyError), store.write() as connection:
        people.add_session(connection, "digest", 99, "csrf", NOON)


@pytest.mark.parametrize("url", ["", "nonsense", "mysql://q@h/n"])
def test_an_address_of_no_database_is_refused(url: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        open_store(url)
    assert refused.value.code == "bad_database_url"


def test_a_database_that_cannot_be_opened_says_so() -> None:
    store = open_store("sqlite:////nowhere/at/all.db")
    with pytest.raises(FollowupError) as refused:
        migrate(store)
    assert refused.value.code == "database"


def test_nothing_is_logged_while_rows_are_written(store: Store, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    with store.write() as connection:
        connection.execute(insert(audit_table).values(at=NOON, actor="p", action="a", subject="s", data={}))
    assert "audit" not in caplog.text
