"""What staff read for the ids of the clinic: urgencies, wear instructions, precautions, plan actions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from followup.core.callback import Part
from followup.core.plan_event import PlanAction
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.urgency import Urgency, WearInstruction


@dataclass(frozen=True, slots=True)
class UrgencyWords:
    """An urgency as it is set: the words, and the stylesheet's mark for their weight."""

    words: str
    mark: str


URGENCIES: Mapping[Urgency, UrgencyWords] = {
    Urgency.KEEP_TO_PLAN: UrgencyWords("Keep to the plan", "keep-to-plan"),
    Urgency.DESK_FOLLOW_UP: UrgencyWords("Desk follows up", "desk-follow-up"),
    Urgency.CLINICIAN_NEXT_DAY: UrgencyWords("Clinician by next working day", "clinician-next-day"),
    Urgency.CLINICIAN_TODAY: UrgencyWords("Clinician today", "clinician-today"),
    Urgency.MEDICAL_TODAY: UrgencyWords("Medical care today", "medical-today"),
    Urgency.EMERGENCY_NOW: UrgencyWords("Emergency number now", "emergency-now"),
}

INSTRUCTIONS: Mapping[WearInstruction, str] = {
    WearInstruction.AS_PLANNED: "As planned",
    WearInstruction.SAME_TIME_AGAIN: "Same time again",
    WearInstruction.SHORTER_TIME: "Shorter time",
    WearInstruction.OFF_UNTIL_WE_SPEAK: "Off until we speak",
    WearInstruction.LEAVE_ON_AS_ORDERED: "Leave it on as ordered",
}

ACTIONS: Mapping[PlanAction, str] = {
    PlanAction.AS_PLANNED: "As planned",
    PlanAction.SAME_TIME: "Same time again",
    PlanAction.SHORTER: "Shorter time",
    PlanAction.OFF: "Off until we speak",
    PlanAction.RESUME: "Begin again at a step",
    PlanAction.RESTART: "Begin again from the first step",
    PlanAction.LEAVE_ON: "Leave it on as ordered",
}

PRECAUTIONS: Mapping[Precaution, str] = {
    Precaution.REDUCED_SENSATION: "Feels little or nothing in the foot",
    Precaution.DIABETES: "Diabetes",
    Precaution.POOR_CIRCULATION: "Poor circulation",
    Precaution.ANTICOAGULANT: "Takes blood thinners",
    Precaution.FRAGILE_SKIN: "Fragile or scarred skin",
    Precaution.CHANGING_OEDEMA: "Swelling that comes and goes",
    Precaution.SPASTICITY: "Severe spasticity",
    Precaution.CANNOT_SEE_OR_REACH_FOOT: "Cannot see or reach the foot",
    Precaution.CANNOT_REPORT: "Cannot say that something hurts",
    Precaution.CHILD: "A child",
    Precaution.PROTECTIVE: "The orthosis protects a fracture, a repair or an acute foot",
    Precaution.SPINAL_CORD_INJURY_HIGH: "Spinal cord injury above T6",
    Precaution.OLD_ULCER: "Has had an ulcer",
}

WITHOUT: Mapping[WithoutOrthosis, str] = {
    WithoutOrthosis.WALKS: "Walks safely",
    WithoutOrthosis.WITH_HELP: "Walks only with help",
    WithoutOrthosis.TRANSFERS_ONLY: "Transfers only; if it comes off, sitting or lying",
    WithoutOrthosis.MUST_NOT_STAND: "Must not stand",
}

PARTS: Mapping[Part, str] = {
    Part.FIRST: "Before anything else",
    Part.LATE: "Past its time",
    Part.TODAY: "Today",
    Part.LATER: "Later",
}

STATES: Mapping[str, str] = {
    "wearing": "wearing-in",
    "same_time": "same time again",
    "shorter": "shorter time",
    "off": "off until we speak",
    "full_wear": "full wear",
    "leave_on": "left on as ordered",
    "away": "away, the plan rests",
    "ended": "the plan has ended",
}


def late_words(minutes: int) -> str:
    """How late, in the unit a person would use."""
    if minutes < 60:
        return "1 minute late" if minutes == 1 else f"{minutes} minutes late"
    hours = round(minutes / 60)
    if hours < 48:
        return "1 hour late" if hours == 1 else f"{hours} hours late"
    return f"{round(hours / 24)} days late"


def reason_words(reason: str) -> str:
    """Reasons joined by semicolons, each as it stands after a colon, with a proper apostrophe and one full stop."""
    parts = (part.strip().rstrip(".") for part in reason.replace("'", "’").split(";"))
    return "; ".join(": ".join(lower_first(each) for each in part.split(": ")) for part in parts if part) + "."


def lower_first(words: str) -> str:
    """The words as they stand after a colon; an abbreviation keeps its capitals."""
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]


def upper_first(words: str) -> str:
    """The words as they begin a sentence."""
    return words[:1].upper() + words[1:]
