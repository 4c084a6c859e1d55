"""What each orthosis is worn for and around, and how its plan changed or ended."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.add_column("orthosis", sa.Column("protective", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("orthosis", sa.Column("replaces", sa.String(length=60), nullable=True))
    op.add_column("orthosis", sa.Column("fixed_points", sa.JSON(), nullable=False, server_default="[]"))
    activity = sa.Column("activity", sa.String(length=20), nullable=False, server_default="mostly_on_feet")
    op.add_column("orthosis", activity)
    op.add_column("orthosis", sa.Column("checker", sa.Text(), nullable=False, server_default=""))
    op.add_column("orthosis", sa.Column("checks_after_id", sa.Integer(), nullable=True))
    op.add_column("orthosis", sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True))
    op.add_column("orthosis", sa.Column("ended_why", sa.String(length=20), nullable=True))
    op.add_column("wear_plan", sa.Column("table_end_heard", sa.String(length=64), nullable=True))
    _move_protective_to_orthosis()


def _move_protective_to_orthosis() -> None:
    """Until now it was one of the wearer's precautions."""
    op.execute(
        "UPDATE orthosis SET protective = TRUE WHERE wearer_id IN "
        "(SELECT wearer_id FROM precaution WHERE precaution = 'protective' AND present)"
    )
    op.execute("DELETE FROM precaution WHERE precaution = 'protective'")


def downgrade() -> None:
    op.execute(
        "INSERT INTO precaution (wearer_id, precaution, present) "
        "SELECT wearer_id, 'protective', MAX(CASE WHEN protective THEN 1 ELSE 0 END) = 1 "
        "FROM orthosis GROUP BY wearer_id"
    )
    op.drop_column("wear_plan", "table_end_heard")
    for column in (
        "ended_why",
        "ended_at",
        "checks_after_id",
        "checker",
        "activity",
        "fixed_points",
        "replaces",
        "protective",
    ):
        op.drop_column("orthosis", column)
