"""Plan events from JSON objects and back; what cannot be read is named with what to write instead."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import UTC, date, datetime, time
from enum import StrEnum
from functools import partial
from typing import Any, TypeGuard, TypeVar
from zoneinfo import ZoneInfo

from followup.core.plan_event import (
    Away,
    AwayReason,
    Back,
    CheckResult,
    ClinicianDecision,
    Complaint,
    DecisionKind,
    EventData,
    EventType,
    GoalChange,
    OrthosisChange,
    OrthosisChanged,
    PlanAction,
    PlanEnd,
    PlanEnding,
    PlanEvent,
    PlanInstruction,
    ProtocolChange,
    SkinCheck,
    TriageOutcome,
    ZoneChange,
)
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wearing_goal import EVERY_DAY, FixedPoint, PointKind, RangeEnd
from followup.errors import InvalidInput

MOST_MINUTES = 24 * 60
MOST_STEPS = 1000

Choice = TypeVar("Choice", bound=StrEnum)
Reader = Callable[[Mapping[str, object], str, str], Any]
"""Reads the field called by its second argument from an object that stands at the path of its third."""


def parse_event(raw: Mapping[str, object], path: str = "") -> PlanEvent:
    """The event stated by a JSON object; raises ``InvalidInput`` naming the field below `path` and what to write."""
    if not isinstance(raw, Mapping):
        raise _wrong(path, "Write each event as a JSON object.")
    _only_known(raw, ("id", "type", "occurred_at", "recorded_at", "data"), path)
    kind = _choice(EventType, raw, "type", path)
    occurred_at, recorded_at = _instant(raw, "occurred_at", path), _instant(raw, "recorded_at", path)
    if recorded_at < occurred_at:
        raise _wrong(_below(path, "recorded_at"), "Write a recorded_at that is not before occurred_at.")
    data = raw.get("data")
    if not isinstance(data, Mapping):
        raise _wrong(_below(path, "data"), "Write data as a JSON object.")
    read = _read_data(kind, data, _below(path, "data"))
    if isinstance(read, SkinCheck) and read.looked_at is not None and read.looked_at > recorded_at:
        raise _wrong(_below(path, "data.looked_at"), "Write a looked_at that is not after recorded_at.")
    return PlanEvent(_text(raw, "id", path), kind, occurred_at, recorded_at, read)


def event_as_json(event: PlanEvent) -> dict[str, object]:
    """The JSON object of an event; the inverse of `parse_event`."""
    return {
        "id": event.id,
        "type": event.type.value,
        "occurred_at": event.occurred_at.isoformat(),
        "recorded_at": event.recorded_at.isoformat(),
        "data": data_as_json(event.data),
    }


def data_as_json(data: EventData) -> dict[str, Any]:
    """The JSON object of an event's data."""
    return {each.name: _as_json(getattr(data, each.name)) for each in fields(data)}


def event_type(data: EventData) -> EventType:
    """The type of the event that carries `data`."""
    return event_type_of(type(data))


def event_type_of(made: type[EventData]) -> EventType:
    """The type of the events that carry data of this class."""
    return _TYPES[made]


def fixed_points_from_json(raw: object, path: str = "") -> tuple[FixedPoint, ...]:
    """The fixed points of a day as a JSON list states them; raises ``InvalidInput`` naming the field."""
    if not isinstance(raw, list):
        raise _wrong(path, "Write the fixed points as a list.")
    return tuple(_fixed_point(each, f"{path}[{number}]") for number, each in enumerate(raw))


def fixed_points_as_json(points: tuple[FixedPoint, ...]) -> list[dict[str, Any]]:
    """The inverse of `fixed_points_from_json`."""
    return [{each.name: _as_json(getattr(point, each.name)) for each in fields(point)} for point in points]


def _as_json(value: Any) -> Any:
    if isinstance(value, Urgency):
        return value.id
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, date):  # an instant, too
        return value.isoformat()
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return fixed_points_as_json(value)
    return value


def _read_data(kind: EventType, raw: Mapping[str, object], path: str) -> EventData:
    made, readers = _DATA[kind]
    _only_known(raw, tuple(readers), path)
    read: EventData = made(**{name: reader(raw, name, path) for name, reader in readers.items()})
    if isinstance(read, ClinicianDecision) and (read.kind is DecisionKind.MARK_LIMIT) != (read.minutes is not None):
        raise _wrong(_below(path, "minutes"), "Write the minutes of a mark_limit, and of nothing else.")
    if isinstance(read, GoalChange) and (read.window_start is None) != (read.window_end is None):
        raise _wrong(_below(path, "window_end"), "Write both ends of the window, or neither.")
    return read


def _wrong(path: str, message: str) -> InvalidInput:
    return InvalidInput("bad_event", message, path)


def _below(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _only_known(raw: Mapping[str, object], known: tuple[str, ...], path: str) -> None:
    for name in raw:
        if name not in known:
            raise _wrong(_below(path, str(name)), "Take this field out; the known ones are: " + ", ".join(known) + ".")


def _text(raw: Mapping[str, object], name: str, path: str) -> str:
    value = raw.get(name)
    if not isinstance(value, str) or not value.strip():
        raise _wrong(_below(path, name), "Write a text that is not empty.")
    return value


def _or_none(reader: Reader, raw: Mapping[str, object], name: str, path: str) -> Any:
    return None if raw.get(name) is None else reader(raw, name, path)


def _optional_text(raw: Mapping[str, object], name: str, path: str) -> str:
    value = raw.get(name) or ""
    if not isinstance(value, str):
        raise _wrong(_below(path, name), "Write a text, or leave it out.")
    return value


def _choice(choices: type[Choice], raw: Mapping[str, object], name: str, path: str) -> Choice:
    value = raw.get(name)
    if not isinstance(value, str) or value not in [each.value for each in choices]:
        raise _wrong(_below(path, name), "Write one of: " + ", ".join(choices) + ".")
    return choices(value)


def _urgency(raw: Mapping[str, object], name: str, path: str) -> Urgency:
    value = raw.get(name)
    if value not in [each.id for each in Urgency]:
        raise _wrong(_below(path, name), "Write one of: " + ", ".join(each.id for each in Urgency) + ".")
    return Urgency.from_id(str(value))


def _instant(raw: Mapping[str, object], name: str, path: str) -> datetime:
    advice = "Write an instant with its offset, such as 2026-03-02T10:20:00+01:00."
    try:
        instant = datetime.fromisoformat(str(raw.get(name)))
        if instant.tzinfo is None:
            raise _wrong(_below(path, name), advice)
        return instant.astimezone(UTC)
    except (ValueError, OverflowError):
        raise _wrong(_below(path, name), advice) from None


def _day(raw: Mapping[str, object], name: str, path: str) -> date:
    try:
        return date.fromisoformat(str(raw.get(name)))
    except ValueError:
        raise _wrong(_below(path, name), "Write a date such as 2026-03-02.") from None


def _clock(raw: Mapping[str, object], name: str, path: str) -> time:
    try:
        clock = time.fromisoformat(str(raw.get(name)))
    except ValueError:
        clock = time(second=1)
    if clock.tzinfo is not None or clock.second or clock.microsecond:
        raise _wrong(_below(path, name), "Write a local time such as 07:30.")
    return clock


def _zone(raw: Mapping[str, object], name: str, path: str) -> str:
    value = _text(raw, name, path)
    try:
        return ZoneInfo(value).key
    except (KeyError, ValueError, OSError):
        raise _wrong(_below(path, name), "Write an IANA time zone such as Europe/Madrid.") from None


def _whole(lowest: int, highest: int, advice: str, raw: Mapping[str, object], name: str, path: str) -> int:
    value = raw.get(name)
    if not _is_whole(value) or not lowest <= value <= highest:
        raise _wrong(_below(path, name), advice)
    return value


def _flag(raw: Mapping[str, object], name: str, path: str) -> bool | None:
    value = raw.get(name)
    if value is not None and not isinstance(value, bool):
        raise _wrong(_below(path, name), "Write true or false, or leave it out.")
    return value


def _false_unless(raw: Mapping[str, object], name: str, path: str) -> bool:
    return _flag(raw, name, path) or False


def _points(raw: Mapping[str, object], name: str, path: str) -> tuple[FixedPoint, ...]:
    return fixed_points_from_json(raw.get(name), _below(path, name))


def _fixed_point(raw: object, path: str) -> FixedPoint:
    if not isinstance(raw, Mapping):
        raise _wrong(path, "Write each fixed point as a JSON object.")
    _only_known(raw, FixedPoint.__slots__, path)
    start, end = _clock(raw, "start", path), _clock(raw, "end", path)
    if end <= start:
        raise _wrong(_below(path, "end"), "Write an end after the start, on the same day.")
    return FixedPoint(
        _text(raw, "name", path), _choice(PointKind, raw, "kind", path), start, end, _weekdays(raw, "weekdays", path)
    )


def _weekdays(raw: Mapping[str, object], name: str, path: str) -> frozenset[int]:
    days = raw.get(name, sorted(EVERY_DAY))
    if not isinstance(days, list) or not days or not all(_is_whole(each) and each in EVERY_DAY for each in days):
        raise _wrong(_below(path, name), "Write weekdays as a list of numbers from 0, Monday, to 6, Sunday.")
    return frozenset(days)


def _is_whole(value: object) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool)


def _one_of(choices: type[StrEnum]) -> Reader:
    return partial(_choice, choices)


_minutes = partial(_whole, 0, MOST_MINUTES, f"Write whole minutes from 0 to {MOST_MINUTES}, or leave it out.")
_some_minutes = partial(_whole, 1, MOST_MINUTES, f"Write whole minutes from 1 to {MOST_MINUTES}.")
_step = partial(_whole, 1, MOST_STEPS, "Write the wear step as a whole number from 1, or leave it out.")

_DATA: Mapping[EventType, tuple[Callable[..., EventData], Mapping[str, Reader]]] = {
    EventType.SKIN_CHECK: (
        SkinCheck,
        {
            "plan_on": _day,
            "result": _one_of(CheckResult),
            "mark_minutes": partial(_or_none, _minutes),
            "worn_minutes": partial(_or_none, _minutes),
            "broken": _false_unless,
            "discomfort": _false_unless,
            "looked_at": partial(_or_none, _instant),
            "by_touch": _flag,
            "place": partial(_or_none, _text),
        },
    ),
    EventType.COMPLAINT: (
        Complaint,
        {"plan_on": _day, "about": _optional_text, "place": partial(_or_none, _text)},
    ),
    EventType.TRIAGE_RESULT: (
        TriageOutcome,
        {
            "instruction": _one_of(WearInstruction),
            "urgency": _urgency,
            "place": partial(_or_none, _text),
            "reason": _optional_text,
        },
    ),
    EventType.PLAN_INSTRUCTION: (
        PlanInstruction,
        {
            "action": _one_of(PlanAction),
            "from_on": _day,
            "step": partial(_or_none, _step),
            "by": _optional_text,
            "why": _optional_text,
        },
    ),
    EventType.CLINICIAN_DECISION: (
        ClinicianDecision,
        {
            "kind": _one_of(DecisionKind),
            "from_on": _day,
            "why": _text,
            "by": _text,
            "minutes": partial(_or_none, _some_minutes),
        },
    ),
    EventType.PROTOCOL_CHANGE: (
        ProtocolChange,
        {"protocol": _text, "digest": _text, "from_on": _day, "by": _text, "step": partial(_or_none, _step)},
    ),
    EventType.GOAL_CHANGE: (
        GoalChange,
        {
            "from_on": _day,
            "by": _optional_text,
            "full_wear_minutes": partial(_or_none, _some_minutes),
            "window_start": partial(_or_none, _clock),
            "window_end": partial(_or_none, _clock),
            "range_end": partial(_or_none, _one_of(RangeEnd)),
            "fixed_points": partial(_or_none, _points),
        },
    ),
    EventType.ZONE_CHANGE: (ZoneChange, {"zone": _zone, "from_on": _day}),
    EventType.AWAY: (Away, {"why": _one_of(AwayReason), "from_on": _day}),
    EventType.BACK: (Back, {"from_on": _day}),
    EventType.ORTHOSIS_CHANGE: (
        OrthosisChanged,
        {"change": _one_of(OrthosisChange), "from_on": _day, "by": _optional_text},
    ),
    EventType.PLAN_END: (PlanEnd, {"why": _one_of(PlanEnding), "from_on": _day, "by": _optional_text}),
}
_TYPES: Mapping[Any, EventType] = {made: kind for kind, (made, _) in _DATA.items()}
