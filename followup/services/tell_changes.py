"""The sentence a recorded change of a plan is told by in the story."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from followup.core.fixed_points import write_fixed_points
from followup.core.plan_event import (
    Away,
    AwayReason,
    Back,
    ClinicianDecision,
    DecisionKind,
    EventData,
    GoalChange,
    OrthosisChange,
    OrthosisChanged,
    PlanAction,
    PlanEnd,
    PlanEnding,
    PlanInstruction,
    ProtocolChange,
    ZoneChange,
)
from followup.core.sentences import duration, full_date
from followup.core.wear_protocol import WearProtocol

AWAY = {
    AwayReason.HOSPITAL: "They are in hospital",
    AwayReason.TRAVEL: "They are on a journey",
    AwayReason.ILLNESS: "They are ill at home",
}
CHANGED = {
    OrthosisChange.ADJUSTED: "The orthosis was adjusted: new delivery checks, then a clinician’s start step",
    OrthosisChange.REMADE: "The orthosis was remade: new delivery checks, then a clinician’s start step",
    OrthosisChange.LOAN: "A loan was handed out: new delivery checks, then a clinician’s start step",
    OrthosisChange.REPAIRED: "The orthosis was repaired",
    OrthosisChange.RETURNED_UNCHANGED: "The orthosis came back as it was",
}
ENDED = {
    PlanEnding.TRANSFERRED: "The plan ends: another practice goes on with it",
    PlanEnding.WITHDRAWN: "The plan ends: they go on without us",
    PlanEnding.DIED: "The wearer has died; the plan ends and nothing more is sent",
}


def say_change(data: EventData, names: Mapping[int, str], protocols: Mapping[str, WearProtocol]) -> str:
    """One sentence for a change or an instruction; empty for what the story tells elsewhere, such as a report."""
    said = _say(data, protocols)
    if not said:
        return ""
    by = _who(getattr(data, "by", ""), names)
    return f"{by}{said}{_from(getattr(data, 'from_on', None))}.{_why(data)}"


def _say(data: EventData, protocols: Mapping[str, WearProtocol]) -> str:
    match data:
        case PlanInstruction():
            return _instruction(data)
        case Away():
            return f"{AWAY[data.why]}; the plan rests"
        case Back():
            return "They are back; a clinician says how to go on"
        case OrthosisChanged():
            return CHANGED[data.change]
        case ProtocolChange():
            return _protocol(data, protocols)
        case GoalChange():
            return f"The wearing goal changes: {'; '.join(_goal(data))}"
        case ZoneChange():
            return f"The times follow the clocks of {data.zone}"
        case ClinicianDecision():
            return _decision(data)
        case PlanEnd():
            return ENDED[data.why]
    return ""


def _instruction(told: PlanInstruction) -> str:
    step = f" at step {told.step}" if told.step else ""
    if told.action is PlanAction.RESUME and told.why:
        return f"The plan starts{step}"
    return f"The plan is told: {told.action.value.replace('_', ' ')}{step}"


def _decision(decided: ClinicianDecision) -> str:
    if decided.kind is DecisionKind.APART:
        return "Decided: each of the two orthoses follows its own plan"
    return f"Decided: a mark may last {decided.minutes} minutes"


def _protocol(change: ProtocolChange, protocols: Mapping[str, WearProtocol]) -> str:
    title = protocols[change.protocol].title if change.protocol in protocols else change.protocol
    return f"Another protocol, {title}" + (f", at step {change.step}" if change.step else "")


def _goal(change: GoalChange) -> list[str]:
    said = []
    if change.window_start is not None and change.window_end is not None:
        said.append(f"worn within {change.window_start:%H:%M}-{change.window_end:%H:%M}")
    if change.fixed_points is not None:
        said.append(f"fixed points {write_fixed_points(change.fixed_points) or 'none'}")
    if change.full_wear_minutes is not None:
        said.append(f"full wear is {duration(change.full_wear_minutes, 'en')}")
    if change.range_end is not None:
        said.append(f"the {change.range_end.value} end of ranges")
    return said


def _who(by: str, names: Mapping[int, str]) -> str:
    number = by.removeprefix("staff:")
    return f"{names[int(number)]}: " if number.isdecimal() and int(number) in names else ""


def _from(on: date | None) -> str:
    return f", from {full_date(on, 'en')}" if on is not None else ""


def _why(data: EventData) -> str:
    why = data.why if isinstance(data, PlanInstruction | ClinicianDecision) else ""
    return f" Because: {why.rstrip('.')}." if why else ""
