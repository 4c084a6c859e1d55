"""The desk list: silence, messages that did not arrive, replies a person must read, families to ring."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from followup.core.callback import Part
from followup.errors import Conflict
from followup.services.practice import Practice
from followup.services.review_stops import review_again
from followup.services.sign_in import Session
from followup.storage import callbacks, orthoses, outbox, people
from followup.storage.audit import write_entry


@dataclass(frozen=True, slots=True)
class DeskEntry:
    """One thing for the desk: what to do, why, and by when."""

    id: int
    orthosis_id: int | None
    part: Part
    kind: str
    text: str
    from_at: datetime
    due_at: datetime
    wearer_name: str
    contact_name: str
    phone: str


def see_desk(practice: Practice, now: datetime) -> tuple[DeskEntry, ...]:
    """What is open for the desk and has begun, the longest due first."""
    with practice.store.read() as connection:
        rows = [row for row in callbacks.open_desk_items(connection) if row["from_at"] <= now]
        everyone = people.contacts_of(connection, [row["wearer_id"] for row in rows if row["wearer_id"]])
        sides = orthoses.sides_where_two(connection, [row["orthosis_id"] for row in rows if row["orthosis_id"]])
    zone = practice.facts.hours.zone
    entries = []
    for row in rows:
        whom = next(iter(everyone.get(row["wearer_id"], [])), None)
        same_day = row["due_at"].astimezone(zone).date() == now.astimezone(zone).date()
        part = Part.LATE if row["due_at"] <= now else Part.TODAY if same_day else Part.LATER
        entries.append(
            DeskEntry(
                row["id"],
                row["orthosis_id"],
                part,
                row["kind"],
                f"{sides[row['orthosis_id']]} leg: {row['text']}" if row["orthosis_id"] in sides else row["text"],
                row["from_at"],
                row["due_at"],
                row["wearer_name"] or "",
                whom.name if whom else "",
                whom.phone if whom else "",
            )
        )
    return tuple(entries)


def close_desk_item(practice: Practice, item_id: int, by: Session, note: str, now: datetime) -> None:
    """Note that something for the desk was done; `Conflict` if somebody was first."""
    with practice.store.write() as connection:
        if not callbacks.close_desk_item(connection, item_id, by.staff_id, note.strip(), now):
            raise Conflict("closed_meanwhile", "Somebody has done this meanwhile.")
        write_entry(connection, now, f"staff:{by.staff_id}", "desk_item_closed", f"desk_item:{item_id}")
        review_again(connection, practice, item_id, now)


def count_messages(practice: Practice) -> dict[str, int]:
    """How many messages stand in each state."""
    with practice.store.read() as connection:
        return outbox.count_states(connection)
