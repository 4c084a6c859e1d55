"""When a plan rests or ends: away, back again, the orthosis in other hands or changed, and the end for good."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from followup.core.plan_event import (
    Away,
    Back,
    ClinicianDecision,
    GoalChange,
    OrthosisChanged,
    PlanAction,
    PlanEnd,
    PlanInstruction,
    ProtocolChange,
    ZoneChange,
)
from followup.core.plan_reason import Reason, ReasonCode
from followup.core.wear_day import PlanState

Change = Away | Back | OrthosisChanged | PlanEnd | ProtocolChange | GoalChange | ZoneChange | ClinicianDecision
"""What holds from a local date on and is no clinician's word to the ladder."""


class Rest(NamedTuple):
    """Why nothing is planned for now, and whether only a stated start step ends it."""

    state: PlanState
    reason: Reason
    needs_start_step: bool = False


AWAY = Rest(PlanState.AWAY, Reason(ReasonCode.AWAY))
BACK = Rest(PlanState.OFF, Reason(ReasonCode.BACK_WAITS))
CHANGED = Rest(PlanState.OFF, Reason(ReasonCode.WAITS_FOR_START_STEP), needs_start_step=True)
ENDED = Rest(PlanState.ENDED, Reason(ReasonCode.PLAN_ENDED))


def rest_after(change: Change, rest: Rest | None) -> Rest | None:
    """The rest a plan is in after `change`; a start step once asked for is waited for, whoever goes or comes back."""
    match change:
        case PlanEnd():
            return ENDED
        case OrthosisChanged(change=what) if what.needs_start_step:
            return CHANGED
        case Away() if rest is None or not rest.needs_start_step:
            return AWAY
        case Back() if rest is AWAY:
            return BACK
        case _:
            return rest


def ends_rest(word: PlanInstruction, rest: Rest) -> bool:
    """True for a clinician's word after which something is worn again.

    While they are away only one that begins anew counts, whatever else a call ends with; a changed orthosis asks for a
    step to start.
    """
    if rest is ENDED or word.action is PlanAction.OFF:
        return False
    if rest.needs_start_step:
        return word.action is PlanAction.RESTART or (word.action is PlanAction.RESUME and word.step is not None)
    return rest is not AWAY or word.action in (PlanAction.RESUME, PlanAction.RESTART)


def outlives(word: PlanInstruction, change: Change) -> bool:
    """True for a clinician's earlier word that still holds after `change`: one given for before it, or "off"."""
    return word.action is PlanAction.OFF or word.from_on < change.from_on or not _asks_anew(change)


def _asks_anew(change: Change) -> bool:
    return isinstance(change, Away) or (isinstance(change, OrthosisChanged) and change.change.needs_start_step)


def due(change: Change, on: date) -> bool:
    """True once the day of `change` has come."""
    return change.from_on <= on
