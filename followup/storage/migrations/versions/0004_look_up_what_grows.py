"""Indexes for what is looked up in tables that grow: joined reports, calls of an orthosis, unread items."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_index(op.f("ix_callback_orthosis_id"), "callback", ["orthosis_id"], unique=False)
    op.create_index(op.f("ix_callback_report_report_id"), "callback_report", ["report_id"], unique=False)
    op.create_index(op.f("ix_outbox_contact_id"), "outbox", ["contact_id"], unique=False)
    unread = sa.text("state = 'raw'")
    op.create_index("ix_inbound_raw", "inbound", ["id"], unique=False, sqlite_where=unread, postgresql_where=unread)


def downgrade() -> None:
    op.drop_index("ix_inbound_raw", "inbound")
    op.drop_index(op.f("ix_outbox_contact_id"), "outbox")
    op.drop_index(op.f("ix_callback_report_report_id"), "callback_report")
    op.drop_index(op.f("ix_callback_orthosis_id"), "callback")
