"""What happened to a wear plan: skin checks, triage results and a clinician's instructions, as recorded facts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import TypeGuard, TypeVar

from followup.core.urgency import Urgency, WearInstruction
from followup.errors import InvalidInput

MOST_MINUTES = 24 * 60

Choice = TypeVar("Choice", bound=StrEnum)


class EventType(StrEnum):
    """The three kinds of fact a plan is folded from."""

    SKIN_CHECK = "skin_check"
    TRIAGE_RESULT = "triage_result"
    PLAN_INSTRUCTION = "plan_instruction"


class CheckResult(StrEnum):
    """What was seen, best first; ``cannot_say`` when nobody could look well enough."""

    CLEAR = "clear"
    MARK = "mark"
    SORE = "sore"
    CANNOT_SAY = "cannot_say"


class PlanAction(StrEnum):
    """A clinician's word to the plan."""

    AS_PLANNED = "as_planned"
    RESUME = "resume"
    SAME_TIME = "same_time"
    SHORTER = "shorter"
    OFF = "off"
    RESTART = "restart"
    LEAVE_ON = "leave_on"


@dataclass(frozen=True, slots=True)
class SkinCheck:
    """One look at the skin, for the plan day `plan_on` (local date).

    `mark_minutes` is how long the longest-lasting mark stayed after removal, or the minutes since removal if it is
    still there; None means not said. `worn_minutes` None means worn as planned up to the look. `looked_at` None means
    at the event's `occurred_at`. `by_touch` is True when the skin was felt as well as looked at.
    """

    plan_on: date
    result: CheckResult
    mark_minutes: int | None = None
    worn_minutes: int | None = None
    broken: bool = False
    discomfort: bool = False
    looked_at: datetime | None = None
    by_touch: bool | None = None


@dataclass(frozen=True, slots=True)
class TriageOutcome:
    """A triage result as it was recorded; never triaged again. `reason` is the deciding rule's id."""

    instruction: WearInstruction
    urgency: Urgency
    place: str | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PlanInstruction:
    """A clinician's instruction that holds from the local date `from_on`; `step` is read for ``resume`` only."""

    action: PlanAction
    from_on: date
    step: int | None = None
    by: str = ""


EventData = SkinCheck | TriageOutcome | PlanInstruction


@dataclass(frozen=True, slots=True)
class PlanEvent:
    """A fact with the instant it happened and the instant it was recorded, both aware UTC."""

    id: str
    type: EventType
    occurred_at: datetime
    recorded_at: datetime
    data: EventData


def parse_event(raw: Mapping[str, object], path: str = "") -> PlanEvent:
    """The event stated by a JSON object; raises ``InvalidInput`` naming the field below `path` and what to write."""
    if not isinstance(raw, Mapping):
        raise _wrong(path, "Write each event as a JSON object.")
    _only_known(raw, ("id", "type", "occurred_at", "recorded_at", "data"), path)
    kind = _choice(raw, "type", EventType, path)
    occurred_at, recorded_at = _instant(raw, "occurred_at", path), _instant(raw, "recorded_at", path)
    if recorded_at < occurred_at:
        raise _wrong(_below(path, "recorded_at"), "Write a recorded_at that is not before occurred_at.")
    data = raw.get("data")
    if not isinstance(data, Mapping):
        raise _wrong(_below(path, "data"), "Write data as a JSON object.")
    read = _PARSERS[kind](data, _below(path, "data"))
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
        "data": _data_as_json(event.data),
    }


def _data_as_json(data: EventData) -> dict[str, object]:
    if isinstance(data, SkinCheck):
        return {
            "plan_on": data.plan_on.isoformat(),
            "result": data.result.value,
            "mark_minutes": data.mark_minutes,
            "worn_minutes": data.worn_minutes,
            "broken": data.broken,
            "discomfort": data.discomfort,
            "looked_at": data.looked_at.isoformat() if data.looked_at else None,
            "by_touch": data.by_touch,
        }
    if isinstance(data, TriageOutcome):
        words = {"instruction": data.instruction.value, "urgency": data.urgency.id}
        return words | {"place": data.place, "reason": data.reason}
    return {"action": data.action.value, "from_on": data.from_on.isoformat(), "step": data.step, "by": data.by}


def _parse_check(raw: Mapping[str, object], path: str) -> SkinCheck:
    _only_known(raw, SkinCheck.__slots__, path)
    looked = raw.get("looked_at")
    return SkinCheck(
        plan_on=_day(raw, "plan_on", path),
        result=_choice(raw, "result", CheckResult, path),
        mark_minutes=_minutes(raw, "mark_minutes", path),
        worn_minutes=_minutes(raw, "worn_minutes", path),
        broken=_flag(raw, "broken", path) or False,
        discomfort=_flag(raw, "discomfort", path) or False,
        looked_at=None if looked is None else _instant(raw, "looked_at", path),
        by_touch=_flag(raw, "by_touch", path),
    )


def _parse_triage(raw: Mapping[str, object], path: str) -> TriageOutcome:
    _only_known(raw, TriageOutcome.__slots__, path)
    urgency = raw.get("urgency")
    if urgency not in [each.id for each in Urgency]:
        raise _wrong(_below(path, "urgency"), "Write one of: " + ", ".join(each.id for each in Urgency) + ".")
    place = raw.get("place")
    return TriageOutcome(
        instruction=_choice(raw, "instruction", WearInstruction, path),
        urgency=Urgency.from_id(str(urgency)),
        place=None if place is None else _text(raw, "place", path),
        reason=_optional_text(raw, "reason", path),
    )


def _parse_instruction(raw: Mapping[str, object], path: str) -> PlanInstruction:
    _only_known(raw, PlanInstruction.__slots__, path)
    step = raw.get("step")
    if step is not None and (not _is_whole(step) or not 1 <= step <= 1000):
        raise _wrong(_below(path, "step"), "Write the wear step as a whole number from 1, or leave it out.")
    return PlanInstruction(
        action=_choice(raw, "action", PlanAction, path),
        from_on=_day(raw, "from_on", path),
        step=step,
        by=_optional_text(raw, "by", path),
    )


_PARSERS: Mapping[EventType, Callable[[Mapping[str, object], str], EventData]] = {
    EventType.SKIN_CHECK: _parse_check,
    EventType.TRIAGE_RESULT: _parse_triage,
    EventType.PLAN_INSTRUCTION: _parse_instruction,
}


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


def _optional_text(raw: Mapping[str, object], name: str, path: str) -> str:
    value = raw.get(name) or ""
    if not isinstance(value, str):
        raise _wrong(_below(path, name), "Write a text, or leave it out.")
    return value


def _choice(raw: Mapping[str, object], name: str, choices: type[Choice], path: str) -> Choice:
    value = raw.get(name)
    if not isinstance(value, str) or value not in [each.value for each in choices]:
        raise _wrong(_below(path, name), "Write one of: " + ", ".join(choices) + ".")
    return choices(value)


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


def _minutes(raw: Mapping[str, object], name: str, path: str) -> int | None:
    value = raw.get(name)
    if value is None:
        return None
    if not _is_whole(value) or not 0 <= value <= MOST_MINUTES:
        raise _wrong(_below(path, name), f"Write whole minutes from 0 to {MOST_MINUTES}, or leave it out.")
    return value


def _flag(raw: Mapping[str, object], name: str, path: str) -> bool | None:
    value = raw.get(name)
    if value is not None and not isinstance(value, bool):
        raise _wrong(_below(path, name), "Write true or false, or leave it out.")
    return value


def _is_whole(value: object) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool)
