"""Opening the database: SQLite for one practice on one machine, PostgreSQL for any number of processes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event, func, select
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DataError, SQLAlchemyError
from sqlalchemy.pool import NullPool, QueuePool

from followup.errors import FollowupError, InvalidInput

BUSY_MILLISECONDS = 20_000
MIGRATION_LOCK = 6_017_385  # any number, as long as every process asks for the same one


class Store:
    """A database with two ways in: `read` never writes, `write` is one transaction that commits whole or not at all."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A connection for queries; what is read in it belongs together."""
        with _values_that_fit(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """A transaction; on SQLite it takes the write lock at once, so that it never fails half way."""
        with _values_that_fit(), self.engine.connect() as connection:
            writing = connection.execution_options(followup_write=True)
            with writing.begin():
                yield writing

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()


@contextmanager
def _values_that_fit() -> Iterator[None]:
    """A number or text no column can hold came from outside: say so instead of failing."""
    try:
        yield
    except (OverflowError, DataError) as error:
        raise InvalidInput("too_large", "A number or text is too long; nothing was changed.") from error


def open_store(url: str) -> Store:
    """The store at a database address such as ``sqlite:///followup.db`` or ``postgresql://…``."""
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise InvalidInput("bad_database_url", "Write sqlite:///FILE or postgresql://USER@HOST/NAME.") from error
    if parsed.get_backend_name() == "sqlite":
        engine = create_engine(
            parsed, poolclass=QueuePool, pool_size=8, connect_args={"check_same_thread": False}, hide_parameters=True
        )
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    elif parsed.get_backend_name() == "postgresql":
        address = parsed.set(drivername="postgresql+psycopg")
        engine = create_engine(address, pool_pre_ping=True, hide_parameters=True)
    else:
        raise InvalidInput("bad_database_url", "Only sqlite and postgresql are supported.")
    return Store(engine)


def _set_up_sqlite(connection: Any, _record: object) -> None:
    connection.isolation_level = None
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        f"busy_timeout={BUSY_MILLISECONDS}",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _wait_for_others(connection: Any, _record: object) -> None:
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout={BUSY_MILLISECONDS}")


def _begin_sqlite(connection: Connection) -> None:
    writing = connection.get_execution_options().get("followup_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def migrate(store: Store, revision: str = "head") -> None:
    """Bring the tables to the newest shape, or to that revision; safe to run again, and by several at once."""
    config = _alembic_config()
    migrating = create_engine(store.engine.url, poolclass=NullPool)
    if migrating.dialect.name == "sqlite":
        event.listen(migrating, "connect", _wait_for_others)
        event.listen(migrating, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    try:
        with migrating.begin() as connection:
            if migrating.dialect.name == "postgresql":
                connection.execute(select(func.pg_advisory_xact_lock(MIGRATION_LOCK)))
            config.attributes["connection"] = connection
            command.upgrade(config, revision)
    except SQLAlchemyError as error:
        raise FollowupError("database", f"The database cannot be opened or migrated: {error}") from error
    finally:
        migrating.dispose()


def is_current(store: Store) -> bool:
    """True if the tables have the newest shape."""
    head = ScriptDirectory.from_config(_alembic_config()).get_current_head()
    with store.engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision() == head


def _alembic_config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return config
