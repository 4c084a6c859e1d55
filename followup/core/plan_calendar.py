"""Calendar entries of a wear plan: what a family's calendar holds now, and which of its entries changed or went.

Nothing is stored. The plan as it stood at each revision (an event recorded, a day issued) says what was published
then; an entry's sequence number counts how often it has changed since, as RFC 5546, section 2.1.4, asks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import Any, NamedTuple
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from followup.core.plan_event import PlanEvent, ZoneChange
from followup.core.urgency import WearInstruction
from followup.core.wear_day import Basis, WearDay

ENTRY_IDS = UUID("5f0c8a53-6f0e-4d57-9a0c-2f4b7f1d6c11")
"""The namespace of entry ids, drawn at random once; changing it would double every entry in every calendar."""


A_LOOK_TAKES = timedelta(minutes=10)
"""How long a look at the skin stands in a calendar; common practice, no source."""


class EntryKind(StrEnum):
    """What an entry asks for: wear it, look at the skin, or leave it on all day as ordered."""

    WEAR = "wear"
    LOOK = "look"
    LEAVE_ON = "leave_on"


class EntryContent(NamedTuple):
    """What an entry says; it has changed when any of this has.

    Instants are aware UTC, `zone` is whose clock its words tell, and `provisional` is true until its day is issued.
    """

    kind: EntryKind
    starts_at: datetime
    ends_at: datetime
    zone: str
    provisional: bool


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """One entry. `sequence` never falls; a `cancelled` one was published before and is no longer in the plan."""

    uid: str
    on: date
    content: EntryContent
    sequence: int
    published_at: datetime
    changed_at: datetime
    cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Horizon:
    """How many days before and after the newest revision a calendar holds.

    A week back cancels what an older copy still shows; two weeks ahead is as far as a plan is worth foreseeing
    (common practice, no source).
    """

    back_days: int = 7
    ahead_days: int = 14


HORIZON = Horizon()
PlanAt = Callable[[datetime], Sequence[WearDay]]


def revisions(
    begun_at: datetime, days: Sequence[WearDay], events: Iterable[PlanEvent], now: datetime
) -> list[datetime]:
    """Every instant up to `now` at which the plan may have changed, in order; none before it began.

    `days` is the plan as it stands at `now`.
    """
    moved = [begun_at, *(day.issued_at for day in days), *(event.recorded_at for event in events)]
    return sorted({at.astimezone(UTC) for at in moved if begun_at <= at <= now})


def calendar_entries(
    key: str,
    zone: ZoneInfo,
    events: Sequence[PlanEvent],
    plan_at: PlanAt,
    revised_at: Sequence[datetime],
    horizon: Horizon = HORIZON,
) -> tuple[CalendarEntry, ...]:
    """The entries of one orthosis at the last of its revisions, in order of time; none where there is no revision.

    `key` tells orthoses apart and says nothing of anybody, `zone` is that of the delivery. `plan_at` gives the plan as
    it stood at an instant, through the last day of the horizon. Costs one replay for each revision that can have
    touched an entry of the horizon.
    """
    if not revised_at:
        return ()
    first_on = revised_at[-1].date() - timedelta(days=horizon.back_days)
    entries: dict[str, CalendarEntry] = {}
    for at in revised_at:
        last_on = at.date() + timedelta(days=horizon.ahead_days)
        if last_on < first_on:
            continue
        days = [day for day in plan_at(at) if first_on <= day.on <= last_on]
        zones = _zones(zone, events, at, [day.on for day in days])
        said = {(on, slot): what for on, slot, what in _contents(days, zones)}
        _revise(entries, {_entry_id(key, on, slot): (on, what) for (on, slot), what in said.items()}, at)
    return tuple(sorted(entries.values(), key=lambda each: (each.content.starts_at, each.content.kind, each.uid)))


def _revise(entries: dict[str, CalendarEntry], said: Mapping[str, tuple[date, EntryContent]], at: datetime) -> None:
    """Bring what was published up to one revision: new entries, changed ones, and those that are gone."""
    for uid, (on, content) in said.items():
        known = entries.get(uid)
        if known is None:
            entries[uid] = CalendarEntry(uid, on, content, 0, at, at)
        elif known.cancelled or known.content != content:
            entries[uid] = _changed(known, at, content=content, cancelled=False)
    for uid in entries.keys() - said.keys():
        if not entries[uid].cancelled:
            entries[uid] = _changed(entries[uid], at, cancelled=True)


def _changed(entry: CalendarEntry, at: datetime, **to: Any) -> CalendarEntry:
    return replace(entry, sequence=entry.sequence + 1, changed_at=at, **to)


def _contents(days: Iterable[WearDay], zones: Mapping[date, str]) -> Iterator[tuple[date, str, EntryContent]]:
    """What is published of each day, by slot; a day off, away or ended has nothing."""
    for day in days:
        zone, provisional = zones[day.on], day.basis is Basis.PROJECTED
        if day.instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
            midnight = datetime.combine(day.on, time(), ZoneInfo(zone)).astimezone(UTC)
            yield day.on, "stay", EntryContent(EntryKind.LEAVE_ON, midnight, midnight, zone, provisional)
            continue
        for number, period in enumerate(day.open_periods, 1):
            ends_at = min(period.off_at, day.stopped_at) if day.stopped_at else period.off_at
            yield day.on, f"p{number}", EntryContent(EntryKind.WEAR, period.on_at, ends_at, zone, provisional)
        for number, look in enumerate(day.checks, 1):
            if day.stopped_at is None or look.at < day.stopped_at:
                ends_at = look.at + A_LOOK_TAKES
                yield day.on, f"look-{number}", EntryContent(EntryKind.LOOK, look.at, ends_at, zone, provisional)


def _zones(zone: ZoneInfo, events: Iterable[PlanEvent], at: datetime, dates: Iterable[date]) -> dict[date, str]:
    """The zone of each date as known at `at`."""
    moves = sorted(
        (event.recorded_at, event.data.from_on, event.data.zone)
        for event in events
        if isinstance(event.data, ZoneChange) and event.recorded_at <= at
    )
    return {on: next((to for _, from_on, to in reversed(moves) if from_on <= on), zone.key) for on in dates}


def _entry_id(key: str, on: date, slot: str) -> str:
    return str(uuid5(ENTRY_IDS, f"{key}|{on}|{slot}"))
