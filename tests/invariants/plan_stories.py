"""Invented stories of a wear plan as plain data, and the package that replays them: the real one or a broken copy."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from importlib import import_module
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

T = TypeVar("T")
Choose = Callable[[Sequence[Any]], Any]

ZONES = ("Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Cairo", "UTC")
PRECAUTIONS = ("reduced_sensation", "diabetes", "cannot_report", "child", "protective")
WINDOWS = ((time(7, 30), time(21, 30)), (time(20), time(8)), (time(0), time(0)), (time(9), time(12)))
CHECKS: tuple[dict[str, Any], ...] = (
    {"result": "clear", "by_touch": True},
    {"result": "clear", "by_touch": True},
    {"result": "clear", "by_touch": True},
    {"result": "clear"},
    {"result": "clear", "mark_minutes": 10, "by_touch": True},
    {"result": "clear", "worn_minutes": 20},
    {"result": "clear", "worn_minutes": 1000, "by_touch": True},
    {"result": "clear", "discomfort": True},
    {"result": "mark"},
    {"result": "mark", "mark_minutes": 15},
    {"result": "mark", "mark_minutes": 45},
    {"result": "sore"},
    {"result": "clear", "broken": True},
    {"result": "cannot_say"},
)
TRIAGE = ("as_planned", "same_time_again", "shorter_time", "off_until_we_speak", "leave_on_as_ordered")
ACTIONS = ("as_planned", "resume", "same_time", "shorter", "off", "restart", "leave_on")


@dataclass(frozen=True)
class Story:
    """One wearer, and events as JSON objects."""

    protocol: str = "s01"
    zone: str = "Europe/Madrid"
    precautions: tuple[str, ...] = ()
    without: str = "walks"
    full_wear: int = 480
    end: str = "low"
    window: tuple[time, time] = WINDOWS[0]
    delivered_on: date = date(2026, 3, 23)
    days: int = 14
    events: tuple[dict[str, Any], ...] = ()

    def at(self, day: int, hour: int) -> datetime:
        return datetime.combine(self.on(day), time(hour), ZoneInfo(self.zone))

    def on(self, day: int) -> date:
        return self.delivered_on + timedelta(days=day - 1)

    @property
    def end_at(self) -> datetime:
        return self.at(self.days + 3, 0)


@dataclass(frozen=True)
class Plans:
    """The plan code of one package."""

    package: str = "followup"
    modules: dict[str, Any] = field(default_factory=dict, compare=False)

    def module(self, name: str) -> Any:
        if name not in self.modules:
            self.modules[name] = import_module(f"{self.package}.{name}")
        return self.modules[name]

    def protocol(self, id: str) -> Any:
        if id not in self.modules:
            self.modules[id] = self.module("clinical.load_protocols").find_protocol(id)
        return self.modules[id]

    def replay(self, story: Story, as_of: datetime | None = None) -> tuple[Any, ...]:
        wearing_goal, precaution = self.module("core.wearing_goal"), self.module("core.precaution")
        return self.module("core.wear_plan").replay(
            self.protocol(story.protocol),
            wearing_goal.WearingGoal(
                ZoneInfo(story.zone), story.full_wear, *story.window, wearing_goal.RangeEnd(story.end)
            ),
            frozenset(map(precaution.Precaution, story.precautions)),
            precaution.WithoutOrthosis(story.without),
            story.delivered_on,
            [self.module("core.plan_event_json").parse_event(each) for each in story.events],
            as_of or story.end_at,
            story.days,
        )


def make_story(choose: Choose, **fixed: Any) -> Story:
    """A story from any source of choices, a seeded one or a searching one."""
    story = Story(
        protocol=choose(("s01", "s04", "s13")),
        zone=choose(ZONES),
        precautions=(choose(PRECAUTIONS),) if choose((True, False)) else (),
        without=choose(("walks", "walks", "with_help")),
        full_wear=choose((480, 90, 840)),
        end=choose(("low", "high")),
        window=choose(WINDOWS),
        delivered_on=choose((date(2026, 3, 23), date(2026, 10, 22), date(2026, 6, 1))),
    )
    story = replace(story, **fixed)
    make = choose((make_calm_events, make_events))
    events = [{**each, "id": str(number)} for number, each in enumerate(make(story, choose))]
    return replace(story, events=tuple(events))


def make_calm_events(story: Story, choose: Choose) -> list[dict[str, Any]]:
    """A clear look every day, with little that differs from day to day, and perhaps one finding at the end."""
    calm = [check(story, day, choose((9, 16, 23)), 0, choose(CHECKS[:7])) for day in range(1, story.days)]
    return [*calm, check(story, choose((3, 8)), 23, 0, choose(CHECKS[7:]))]


def make_events(story: Story, choose: Choose) -> list[dict[str, Any]]:
    """Most days a check, some a second one, now and then a triage result or a clinician's word, some told late."""
    events: list[dict[str, Any]] = []
    for day in range(1, story.days + 1):
        for _ in range(choose((1, 1, 1, 1, 2, 0))):
            events.append(check(story, day, choose((10, 16, 23, 23, 23)), choose((0, 0, 0, 0, 9, 30)), choose(CHECKS)))
        if choose((False, False, False, False, True)):
            events.append(triage(story, day, choose((5, 22)), choose(TRIAGE)))
        if choose((False, False, False, True)):
            later = choose((0, 1, 1, 3))
            events.append(word(story, day, choose((4, 15)), choose(ACTIONS), day + later, choose((None, 1, 3))))
    return events


def check(story: Story, day: int, hour: int, told_hours_later: int, facts: dict[str, Any]) -> dict[str, Any]:
    at = story.at(day, hour)
    data = {"plan_on": story.on(day).isoformat(), **facts}
    return _event("skin_check", at, at.astimezone(ZoneInfo("UTC")) + timedelta(hours=told_hours_later), data)


def triage(story: Story, day: int, hour: int, instruction: str) -> dict[str, Any]:
    at = story.at(day, hour)
    return _event("triage_result", at, at, {"instruction": instruction, "urgency": "clinician_today"})


def word(story: Story, day: int, hour: int, action: str, from_day: int, step: int | None) -> dict[str, Any]:
    at = story.at(day, hour)
    data = {"action": action, "from_on": story.on(from_day).isoformat(), "step": step}
    return _event("plan_instruction", at, at, data)


def _event(type: str, happened: datetime, told: datetime, data: dict[str, Any]) -> dict[str, Any]:
    return {"id": "", "type": type, "occurred_at": happened.isoformat(), "recorded_at": told.isoformat(), "data": data}


def seeded_stories(count: int, **fixed: Any) -> list[Story]:
    """The same stories every time."""
    source = random.Random(20260302)
    return [make_story(source.choice, **fixed) for _ in range(count)]
