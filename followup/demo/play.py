"""Playing the story: one instant after the other, the clock put there first, through the services people use."""

from __future__ import annotations

import heapq
import itertools
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import partial

from followup.demo.families import Families
from followup.demo.staff import Staff
from followup.demo.stage import Stage
from followup.demo.story import Act, Deed
from followup.services.advance import tick
from followup.services.sign_in import Role

EVERY = timedelta(minutes=30)
OPENS, TESTS, CHECKS = time(8), time(9), time(9, 20)
Telling = Callable[[str], None]


@dataclass
class Play:
    """One run of the story. What is to happen waits in `coming`, by instant and then in the order it was put there."""

    stage: Stage
    begins_on: date
    say: Telling
    coming: list[tuple[datetime, int, Callable[[], None]]] = field(default_factory=list)
    done: Counter[str] = field(default_factory=Counter)
    staff_until: datetime | None = None

    def __post_init__(self) -> None:
        self._numbers = itertools.count()
        self.families = Families(self.stage)
        self.staff = Staff(self.stage, self.families)
        self.staff.take_up_work()

    @property
    def moved(self) -> timedelta:
        """How far the story is moved from the days it was written for."""
        return self.begins_on - self.stage.story.begins_on

    def play(self, days: int, until: datetime) -> None:
        """Play so many days, or as far into them as `until`."""
        for number in range(days):
            self._put_day(number)
        self._play_until(until)

    def play_just_now(self, now: datetime) -> None:
        """Go on to `now`, with what comes in shortly before it."""
        for each in self.stage.story.just_now:
            self._put(now - timedelta(minutes=each.minutes_ago), partial(self._act, each))
        self._put(now, self._round)
        self._play_until(now)

    def _play_until(self, until: datetime) -> None:
        while self.coming and self.coming[0][0] <= until:
            at, _, happen = heapq.heappop(self.coming)
            self.stage.clock.at = at
            happen()

    def _put(self, at: datetime, happen: Callable[[], None]) -> None:
        heapq.heappush(self.coming, (at.astimezone(UTC), next(self._numbers), happen))

    def _put_day(self, number: int) -> None:
        on = self.begins_on + timedelta(days=number)
        start = self._at(on, time()).astimezone(UTC)
        length = self._at(on + timedelta(days=1), time()).astimezone(UTC) - start
        self._put(self._at(on, OPENS), partial(self._open, number))
        self._put(self._at(on, TESTS), self.staff.test_messages)
        self._put(self._at(on, CHECKS), self.staff.delivery_checks)
        for each in self.stage.story.exception:
            if each.released is not None and each.released.day == number + 1:
                self._put(self._at(on, each.released.at), partial(self.staff.release, each))
        for step in range(length // EVERY):
            self._put(start + step * EVERY, self._round)

    def _open(self, number: int) -> None:
        self.staff.morning(self.moved)
        today = [each for each in self.stage.story.moment if each.day == number + 1 and each.does is not Deed.SILENT]
        for moment in today:
            zone = self.stage.household_of(moment.who).zone
            on = moment.on(self.begins_on)
            self._put(datetime.combine(on, moment.at, zone), partial(self._act, moment))

    def _act(self, act: Act) -> None:
        self.families.act(act, self.staff.session(Role.DESK))

    def _round(self) -> None:
        """A tick of the program; then people read what arrived and do their work."""
        stage = self.stage
        self.done.update(tick(stage.practice, stage.app.transport, stage.app.compose, stage.app.inboxes, stage.clock))
        for evening in self.families.read_post():
            self._put(evening.at, partial(self.families.answer, evening))
        if self.staff_until is None or stage.now < self.staff_until:
            self.staff.work()
        self._tell()

    def _tell(self) -> None:
        local = self.stage.now.astimezone(self.stage.zone)
        if (local.hour, local.minute) == (22, 0):
            day = (local.date() - self.begins_on).days + 1
            arrived = len(self.stage.receiver.received)
            self.say(f"day {day}, {local:%a %d %b}: {arrived} messages arrived so far")

    def _at(self, on: date, at: time) -> datetime:
        return datetime.combine(on, at, self.stage.zone)
