"""What happens next, in words for the family: the answer to a report, on their page or said by staff."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from followup.core.urgency import Urgency, WearInstruction
from followup.services.take_report import Progress
from followup.web.voice import Voice


@dataclass(frozen=True, slots=True)
class AnswerView:
    """The answer's heading, what was told, what to do until then, and when not to wait."""

    heading: str
    told: tuple[str, ...]
    steps_heading: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    urgent_number: str | None


def view_answer(progress: Progress, emergency_number: str, voice: Voice) -> AnswerView:
    """The words of the answer page."""
    urgency = progress.result.urgency
    return AnswerView(
        heading=heading(progress, emergency_number, voice),
        told=tuple(_told(progress, voice)),
        steps_heading=voice.say("answer.until" if urgency >= Urgency.CLINICIAN_NEXT_DAY else "answer.from_here"),
        steps=tuple(steps(progress, emergency_number, voice)),
        cautions=(
            voice.say("answer.caution_emergency", number=emergency_number),
            voice.say("answer.caution_medical"),
        ),
        urgent_number=emergency_number if urgency is Urgency.EMERGENCY_NOW else None,
    )


def heading(progress: Progress, emergency_number: str, voice: Voice) -> str:
    """Most pressing first: where to go, else what to do with the orthosis and who rings by when."""
    urgency = progress.result.urgency
    wear = voice.say(f"answer.{progress.result.instruction.value}")
    next_step = _next_step(progress, emergency_number, voice)
    if urgency is Urgency.KEEP_TO_PLAN:
        return f"{next_step} {wear}"
    return f"{next_step} {wear}" if urgency >= Urgency.MEDICAL_TODAY else f"{wear} {next_step}"


def _next_step(progress: Progress, emergency_number: str, voice: Voice) -> str:
    urgency = progress.result.urgency
    if urgency in {Urgency.CLINICIAN_NEXT_DAY, Urgency.CLINICIAN_TODAY}:
        due = progress.callback_due_at
        if due is None:
            return voice.say(f"answer.{urgency.id}_soon")
        return voice.say(f"answer.{urgency.id}", when=voice.before(due))
    return voice.say(f"answer.{urgency.id}", number=emergency_number)


def _told(progress: Progress, voice: Voice) -> Iterator[str]:
    """The words of the rules that decided, and that something is still open."""
    result = progress.result
    said = [rule.words[voice.say.language].family for rule in result.fired if voice.say.language in rule.words]
    yield from dict.fromkeys(said[:2])
    if not said and not result.still_matters:
        yield voice.say("answer.all_well")
    if result.urgency > result.floor:
        yield voice.say("answer.open_end")


def steps(progress: Progress, emergency_number: str, voice: Voice) -> Iterator[str]:
    """What to do, one step a line."""
    say, urgency = voice.say, progress.result.urgency
    if urgency is Urgency.EMERGENCY_NOW:
        yield say("answer.do_emergency", number=emergency_number)
    elif urgency is Urgency.MEDICAL_TODAY:
        yield say("answer.do_medical")
    yield from _wear_steps(progress, voice)
    if urgency is Urgency.DESK_FOLLOW_UP:
        yield say("answer.do_desk")


def _wear_steps(progress: Progress, voice: Voice) -> Iterator[str]:
    say, sits = voice.say, progress.facts.cannot_stand
    look = say("answer.do_check", limit=progress.facts.mark_limit_minutes)
    match progress.result.instruction:
        case WearInstruction.OFF_UNTIL_WE_SPEAK:
            yield say("answer.do_off_sitting" if sits else "answer.do_off")
            yield say("answer.do_off_times")
            yield say("answer.do_look")
        case WearInstruction.LEAVE_ON_AS_ORDERED:
            yield say("answer.do_leave_on")
        case WearInstruction.SHORTER_TIME:
            if sits:
                yield say("answer.do_shorter_sitting")
            yield say("answer.do_shorter")
            yield look
        case WearInstruction.SAME_TIME_AGAIN:
            yield say("answer.do_same")
            yield look
        case _:
            yield say("answer.do_planned")
            yield look
