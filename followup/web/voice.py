"""How one reader is told days, times, amounts and counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from followup.core import sentences
from followup.web.page_words import PageWords

MONDAY = date(2024, 1, 1)


@dataclass(frozen=True, slots=True)
class Voice:
    """How one reader is told things: language, local zone, and the instant the page was asked for.

    `padded` writes 09:12 for staff, who read columns of times; families read 9:12.
    """

    say: PageWords
    zone: ZoneInfo
    now: datetime
    padded: bool = False

    def local(self, at: datetime) -> datetime:
        """The instant by the reader's clock."""
        return at.astimezone(self.zone)

    def wall(self, at: time) -> str:
        """A time of the day as a clock shows it."""
        return f"{at.hour:02d}:{at.minute:02d}" if self.padded else f"{at.hour}:{at.minute:02d}"

    def clock(self, at: datetime) -> str:
        """The instant as a clock shows it, such as 9:00."""
        return self.wall(self.local(at).time())

    def weekday(self, on: date) -> str:
        """The name of the day of the week."""
        return sentences.weekday(on, self.say.language)

    def date(self, on: date) -> str:
        """A date in full, such as Thursday 14 May."""
        return sentences.full_date(on, self.say.language)

    def day(self, at: datetime) -> str:
        """The day of an instant as people say it: today, yesterday, Friday, or the date in full."""
        on, today = self.local(at).date(), self.local(self.now).date()
        near = {0: "time.today", -1: "time.yesterday", 1: "time.tomorrow"}.get((on - today).days)
        if near:
            return self.say(near)
        return self.weekday(on) if abs(on - today) < timedelta(days=7) else self.date(on)

    def when(self, at: datetime) -> str:
        """The clock alone for today, else the day before it: 11:30, yesterday 17:00, Friday 10:00."""
        if self.is_today(at):
            return self.clock(at)
        return self.say("time.at", day=self.day(at), clock=self.clock(at))

    def told(self, at: datetime) -> str:
        """The day always, then the clock: today 07:52, Wednesday 17:34."""
        return self.say("time.at", day=self.day(at), clock=self.clock(at))

    def before(self, at: datetime) -> str:
        """A deadline: today, before 16:00."""
        return self.say("time.before", day=self.day(at), clock=self.clock(at))

    def is_today(self, at: datetime) -> bool:
        """True if the instant falls on the reader's date of now."""
        return self.local(at).date() == self.local(self.now).date()

    def amount(self, minutes: int) -> str:
        """Minutes as said in a sentence: 30 minutes, 1 hour, 1 hour 20."""
        return sentences.duration_in_words(minutes, self.say.language)

    def short(self, minutes: int) -> str:
        """Minutes as noted: 30 min, 2 h, 1 h 30."""
        brief = self.say("time.short_minutes", minutes=minutes)
        return sentences.duration(minutes, self.say.language) if minutes >= 60 else brief

    def number(self, count: int) -> str:
        """A small count as a word, a large one in figures."""
        return self.say.among("time.numbers", count) if count < self.say.count("time.numbers") else str(count)

    def ordinal(self, position: int) -> str:
        """First, second … as a word, then as "question 13"."""
        known = position <= self.say.count("time.ordinals")
        return self.say.among("time.ordinals", position - 1) if known else self.say("time.ordinal", number=position)

    def span(self, start: datetime, end: datetime) -> str:
        """9:00 to 10:00."""
        return self.say("time.from_to", start=self.clock(start), end=self.clock(end))

    def listed(self, parts: Iterable[str]) -> str:
        """a, b and c."""
        return sentences.listed(list(parts), self.say.language)

    def opening(self, spans: Mapping[int, Sequence[tuple[time, time]]]) -> str:
        """Opening hours by weekday (0 is Monday): Monday to Thursday 8:30 to 17:30, Friday 8:30 to 12:30."""
        return "; ".join(self._stretch(first, last, spans[first]) for first, last in _alike(spans))

    def _stretch(self, first: int, last: int, hours: Sequence[tuple[time, time]]) -> str:
        names = [self.weekday(MONDAY + timedelta(days=each)) for each in dict.fromkeys((first, last))]
        days = names[0] if len(names) == 1 else self.say("time.day_range", start=names[0], end=names[1])
        times = (self.say("time.from_to", start=self.wall(start), end=self.wall(end)) for start, end in hours)
        return f"{days} {self.listed(times)}"


def _alike(spans: Mapping[int, Sequence[tuple[time, time]]]) -> list[tuple[int, int]]:
    """Runs of neighbouring weekdays with the same hours, as first and last weekday."""
    runs: list[tuple[int, int]] = []
    for weekday in sorted(spans):
        if runs and runs[-1][1] == weekday - 1 and spans[runs[-1][1]] == spans[weekday]:
            runs[-1] = (runs[-1][0], weekday)
        else:
            runs.append((weekday, weekday))
    return runs
