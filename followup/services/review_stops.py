"""A stopped plan comes back to a person every two working days, until a clinician lets it go on."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection

from followup.core.callback import REVIEW_WORKING_DAYS
from followup.services.practice import Practice
from followup.storage import callbacks, plans

REVIEW = "review:"


def put_review(connection: Connection, practice: Practice, orthosis_id: int, what: str, now: datetime) -> None:
    """Put the next look at a stopped plan on the desk list."""
    hours = practice.facts.hours
    due = hours.closing(hours.add_working_days(now.astimezone(hours.zone).date(), REVIEW_WORKING_DAYS))
    text = "the plan is off: look at it again with a clinician"
    values = {"key": f"{REVIEW}{orthosis_id}:{what}", "orthosis_id": orthosis_id, "kind": "follow_up", "text": text}
    callbacks.add_desk_item(connection, {**values, "from_at": due, "due_at": due, "opened_at": now})


def review_again(connection: Connection, practice: Practice, item_id: int, now: datetime) -> None:
    """After a look that left the plan off, the next one; nothing for any other desk item."""
    item = callbacks.desk_item_row(connection, item_id)
    if item is None or not item["key"].startswith(REVIEW):
        return
    plan = plans.projection(connection, item["orthosis_id"])
    if plan is not None and plan["stopped"]:
        put_review(connection, practice, item["orthosis_id"], f"after-{item_id}", now)
