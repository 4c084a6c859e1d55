"""Runs the migrations on the connection it is handed."""

from alembic import context

from followup.storage.tables import metadata


def run() -> None:
    """Migrate on the connection given in the configuration's attributes."""
    connection = context.config.attributes["connection"]
    context.configure(connection=connection, target_metadata=metadata, render_as_batch=True)
    with context.begin_transaction():
        context.run_migrations()


run()
