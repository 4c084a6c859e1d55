from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import create_engine, inspect, select, text

from followup.storage.engine import Store, is_current, migrate, open_store
from followup.storage.tables import metadata, orthosis


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


def _old_rows(store: Store) -> None:
    """Two wearers as they were kept before each orthosis said by itself whether it protects."""
    wearer = "INSERT INTO wearer VALUES (:id, 'W' || CAST(:id AS VARCHAR), :name, 'none', 'walks', FALSE, TRUE)"
    protective = "INSERT INTO precaution VALUES (:id, 'protective', :protects)"
    worn = (
        "INSERT INTO orthosis VALUES (:id, :id, 'left', 'front', 'stiff', 'outer', 'carbon', 'full', 'open', "
        "'two_hands', :name, 'L', 's01', 480, '07:30', '21:30', 'low', 'UTC', '2026-03-02', '2026-03-02 10:00:00', "
        "'digest', NULL)"
    )
    with store.engine.begin() as connection:
        for id, name, protects in ((1, "Aldo", False), (2, "Branka", True)):
            for statement in (wearer, protective, worn):
                named = text(statement)
                values = {"id": id, "name": name, "protects": protects}
                connection.execute(named, {each: values[each] for each in named.compile().params})


def test_what_protects_is_kept_when_it_becomes_a_fact_of_the_orthosis(empty_store_url: str) -> None:
    store = open_store(empty_store_url)
    migrate(store, "0004")
    _old_rows(store)
    migrate(store)
    with store.read() as connection:
        rows = connection.execute(select(orthosis.c.protective, orthosis.c.fixed_points).order_by(orthosis.c.id))
        assert [tuple(row) for row in rows] == [(False, []), (True, [])]
        assert connection.execute(text("SELECT count(*) FROM precaution")).scalar() == 0
    store.close()
