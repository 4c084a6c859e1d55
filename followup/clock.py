"""The one place that reads the clock."""

from __future__ import annotations

from datetime import UTC, datetime


def system_clock() -> datetime:
    """The current instant, aware, in UTC."""
    return datetime.now(UTC)
