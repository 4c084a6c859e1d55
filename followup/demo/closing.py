"""What the demo's clinician writes down at the end of a call, from the facts of the callback alone."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from followup.core.plan_event import PlanAction
from followup.core.precaution import Precaution
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wear_day import PlanState
from followup.services.see_callback import CallbackView
from followup.services.work_callbacks import CallOutcome, Closing

NEEDS_REST = ("blister", "broken skin", "black or dead skin")
ONE_DAY = timedelta(days=1)


def closing_for(view: CallbackView, now: datetime) -> Closing:
    """The outcome, note and plan instruction of one call that was answered at `now`."""
    today = now.astimezone(ZoneInfo(view.zone)).date()
    instruction, urgency = view.entry.instruction, view.entry.urgency
    if instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
        note = "Seen in the practice: padded at the sore place. It stays on as ordered."
        return Closing(CallOutcome.SEEN, note, PlanAction.LEAVE_ON, today)
    if urgency >= Urgency.MEDICAL_TODAY:
        note = "Told them where to go now and waited until they had understood. Nothing on until we speak again."
        return Closing(CallOutcome.SENT_TO_CARE, note, PlanAction.OFF, today)
    if instruction is WearInstruction.OFF_UNTIL_WE_SPEAK and _needs_rest(view):
        note = "The skin rests. Covered as their nurse does it; we look at it in two working days."
        return Closing(CallOutcome.SPOKEN, note, PlanAction.OFF, today)
    if _was_off(view):
        note = "The skin is clear now. Strap one hole looser; one step less, and a look after each time."
        return Closing(CallOutcome.SPOKEN, note, PlanAction.RESUME, today + ONE_DAY, max(view.step - 1, 1))
    if instruction is WearInstruction.SHORTER_TIME:
        note = "It presses after a while. The edge is eased on Thursday; less time until then."
        return Closing(CallOutcome.SPOKEN, note, PlanAction.SHORTER, today + ONE_DAY)
    if _cannot_report(view) and view.step < view.highest_step:
        note = "They have looked after every time and the skin was clear: one step on."
        return Closing(CallOutcome.SPOKEN, note, PlanAction.RESUME, today + ONE_DAY, view.step + 1)
    if instruction is WearInstruction.SAME_TIME_AGAIN and urgency >= Urgency.CLINICIAN_TODAY:
        note = "Could not say how long it lasted. Looks again tomorrow with the clock in hand."
        return Closing(CallOutcome.SPOKEN, note, PlanAction.SAME_TIME, today + ONE_DAY)
    return Closing(CallOutcome.SPOKEN, "Talked it over; all is as it should be.", PlanAction.AS_PLANNED, today)


def _needs_rest(view: CallbackView) -> bool:
    said = " ".join(f"{line.known} {line.rule}" for line in view.why).lower()
    return any(word in said for word in NEEDS_REST)


def _was_off(view: CallbackView) -> bool:
    off = bool(view.days) and (view.days[-1].day.state is PlanState.OFF or view.days[-1].day.stopped_at is not None)
    return off or view.entry.instruction is WearInstruction.OFF_UNTIL_WE_SPEAK


def _cannot_report(view: CallbackView) -> bool:
    return view.facts is not None and Precaution.CANNOT_REPORT in view.facts.precautions
