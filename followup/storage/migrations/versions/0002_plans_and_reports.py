"""Wear plans, reports and triage results."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    _create_audit()
    _create_plan_event()
    _create_report()
    _create_wear_plan()
    _create_inbound()
    _create_triage_result()


def downgrade() -> None:
    for table in ("triage_result", "inbound", "wear_plan", "report", "plan_event", "audit"):
        op.drop_table(table)


def _create_audit() -> None:
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", sa.String(length=60), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("subject", sa.String(length=60), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    op.create_index(op.f("ix_audit_subject"), "audit", ["subject"], unique=False)


def _create_plan_event() -> None:
    op.create_table(
        "plan_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=False),
        sa.Column("type", sa.String(length=30), nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_plan_event_orthosis_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan_event")),
    )
    op.create_index(op.f("ix_plan_event_orthosis_id"), "plan_event", ["orthosis_id"], unique=False)


def _create_report() -> None:
    op.create_table(
        "report",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=True),
        sa.Column("contact_id", sa.Integer(), nullable=True),
        sa.Column("staff_id", sa.Integer(), nullable=True),
        sa.Column("channel", sa.String(length=10), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("plan_on", sa.Date(), nullable=True),
        sa.Column("place", sa.String(length=40), nullable=True),
        sa.Column("by_touch", sa.Boolean(), nullable=True),
        sa.Column("day_over", sa.Boolean(), nullable=False),
        sa.Column("findings", sa.JSON(), nullable=False),
        sa.Column("opened", sa.JSON(), nullable=False),
        sa.Column("history", sa.JSON(), nullable=False),
        sa.Column("at_most", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("finished_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["contact_id"], ["contact.id"], name=op.f("fk_report_contact_id")),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_report_orthosis_id")),
        sa.ForeignKeyConstraint(["staff_id"], ["staff.id"], name=op.f("fk_report_staff_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report")),
    )
    op.create_index(
        "ix_report_open",
        "report",
        ["begun_at"],
        unique=False,
        sqlite_where=sa.text("state = 'open'"),
        postgresql_where=sa.text("state = 'open'"),
    )
    op.create_index(op.f("ix_report_orthosis_id"), "report", ["orthosis_id"], unique=False)


def _create_wear_plan() -> None:
    op.create_table(
        "wear_plan",
        sa.Column("orthosis_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("target_minutes", sa.Integer(), nullable=False),
        sa.Column("silent_days", sa.Integer(), nullable=False),
        sa.Column("stopped", sa.Boolean(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("silence_heard_on", sa.Date(), nullable=True),
        sa.Column("next_due_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_wear_plan_orthosis_id")),
        sa.PrimaryKeyConstraint("orthosis_id", name=op.f("pk_wear_plan")),
    )
    op.create_index(op.f("ix_wear_plan_next_due_at"), "wear_plan", ["next_due_at"], unique=False)


def _create_inbound() -> None:
    op.create_table(
        "inbound",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.String(length=200), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["report_id"], ["report.id"], name=op.f("fk_inbound_report_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inbound")),
        sa.UniqueConstraint("source_id", name=op.f("uq_inbound_source_id")),
    )


def _create_triage_result() -> None:
    op.create_table(
        "triage_result",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=False),
        sa.Column("rule_set", sa.String(length=40), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("urgency", sa.String(length=30), nullable=False),
        sa.Column("floor", sa.String(length=30), nullable=False),
        sa.Column("ceiling", sa.String(length=30), nullable=False),
        sa.Column("instruction", sa.String(length=30), nullable=False),
        sa.Column("fired", sa.JSON(), nullable=False),
        sa.Column("unanswered", sa.JSON(), nullable=False),
        sa.Column("causes", sa.JSON(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["report_id"], ["report.id"], name=op.f("fk_triage_result_report_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_triage_result")),
    )
    op.create_index(op.f("ix_triage_result_report_id"), "triage_result", ["report_id"], unique=False)
