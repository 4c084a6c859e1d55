"""When the clinic is open, and by when a clinician has promised to ring."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from followup.errors import InvalidInput

DAY_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SPAN = re.compile(r"^(\w{3})(?:-(\w{3}))? (\d\d:\d\d)-(\d\d:\d\d)$")


@dataclass(frozen=True)
class ClinicHours:
    """Opening spans by weekday (0 is Monday) in the clinic's zone, and the local dates it is closed."""

    zone: ZoneInfo
    spans: dict[int, tuple[tuple[time, time], ...]]
    closed_on: frozenset[date] = field(default_factory=frozenset)

    def opens(self, on: date) -> bool:
        """True if the clinic opens at all on that local date."""
        return on not in self.closed_on and bool(self.spans.get(on.weekday()))

    def stretches_from(self, at: datetime) -> Iterator[tuple[datetime, datetime]]:
        """Open stretches (UTC) that end after `at`, in order, for a year ahead."""
        first = at.astimezone(self.zone).date()
        for offset in range(366):
            on = first + timedelta(days=offset)
            if not self.opens(on):
                continue
            for start, end in self.spans[on.weekday()]:
                begin, finish = self._instant(on, start), self._instant(on, end)
                if finish > at:
                    yield begin, finish

    def is_open(self, at: datetime) -> bool:
        """True if somebody is in at that instant."""
        return any(begin <= at for begin, _ in self._next(at))

    def closes_on_same_day(self, at: datetime) -> datetime | None:
        """The last closing time of the local day of `at`, or None if the clinic does not open again that day."""
        today = at.astimezone(self.zone).date()
        ends = [end for begin, end in self.stretches_from(at) if begin.astimezone(self.zone).date() == today]
        return ends[-1] if ends else None

    def next_working_day(self, after: date) -> date:
        """The first local date after `after` on which the clinic opens."""
        return self.add_working_days(after, 1)

    def add_working_days(self, on: date, count: int) -> date:
        """The `count`-th date after `on` on which the clinic opens."""
        step = on
        for _ in range(count):
            step = next(day for day in _days_after(step) if self.opens(day))
        return step

    def closing(self, on: date) -> datetime:
        """Closing time of an open date (UTC)."""
        return self._instant(on, max(end for _, end in self.spans[on.weekday()]))

    def _next(self, at: datetime) -> list[tuple[datetime, datetime]]:
        return [next(self.stretches_from(at))]

    def _instant(self, on: date, at: time) -> datetime:
        return datetime.combine(on, at, self.zone).astimezone(UTC)


def _days_after(on: date) -> Iterator[date]:
    return (on + timedelta(days=offset) for offset in range(1, 367))


def parse_hours(text: str, zone: str, closed: str = "") -> ClinicHours:
    """Hours from text such as ``mon-fri 08:30-12:30, mon-thu 13:30-17:30`` and closed dates ``2026-12-25, …``."""
    spans: dict[int, tuple[tuple[time, time], ...]] = {}
    for part in filter(None, (piece.strip().lower() for piece in text.split(","))):
        for weekday, span in _read_span(part):
            spans[weekday] = tuple(sorted((*spans.get(weekday, ()), span)))
    if not spans:
        raise InvalidInput("bad_clinic_hours", "The clinic must open some day, such as 'mon-fri 08:30-17:30'.")
    return ClinicHours(ZoneInfo(zone), spans, frozenset(_closed_dates(closed)))


def _read_span(part: str) -> list[tuple[int, tuple[time, time]]]:
    match = _SPAN.match(part)
    try:
        if match is None:
            raise ValueError(part)
        first, last = DAY_NAMES.index(match[1]), DAY_NAMES.index(match[2] or match[1])
        span = time.fromisoformat(match[3]), time.fromisoformat(match[4])
        if first > last or span[0] >= span[1]:
            raise ValueError(part)
    except ValueError as error:
        raise InvalidInput(
            "bad_clinic_hours", f"{part!r} is not a span of clinic hours; write 'mon-fri 08:30-17:30'."
        ) from error
    return [(weekday, span) for weekday in range(first, last + 1)]


def _closed_dates(text: str) -> Iterator[date]:
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        try:
            yield date.fromisoformat(part)
        except ValueError as error:
            raise InvalidInput("bad_closed_day", f"{part!r} is not a date; write it as 2026-12-25.") from error
