"""Callbacks, the desk list and the outbox."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    _create_callback()
    _create_desk_item()
    _create_outbox()
    _create_attempt()
    _create_callback_report()


def downgrade() -> None:
    for table in ("callback_report", "attempt", "outbox", "desk_item", "callback"):
        op.drop_table(table)


def _create_callback() -> None:
    op.create_table(
        "callback",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("urgency", sa.Integer(), nullable=False),
        sa.Column("instruction", sa.String(length=30), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken_by", sa.Integer(), nullable=True),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("next_try_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("on_call_alerted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(length=30), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("action", sa.String(length=20), nullable=True),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["closed_by"], ["staff.id"], name=op.f("fk_callback_closed_by")),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_callback_orthosis_id")),
        sa.ForeignKeyConstraint(["taken_by"], ["staff.id"], name=op.f("fk_callback_taken_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_callback")),
    )
    op.create_index(
        "ix_callback_open",
        "callback",
        ["due_at"],
        unique=False,
        sqlite_where=sa.text("state = 'open'"),
        postgresql_where=sa.text("state = 'open'"),
    )
    op.create_index(
        "uq_callback_one_open",
        "callback",
        ["orthosis_id"],
        unique=True,
        sqlite_where=sa.text("state = 'open' AND orthosis_id IS NOT NULL"),
        postgresql_where=sa.text("state = 'open' AND orthosis_id IS NOT NULL"),
    )


def _create_desk_item() -> None:
    op.create_table(
        "desk_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=120), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=True),
        sa.Column("contact_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("from_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["closed_by"], ["staff.id"], name=op.f("fk_desk_item_closed_by")),
        sa.ForeignKeyConstraint(["contact_id"], ["contact.id"], name=op.f("fk_desk_item_contact_id")),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_desk_item_orthosis_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_desk_item")),
        sa.UniqueConstraint("key", name=op.f("uq_desk_item_key")),
    )
    op.create_index(
        "ix_desk_item_open",
        "desk_item",
        ["due_at"],
        unique=False,
        sqlite_where=sa.text("closed_at IS NULL"),
        postgresql_where=sa.text("closed_at IS NULL"),
    )


def _create_outbox() -> None:
    op.create_table(
        "outbox",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=True),
        sa.Column("contact_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("slot", sa.String(length=60), nullable=False),
        sa.Column("plan_on", sa.Date(), nullable=True),
        sa.Column("channel", sa.String(length=20), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("language", sa.String(length=5), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("not_before_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("lease_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("message_id", sa.String(length=120), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["contact_id"], ["contact.id"], name=op.f("fk_outbox_contact_id")),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_outbox_orthosis_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
    )
    _index_outbox()


def _index_outbox() -> None:
    op.create_index(
        "ix_outbox_leased",
        "outbox",
        ["lease_until"],
        unique=False,
        sqlite_where=sa.text("state IN ('claimed', 'sending')"),
        postgresql_where=sa.text("state IN ('claimed', 'sending')"),
    )
    op.create_index("ix_outbox_message_id", "outbox", ["message_id"], unique=False)
    op.create_index(op.f("ix_outbox_orthosis_id"), "outbox", ["orthosis_id"], unique=False)
    op.create_index(
        "ix_outbox_planned",
        "outbox",
        ["not_before_at"],
        unique=False,
        sqlite_where=sa.text("state = 'planned'"),
        postgresql_where=sa.text("state = 'planned'"),
    )
    op.create_index(
        "uq_outbox_live_key",
        "outbox",
        ["key"],
        unique=True,
        sqlite_where=sa.text("state <> 'withdrawn'"),
        postgresql_where=sa.text("state <> 'withdrawn'"),
    )


def _create_attempt() -> None:
    op.create_table(
        "attempt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("outbox_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("phase", sa.String(length=12), nullable=False),
        sa.Column("outcome", sa.String(length=12), nullable=False),
        sa.Column("code", sa.Integer(), nullable=True),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["outbox_id"], ["outbox.id"], name=op.f("fk_attempt_outbox_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempt")),
    )
    op.create_index(op.f("ix_attempt_outbox_id"), "attempt", ["outbox_id"], unique=False)


def _create_callback_report() -> None:
    op.create_table(
        "callback_report",
        sa.Column("callback_id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["callback_id"], ["callback.id"], name=op.f("fk_callback_report_callback_id")),
        sa.ForeignKeyConstraint(["report_id"], ["report.id"], name=op.f("fk_callback_report_report_id")),
        sa.UniqueConstraint("callback_id", "report_id", name=op.f("uq_callback_report_callback_id_report_id")),
    )
    op.create_index(op.f("ix_callback_report_callback_id"), "callback_report", ["callback_id"], unique=False)
