"""A family's calendar program as the standards describe one, reading files with a library that did not write them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

import vobject


@dataclass(frozen=True)
class Held:
    """One entry as the calendar program keeps it."""

    uid: str
    sequence: int
    stamped_at: datetime
    starts: datetime | date
    ends: datetime | date | None
    summary: str
    description: str
    status: str
    alarms: tuple[str, ...]


@dataclass
class ImportingCalendar:
    """Keeps one entry for each UID; RFC 5546, 2.1.5: a higher SEQUENCE wins, at equal ones the later DTSTAMP."""

    held: dict[str, Held] = field(default_factory=dict)

    def take(self, file: bytes) -> None:
        for entry in read(file):
            known = self.held.get(entry.uid)
            if known is None or (known.sequence, known.stamped_at) < (entry.sequence, entry.stamped_at):
                self.held[entry.uid] = entry

    def shown(self) -> set[tuple[Any, ...]]:
        """What its owner sees: all but the cancelled."""
        return {(each.starts, each.ends, each.summary) for each in self.held.values() if each.status != "CANCELLED"}


def read(file: bytes) -> list[Held]:
    """Every entry of a file."""
    (calendar,) = vobject.readComponents(file.decode())
    return [_held(each) for each in calendar.contents.get("vevent", [])]


def _held(event: Any) -> Held:
    return Held(
        event.uid.value,
        int(event.sequence.value),
        event.dtstamp.value,
        event.dtstart.value,
        event.dtend.value if "dtend" in event.contents else None,
        event.summary.value,
        event.description.value,
        event.status.value,
        tuple(each.description.value for each in event.contents.get("valarm", [])),
    )
