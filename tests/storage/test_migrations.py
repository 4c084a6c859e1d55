from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import create_engine, inspect

from followup.storage.engine import Store, is_current, migrate, open_store
from followup.storage.tables import metadata


def test_migrations_make_the_tables_the_program_uses(store: Store) -> None:
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []


def indexes(store: Store) -> set[tuple[object, ...]]:
    found = inspect(store.engine)
    return {
        (table, each["name"], tuple(each["column_names"]), bool(each["unique"]))
        for table in found.get_table_names()
        for each in found.get_indexes(table)
    }


def test_migrations_make_the_indexes_the_program_names(store: Store, tmp_path: object) -> None:
    made = create_engine(f"sqlite:///{tmp_path}/made.db")
    metadata.create_all(made)
    wanted = {each[1] for each in indexes(Store(made))}
    made.dispose()
    assert wanted <= {each[1] for each in indexes(store)}


def test_an_empty_database_is_not_current_until_it_is_migrated(empty_store_url: str) -> None:
    store = open_store(empty_store_url)
    before = is_current(store)
    migrate(store)
    assert (before, is_current(store)) == (False, True)
    store.close()


def test_migrating_again_changes_nothing(store: Store) -> None:
    before = indexes(store)
    migrate(store)
    assert indexes(store) == before
