"""Every table. Columns ending in ``_at`` are aware UTC instants, in ``_on`` local dates, in ``_minutes`` minutes.

Tables marked append-only are written once and never updated; together they are the truth, the rest are projections
or work in progress.
"""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    false,
    text,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = MetaData(naming_convention=NAMING)


class Instant(TypeDecorator[datetime]):
    """An aware instant, kept in UTC on every database."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """UTC, without its zone where the database cannot hold one."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its zone")
        in_utc = value.astimezone(UTC)
        return in_utc.replace(tzinfo=None) if dialect.name == "sqlite" else in_utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """The aware UTC instant."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=True)


def _ref(name: str, target: str, *, nullable: bool = False, index: bool = False) -> Column[int]:
    return Column(name, Integer, ForeignKey(f"{target}.id"), nullable=nullable, index=index)


def _live(name: str, column: str, condition: str, *, unique: bool = False) -> Index:
    """An index of live rows only, so that it grows with what is open and not with what is stored."""
    return Index(name, column, unique=unique, sqlite_where=text(condition), postgresql_where=text(condition))


staff = Table(
    "staff",
    metadata,
    _id(),
    Column("user", String(60), nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("role", String(20), nullable=False),
    Column("password_hash", Text, nullable=False),
)

session = Table(
    "session",
    metadata,
    Column("token_digest", String(64), primary_key=True),
    _ref("staff_id", "staff"),
    Column("csrf", String(64), nullable=False),
    Column("expires_at", Instant, nullable=False),
)

failed_sign_in = Table(
    "failed_sign_in", metadata, _id(), Column("user", String(60), nullable=False, index=True), Column("at", Instant)
)

wearer = Table(
    "wearer",
    metadata,
    _id(),
    Column("reference", String(60), nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("walking_aid", String(20), nullable=False),
    Column("without_orthosis", String(20), nullable=False),
    Column("one_handed", Boolean, nullable=False),
    Column("shin_bears_pressure", Boolean, nullable=False),
)

precaution = Table(
    "precaution",
    metadata,
    _ref("wearer_id", "wearer"),
    Column("precaution", String(40), nullable=False),
    Column("present", Boolean, nullable=False),
    UniqueConstraint("wearer_id", "precaution"),
)

contact = Table(
    "contact",
    metadata,
    _id(),
    _ref("wearer_id", "wearer", index=True),
    Column("name", Text, nullable=False),
    Column("relation", String(40), nullable=False),
    Column("channel", String(20), nullable=False),
    Column("address", Text, nullable=False, index=True),
    Column("phone", Text, nullable=False),
    Column("language", String(5), nullable=False),
    Column("zone", String(60), nullable=False),
    Column("may_be_told", Boolean, nullable=False),
    Column("on_duty", Boolean, nullable=False),
    Column("suspended_at", Instant),
    UniqueConstraint("wearer_id", "name", "address"),
)

consent = Table(  # append-only
    "consent",
    metadata,
    _id(),
    _ref("contact_id", "contact", index=True),
    Column("given", Boolean, nullable=False),
    Column("method", String(40), nullable=False),
    Column("at", Instant, nullable=False),
)

orthosis = Table(
    "orthosis",
    metadata,
    _id(),
    _ref("wearer_id", "wearer", index=True),
    Column("side", String(10), nullable=False),
    Column("shell", String(10), nullable=False),
    Column("strut", String(10), nullable=False),
    Column("strut_position", String(10), nullable=False),
    Column("material", String(10), nullable=False),
    Column("footplate", String(10), nullable=False),
    Column("heel", String(10), nullable=False),
    Column("fastening", String(10), nullable=False),
    Column("identifier", String(60), nullable=False, unique=True),
    Column("lot", String(60), nullable=False),
    Column("protocol_id", String(40), nullable=False),
    Column("full_wear_minutes", Integer, nullable=False),
    Column("window_start", String(5), nullable=False),
    Column("window_end", String(5), nullable=False),
    Column("range_end", String(4), nullable=False),
    Column("zone", String(60), nullable=False),
    Column("delivered_on", Date, nullable=False),
    Column("recorded_at", Instant, nullable=False),
    Column("row_digest", String(64), nullable=False),
    Column("started_at", Instant),
    Column("protective", Boolean, nullable=False, server_default=false()),
    Column("replaces", String(60)),
    Column("fixed_points", JSON, nullable=False, server_default="[]"),
    Column("activity", String(20), nullable=False, server_default="mostly_on_feet"),
    Column("checker", Text, nullable=False, server_default=""),
    Column("checks_after_id", Integer),
    Column("ended_at", Instant),
    Column("ended_why", String(20)),
)

delivery_check = Table(  # append-only; the newest row of a check holds
    "delivery_check",
    metadata,
    _id(),
    _ref("orthosis_id", "orthosis", index=True),
    Column("check", String(20), nullable=False),
    Column("outcome", String(12), nullable=False),
    Column("reason", Text, nullable=False),
    _ref("staff_id", "staff", nullable=True),
    Column("at", Instant, nullable=False),
)

check_release = Table(  # append-only
    "check_release",
    metadata,
    _id(),
    _ref("orthosis_id", "orthosis", index=True),
    Column("check", String(20), nullable=False),
    Column("note", Text, nullable=False),
    _ref("staff_id", "staff"),
    Column("at", Instant, nullable=False),
)

plan_event = Table(  # append-only
    "plan_event",
    metadata,
    _id(),
    _ref("orthosis_id", "orthosis", index=True),
    Column("type", String(30), nullable=False),
    Column("occurred_at", Instant, nullable=False),
    Column("recorded_at", Instant, nullable=False),
    Column("data", JSON, nullable=False),
)

wear_plan = Table(  # projection: rebuilt from plan_event
    "wear_plan",
    metadata,
    Column("orthosis_id", Integer, ForeignKey("orthosis.id"), primary_key=True),
    Column("state", String(20), nullable=False),
    Column("step", Integer, nullable=False),
    Column("day", Integer, nullable=False),
    Column("target_minutes", Integer, nullable=False),
    Column("silent_days", Integer, nullable=False),
    Column("stopped", Boolean, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("silence_heard_on", Date),
    Column("table_end_heard", String(64)),
    Column("next_due_at", Instant, nullable=False, index=True),
)

report = Table(
    "report",
    metadata,
    _id(),
    _ref("orthosis_id", "orthosis", nullable=True, index=True),
    _ref("contact_id", "contact", nullable=True),
    _ref("staff_id", "staff", nullable=True),
    Column("channel", String(10), nullable=False),
    Column("text", Text, nullable=False),
    Column("plan_on", Date),
    Column("place", String(40)),
    Column("by_touch", Boolean),
    Column("day_over", Boolean, nullable=False),
    Column("findings", JSON, nullable=False),
    Column("opened", JSON, nullable=False),
    Column("history", JSON, nullable=False),
    Column("at_most", Integer, nullable=False),
    Column("state", String(10), nullable=False),
    Column("begun_at", Instant, nullable=False),
    Column("finished_at", Instant),
    _live("ix_report_open", "begun_at", "state = 'open'"),
)

triage_result = Table(  # append-only
    "triage_result",
    metadata,
    _id(),
    _ref("report_id", "report", index=True),
    Column("rule_set", String(40), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("urgency", String(30), nullable=False),
    Column("floor", String(30), nullable=False),
    Column("ceiling", String(30), nullable=False),
    Column("instruction", String(30), nullable=False),
    Column("fired", JSON, nullable=False),
    Column("unanswered", JSON, nullable=False),
    Column("causes", JSON, nullable=False),
    Column("at", Instant, nullable=False),
)

callback = Table(
    "callback",
    metadata,
    _id(),
    _ref("orthosis_id", "orthosis", nullable=True, index=True),
    Column("state", String(10), nullable=False),
    Column("urgency", Integer, nullable=False),
    Column("instruction", String(30), nullable=False),
    Column("reason", Text, nullable=False),
    Column("opened_at", Instant, nullable=False),
    Column("due_at", Instant, nullable=False),
    _ref("taken_by", "staff", nullable=True),
    Column("taken_at", Instant),
    Column("next_try_at", Instant),
    Column("tries", Integer, nullable=False),
    Column("on_call_alerted_at", Instant),
    Column("version", Integer, nullable=False),
    Column("outcome", String(30)),
    Column("note", Text),
    Column("action", String(20)),
    Column("closed_at", Instant),
    _ref("closed_by", "staff", nullable=True),
    _live("uq_callback_one_open", "orthosis_id", "state = 'open' AND orthosis_id IS NOT NULL", unique=True),
    _live("ix_callback_open", "due_at", "state = 'open'"),
)

callback_report = Table(  # append-only
    "callback_report",
    metadata,
    _ref("callback_id", "callback", index=True),
    _ref("report_id", "report", index=True),
    UniqueConstraint("callback_id", "report_id"),
)

desk_item = Table(
    "desk_item",
    metadata,
    _id(),
    Column("key", String(120), nullable=False, unique=True),
    _ref("orthosis_id", "orthosis", nullable=True),
    _ref("contact_id", "contact", nullable=True),
    Column("kind", String(20), nullable=False),
    Column("text", Text, nullable=False),
    Column("from_at", Instant, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("opened_at", Instant, nullable=False),
    Column("closed_at", Instant),
    _ref("closed_by", "staff", nullable=True),
    Column("note", Text, nullable=False),
    _live("ix_desk_item_open", "due_at", "closed_at IS NULL"),
)

page_link = Table(
    "page_link",
    metadata,
    _id(),
    _ref("contact_id", "contact"),
    _ref("orthosis_id", "orthosis"),
    Column("generation", Integer, nullable=False),
    Column("token_digest", String(64), nullable=False, unique=True),
    Column("expires_at", Instant, nullable=False),
    Column("revoked_at", Instant),
    UniqueConstraint("contact_id", "orthosis_id", "generation"),
)

outbox = Table(
    "outbox",
    metadata,
    _id(),
    Column("key", String(200), nullable=False),
    _ref("orthosis_id", "orthosis", nullable=True, index=True),
    _ref("contact_id", "contact", nullable=True, index=True),
    Column("kind", String(30), nullable=False),
    Column("slot", String(60), nullable=False),
    Column("plan_on", Date),
    Column("channel", String(20), nullable=False),
    Column("address", Text, nullable=False),
    Column("language", String(5), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("payload", JSON, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("not_before_at", Instant, nullable=False),
    Column("expires_at", Instant, nullable=False),
    Column("state", String(12), nullable=False),
    Column("attempt", Integer, nullable=False),
    Column("lease_until", Instant),
    Column("message_id", String(120), nullable=False),
    Column("settled_at", Instant),
    _live("uq_outbox_live_key", "key", "state <> 'withdrawn'", unique=True),
    _live("ix_outbox_planned", "not_before_at", "state = 'planned'"),
    _live("ix_outbox_leased", "lease_until", "state IN ('claimed', 'sending')"),
    Index("ix_outbox_message_id", "message_id"),
)

attempt = Table(  # append-only
    "attempt",
    metadata,
    _id(),
    _ref("outbox_id", "outbox", index=True),
    Column("number", Integer, nullable=False),
    Column("at", Instant, nullable=False),
    Column("phase", String(12), nullable=False),
    Column("outcome", String(12), nullable=False),
    Column("code", Integer),
    Column("answer", Text, nullable=False),
)

inbound = Table(
    "inbound",
    metadata,
    _id(),
    Column("source_id", String(200), nullable=False, unique=True),
    Column("received_at", Instant, nullable=False),
    Column("raw", Text, nullable=False),
    Column("state", String(12), nullable=False),
    _ref("report_id", "report", nullable=True),
    Index("ix_inbound_raw", "id", sqlite_where=text("state = 'raw'"), postgresql_where=text("state = 'raw'")),
)

audit = Table(  # append-only
    "audit",
    metadata,
    _id(),
    Column("at", Instant, nullable=False),
    Column("actor", String(60), nullable=False),
    Column("action", String(40), nullable=False),
    Column("subject", String(60), nullable=False, index=True),
    Column("data", JSON, nullable=False),
)
