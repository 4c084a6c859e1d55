"""What is said to a caller who may not be told: never times or a plan, always what keeps a leg and a life safe."""

from __future__ import annotations

from collections.abc import Iterator

from followup.core.urgency import Urgency, WearInstruction
from followup.web.answer_view import Answered
from followup.web.voice import Voice

LOOKED_AT = "Thank you. It is written down, and a clinician looks at it."
OFF = "If the orthosis is on the leg now, take it off."
OFF_SITTING = "If the orthosis is on the leg now, take it off sitting or lying, and do not stand up alone without it."
LEAVE_ON = "If the orthosis is on the leg now, leave it on: it protects the leg."
TAKEN_OFF = frozenset({WearInstruction.OFF_UNTIL_WE_SPEAK, WearInstruction.SHORTER_TIME})


def untold_words(found: Answered, emergency_number: str, voice: Voice) -> Iterator[str]:
    """One sentence a line: where to go, that it is written down, the orthosis on the leg now, when not to wait."""
    say, urgency = voice.say, found.urgency
    if urgency is Urgency.EMERGENCY_NOW:
        yield say("answer.emergency_now", number=emergency_number)
    elif urgency is Urgency.MEDICAL_TODAY:
        yield say("answer.medical_today")
    yield LOOKED_AT
    if found.wear is WearInstruction.LEAVE_ON_AS_ORDERED:
        yield LEAVE_ON
    elif found.wear in TAKEN_OFF:
        yield OFF_SITTING if found.progress.facts.cannot_stand else OFF
    if urgency < Urgency.EMERGENCY_NOW:
        yield f"Do not wait for us if {say('answer.caution_emergency', number=emergency_number).rstrip(';')}."
    if urgency < Urgency.MEDICAL_TODAY:
        yield f"Do not wait for us if {say('answer.caution_medical')}"
