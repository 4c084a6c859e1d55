"""Short names for the values that tests are made of."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

ZONE = "America/Chicago"


def utc(text: str) -> datetime:
    """An instant from its UTC wall time, such as ``2026-03-02 14:00``."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def local(text: str, zone: str = ZONE) -> datetime:
    """The UTC instant of a local wall time, such as ``2026-03-02 09:00``."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def day(text: str) -> date:
    """A local date, such as ``2026-03-02``."""
    return date.fromisoformat(text)
