"""Small readings of a database result that every table needs."""

from __future__ import annotations

from typing import Any

from sqlalchemy import CursorResult


def new_id(result: CursorResult[Any]) -> int:
    """The id of the row just inserted."""
    key = result.inserted_primary_key
    if key is None:
        raise LookupError("the database gave no id for a new row")
    return int(key[0])
