"""An invented wearer and what happens to her plan, in day numbers and local times."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from followup.clinical.load_protocols import find_protocol
from followup.core.plan_event import PlanEvent
from followup.core.plan_event_json import parse_event
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_plan import Assume, WearDay, replay
from followup.core.wearing_goal import Activity, RangeEnd, WearingGoal

DELIVERED_ON = date(2026, 3, 2)


@dataclass(frozen=True)
class Wearer:
    """Asha Marlow's left orthosis, unless a test says otherwise."""

    protocol: str = "s01"
    precautions: tuple[str, ...] = ()
    without: str = "walks"
    zone: str = "Europe/Madrid"
    full_wear: int = 480
    end: str = "low"
    window: tuple[time, time] = (time(7, 30), time(21, 30))
    delivered_on: date = DELIVERED_ON
    activity: str = "mostly_on_feet"

    @property
    def goal(self) -> WearingGoal:
        zone, end, activity = ZoneInfo(self.zone), RangeEnd(self.end), Activity(self.activity)
        return WearingGoal(zone, self.full_wear, *self.window, end, activity=activity)

    def at(self, day: int, clock: str) -> datetime:
        """The instant of a local time on a plan day."""
        on = self.delivered_on + timedelta(days=day - 1)
        return datetime.combine(on, time.fromisoformat(clock), ZoneInfo(self.zone))

    def on(self, day: int) -> date:
        return self.delivered_on + timedelta(days=day - 1)

    def check(
        self, day: int, result: str = "clear", at: str = "20:00", told: datetime | None = None, **facts: Any
    ) -> PlanEvent:
        """A skin check of a plan day, told at once unless `told` says when."""
        happened = self.at(day, at)
        data = {"plan_on": self.on(day).isoformat(), "result": result, **facts}
        return self._event("skin_check", happened, told or happened, data)

    def clear(self, *days: int) -> list[PlanEvent]:
        """A clear check in the evening of each of these days, felt by hand too."""
        return [self.check(day, by_touch=True) for day in days]

    def triage(self, day: int, instruction: str, at: str = "21:00") -> PlanEvent:
        data = {"instruction": instruction, "urgency": "clinician_today", "reason": "invented_rule"}
        return self._event("triage_result", self.at(day, at), self.at(day, at), data)

    def word(self, day: int, action: str, from_day: int, step: int | None = None, at: str = "22:00") -> PlanEvent:
        """A clinician's instruction recorded on `day` that holds from `from_day`."""
        data = {"action": action, "from_on": self.on(from_day).isoformat(), "step": step, "by": "ruiz"}
        return self._event("plan_instruction", self.at(day, at), self.at(day, at), data)

    def plan(
        self,
        events: list[PlanEvent],
        days: int,
        as_of: datetime | None = None,
        assume: str = "clear",
        begins_at: datetime | None = None,
    ) -> tuple[WearDay, ...]:
        """The first days as known at the end of the last of them, unless `as_of` says when."""
        return replay(
            find_protocol(self.protocol),
            self.goal,
            frozenset(map(Precaution, self.precautions)),
            WithoutOrthosis(self.without),
            self.delivered_on,
            events,
            as_of or self.at(days, "23:59"),
            days,
            Assume(assume),
            begins_at,
        )

    def targets(self, events: list[PlanEvent], days: int) -> list[int]:
        return [day.target_minutes for day in self.plan(events, days)]

    def last(self, events: list[PlanEvent], days: int) -> WearDay:
        return self.plan(events, days)[-1]

    def _event(self, type: str, happened: datetime, told: datetime, data: dict[str, Any]) -> PlanEvent:
        stated = {"type": type, "occurred_at": happened.isoformat(), "recorded_at": told.isoformat(), "data": data}
        return parse_event({"id": str(sorted(stated.items(), key=str)), **stated})


ASHA = Wearer()


def codes(day: WearDay) -> list[str]:
    return [reason.code.value for reason in day.reasons]
