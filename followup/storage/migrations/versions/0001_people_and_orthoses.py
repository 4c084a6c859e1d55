"""People, orthoses and delivery checks."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    _create_failed_sign_in()
    _create_staff()
    _create_wearer()
    _create_contact()
    _create_orthosis()
    _create_precaution()
    _create_session()
    _create_check_release()
    _create_consent()
    _create_delivery_check()
    _create_page_link()


def downgrade() -> None:
    for table in (
        "page_link",
        "delivery_check",
        "consent",
        "check_release",
        "session",
        "precaution",
        "orthosis",
        "contact",
        "wearer",
        "staff",
        "failed_sign_in",
    ):
        op.drop_table(table)


def _create_failed_sign_in() -> None:
    op.create_table(
        "failed_sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("user", sa.String(length=60), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failed_sign_in")),
    )
    op.create_index(op.f("ix_failed_sign_in_user"), "failed_sign_in", ["user"], unique=False)


def _create_staff() -> None:
    op.create_table(
        "staff",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("user", sa.String(length=60), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff")),
        sa.UniqueConstraint("user", name=op.f("uq_staff_user")),
    )


def _create_wearer() -> None:
    op.create_table(
        "wearer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("reference", sa.String(length=60), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("walking_aid", sa.String(length=20), nullable=False),
        sa.Column("without_orthosis", sa.String(length=20), nullable=False),
        sa.Column("one_handed", sa.Boolean(), nullable=False),
        sa.Column("shin_bears_pressure", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wearer")),
        sa.UniqueConstraint("reference", name=op.f("uq_wearer_reference")),
    )


def _create_contact() -> None:
    op.create_table(
        "contact",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wearer_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("relation", sa.String(length=40), nullable=False),
        sa.Column("channel", sa.String(length=20), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("phone", sa.Text(), nullable=False),
        sa.Column("language", sa.String(length=5), nullable=False),
        sa.Column("zone", sa.String(length=60), nullable=False),
        sa.Column("may_be_told", sa.Boolean(), nullable=False),
        sa.Column("on_duty", sa.Boolean(), nullable=False),
        sa.Column("suspended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["wearer_id"], ["wearer.id"], name=op.f("fk_contact_wearer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contact")),
        sa.UniqueConstraint("wearer_id", "name", "address", name=op.f("uq_contact_wearer_id_name_address")),
    )
    op.create_index(op.f("ix_contact_address"), "contact", ["address"], unique=False)
    op.create_index(op.f("ix_contact_wearer_id"), "contact", ["wearer_id"], unique=False)


def _create_orthosis() -> None:
    op.create_table(
        "orthosis",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wearer_id", sa.Integer(), nullable=False),
        sa.Column("side", sa.String(length=10), nullable=False),
        sa.Column("shell", sa.String(length=10), nullable=False),
        sa.Column("strut", sa.String(length=10), nullable=False),
        sa.Column("strut_position", sa.String(length=10), nullable=False),
        sa.Column("material", sa.String(length=10), nullable=False),
        sa.Column("footplate", sa.String(length=10), nullable=False),
        sa.Column("heel", sa.String(length=10), nullable=False),
        sa.Column("fastening", sa.String(length=10), nullable=False),
        sa.Column("identifier", sa.String(length=60), nullable=False),
        sa.Column("lot", sa.String(length=60), nullable=False),
        sa.Column("protocol_id", sa.String(length=40), nullable=False),
        sa.Column("full_wear_minutes", sa.Integer(), nullable=False),
        sa.Column("window_start", sa.String(length=5), nullable=False),
        sa.Column("window_end", sa.String(length=5), nullable=False),
        sa.Column("range_end", sa.String(length=4), nullable=False),
        sa.Column("zone", sa.String(length=60), nullable=False),
        sa.Column("delivered_on", sa.Date(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("row_digest", sa.String(length=64), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["wearer_id"], ["wearer.id"], name=op.f("fk_orthosis_wearer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_orthosis")),
        sa.UniqueConstraint("identifier", name=op.f("uq_orthosis_identifier")),
    )
    op.create_index(op.f("ix_orthosis_wearer_id"), "orthosis", ["wearer_id"], unique=False)


def _create_precaution() -> None:
    op.create_table(
        "precaution",
        sa.Column("wearer_id", sa.Integer(), nullable=False),
        sa.Column("precaution", sa.String(length=40), nullable=False),
        sa.Column("present", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["wearer_id"], ["wearer.id"], name=op.f("fk_precaution_wearer_id")),
        sa.UniqueConstraint("wearer_id", "precaution", name=op.f("uq_precaution_wearer_id_precaution")),
    )


def _create_session() -> None:
    op.create_table(
        "session",
        sa.Column("token_digest", sa.String(length=64), nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("csrf", sa.String(length=64), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["staff_id"], ["staff.id"], name=op.f("fk_session_staff_id")),
        sa.PrimaryKeyConstraint("token_digest", name=op.f("pk_session")),
    )


def _create_check_release() -> None:
    op.create_table(
        "check_release",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=False),
        sa.Column("check", sa.String(length=20), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_check_release_orthosis_id")),
        sa.ForeignKeyConstraint(["staff_id"], ["staff.id"], name=op.f("fk_check_release_staff_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_release")),
    )
    op.create_index(op.f("ix_check_release_orthosis_id"), "check_release", ["orthosis_id"], unique=False)


def _create_consent() -> None:
    op.create_table(
        "consent",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contact_id", sa.Integer(), nullable=False),
        sa.Column("given", sa.Boolean(), nullable=False),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["contact_id"], ["contact.id"], name=op.f("fk_consent_contact_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consent")),
    )
    op.create_index(op.f("ix_consent_contact_id"), "consent", ["contact_id"], unique=False)


def _create_delivery_check() -> None:
    op.create_table(
        "delivery_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=False),
        sa.Column("check", sa.String(length=20), nullable=False),
        sa.Column("outcome", sa.String(length=12), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_delivery_check_orthosis_id")),
        sa.ForeignKeyConstraint(["staff_id"], ["staff.id"], name=op.f("fk_delivery_check_staff_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery_check")),
    )
    op.create_index(op.f("ix_delivery_check_orthosis_id"), "delivery_check", ["orthosis_id"], unique=False)


def _create_page_link() -> None:
    op.create_table(
        "page_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contact_id", sa.Integer(), nullable=False),
        sa.Column("orthosis_id", sa.Integer(), nullable=False),
        sa.Column("generation", sa.Integer(), nullable=False),
        sa.Column("token_digest", sa.String(length=64), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["contact_id"], ["contact.id"], name=op.f("fk_page_link_contact_id")),
        sa.ForeignKeyConstraint(["orthosis_id"], ["orthosis.id"], name=op.f("fk_page_link_orthosis_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_page_link")),
        sa.UniqueConstraint(
            "contact_id", "orthosis_id", "generation", name=op.f("uq_page_link_contact_id_orthosis_id_generation")
        ),
        sa.UniqueConstraint("token_digest", name=op.f("uq_page_link_token_digest")),
    )
