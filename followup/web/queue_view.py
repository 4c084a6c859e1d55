"""The queue as sentences: whom to ring, why, by when, in the order of the service."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from followup.core.callback import Part
from followup.services.work_callbacks import QueueEntry
from followup.web.staff_words import INSTRUCTIONS, PARTS, URGENCIES, UrgencyWords, late_words, reason_words
from followup.web.voice import Voice


@dataclass(frozen=True, slots=True)
class QueueLine:
    """One callback as it is read. `name` names its buttons for the ear; `mine` is true for the reader's own calls."""

    id: int
    name: str
    whom: str
    reason: str
    after: str
    when: str
    at: datetime | None
    by: bool
    late: str | None
    urgency: UrgencyWords
    taken: str
    mine: bool


@dataclass(frozen=True, slots=True)
class QueueGroup:
    """One stretch of time under its rule."""

    id: str
    kind: str
    heading: str
    lines: tuple[QueueLine, ...]


def queue_heading(entries: Sequence[QueueEntry], voice: Voice) -> str:
    """How many people, and what is most pressing."""
    if not entries:
        return "Nobody to ring"
    count = len(entries)
    people = "One person to ring" if count == 1 else f"{voice.number(count).capitalize()} people to ring"
    for part, words in ((Part.FIRST, "before anything else"), (Part.LATE, "past its time")):
        some = sum(entry.part is part for entry in entries)
        if some:
            whose = words.replace("its", "their") if some > 1 else words
            share = "all" if some == count > 1 else voice.number(some)
            return f"{people}, {words}" if count == 1 else f"{people}, {share} of them {whose}"
    return people


def queue_groups(entries: Sequence[QueueEntry], staff_id: int, voice: Voice) -> tuple[QueueGroup, ...]:
    """The entries under the headings of their stretch of time, order kept."""
    return tuple(
        QueueGroup(part.value, part.value, _part_heading(part, members, voice), queue_lines(members, staff_id, voice))
        for part, found in groupby(entries, key=lambda entry: entry.part)
        if (members := list(found))
    )


def _part_heading(part: Part, entries: Sequence[QueueEntry], voice: Voice) -> str:
    days = {voice.day(entry.due_at) for entry in entries}
    if part is Part.LATER and len(days) == 1:
        return f"By {days.pop()}"
    return PARTS[part]


def queue_lines(entries: Sequence[QueueEntry], staff_id: int, voice: Voice) -> tuple[QueueLine, ...]:
    """Each entry as a line."""
    return tuple(queue_line(entry, staff_id, voice) for entry in entries)


def queue_line(entry: QueueEntry, staff_id: int, voice: Voice) -> QueueLine:
    """One entry as a line for the reader `staff_id`."""
    first = entry.part is Part.FIRST
    return QueueLine(
        id=entry.callback_id,
        name=entry.contact_name or entry.wearer_name or "the unknown caller",
        whom=whom(entry),
        reason=reason_words(entry.reason),
        after=" ".join(_after(entry, voice)),
        when="now" if first else voice.when(entry.due_at),
        at=None if first else entry.due_at,
        by=not first and entry.part is not Part.LATE,
        late=late_words(entry.late_minutes) if entry.late_minutes else None,
        urgency=URGENCIES[entry.urgency],
        taken=_taken(entry, staff_id, voice),
        mine=entry.taken_by_id == staff_id,
    )


def whom(entry: QueueEntry) -> str:
    """Whom to ring, and about whom where that is somebody else."""
    if entry.orthosis_id is None:
        return "Ring back a caller we do not know"
    contact = entry.contact_name or entry.wearer_name
    about = "" if entry.relation in {"self", ""} or contact == entry.wearer_name else f" about {entry.wearer_name}"
    return f"Ring {contact}{about}"


def _after(entry: QueueEntry, voice: Voice) -> Iterator[str]:
    yield f"{INSTRUCTIONS[entry.instruction]}."
    yield f"Reported {voice.told(entry.opened_at)}."
    if entry.tries:
        times = "once" if entry.tries == 1 else f"{voice.number(entry.tries)} times"
        yield f"Rung {times}, no answer{_again(entry.next_try_at, voice)}."


def _again(at: datetime | None, voice: Voice) -> str:
    """When it was to be tried again, and how long that is past."""
    if at is None:
        return ""
    late = int((voice.now - at).total_seconds() // 60)
    return f"; again {voice.told(at)}{f', {late_words(late)}' if late > 0 else ''}"


def _taken(entry: QueueEntry, staff_id: int, voice: Voice) -> str:
    if entry.taken_by_id is None or entry.taken_at is None:
        return ""
    who = "you" if entry.taken_by_id == staff_id else entry.taken_by
    return f"Taken by {who} at {voice.when(entry.taken_at)}."
