"""What happens next, in words for the family: the answer to a report, on their page or said by staff."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from followup.core.urgency import Urgency, WearInstruction, strongest
from followup.core.wear_day import PlanState, WearDay
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


@dataclass(frozen=True, slots=True)
class Answered:
    """A report's result beside what already holds for the plan; `knows_times` is false for who may not be told."""

    progress: Progress
    wear: WearInstruction
    knows_times: bool = True

    @property
    def urgency(self) -> Urgency:
        """How soon somebody must act."""
        return self.progress.result.urgency


def answered(progress: Progress, day: WearDay | None, now: datetime, knows_times: bool = True) -> Answered:
    """The result, with the stronger of its wear instruction and the one that already stands on `day`.

    A clear look never lets a plan that is off seem to go on.
    """
    return Answered(progress, strongest((progress.result.instruction, standing_on(day, now))), knows_times)


def standing_on(day: WearDay | None, now: datetime) -> WearInstruction:
    """What already holds today whatever a report says."""
    if day is None:
        return WearInstruction.AS_PLANNED
    if day.instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
        return day.instruction
    off = day.state is PlanState.OFF or (day.stopped_at is not None and day.stopped_at <= now)
    return WearInstruction.OFF_UNTIL_WE_SPEAK if off else WearInstruction.AS_PLANNED


def view_answer(found: Answered, emergency_number: str, voice: Voice) -> AnswerView:
    """The words of the answer page."""
    progress, urgency = found.progress, found.urgency
    return AnswerView(
        heading=heading(found, emergency_number, voice),
        told=tuple(_told(progress, voice)),
        steps_heading=voice.say("answer.until" if urgency >= Urgency.CLINICIAN_NEXT_DAY else "answer.from_here"),
        steps=tuple(steps(found, emergency_number, voice)),
        cautions=_cautions(urgency, emergency_number, voice),
        urgent_number=emergency_number if urgency is Urgency.EMERGENCY_NOW else None,
    )


def _cautions(urgency: Urgency, emergency_number: str, voice: Voice) -> tuple[str, ...]:
    """When not to wait; nothing where the page already says to ring the emergency number."""
    if urgency is Urgency.EMERGENCY_NOW:
        return ()
    say = voice.say
    return say("answer.caution_emergency", number=emergency_number), say("answer.caution_medical")


def heading(found: Answered, emergency_number: str, voice: Voice) -> str:
    """Most pressing first: where to go, else what to do with the orthosis and who rings by when."""
    next_step = _next_step(found.progress, emergency_number, voice)
    if not found.knows_times and not _is_stop(found.wear):
        return next_step
    wear = voice.say(f"answer.{found.wear.value}")
    first = found.urgency is Urgency.KEEP_TO_PLAN or found.urgency >= Urgency.MEDICAL_TODAY
    return f"{next_step} {wear}" if first else f"{wear} {next_step}"


def _is_stop(wear: WearInstruction) -> bool:
    """What anyone is told at once, whoever they are."""
    return wear in {WearInstruction.OFF_UNTIL_WE_SPEAK, WearInstruction.LEAVE_ON_AS_ORDERED}


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
    if not said and result.urgency is Urgency.KEEP_TO_PLAN:
        yield voice.say("answer.all_well")
    if result.urgency > result.floor:
        yield voice.say("answer.open_end")


def steps(found: Answered, emergency_number: str, voice: Voice) -> Iterator[str]:
    """What to do, one step a line."""
    say, urgency = voice.say, found.urgency
    if urgency is Urgency.EMERGENCY_NOW:
        yield say("answer.do_emergency", number=emergency_number)
    elif urgency is Urgency.MEDICAL_TODAY:
        yield say("answer.do_medical")
    if found.knows_times or _is_stop(found.wear):
        yield from _wear_steps(found, voice)
    else:
        yield say("answer.do_untold")
    if urgency is Urgency.DESK_FOLLOW_UP:
        yield say("answer.do_desk")


def _wear_steps(found: Answered, voice: Voice) -> Iterator[str]:
    say, sits = voice.say, found.progress.facts.cannot_stand
    look = say("answer.do_check", limit=found.progress.facts.mark_limit_minutes)
    match found.wear:
        case WearInstruction.OFF_UNTIL_WE_SPEAK:
            yield say("answer.do_off_sitting" if sits else "answer.do_off")
            if found.urgency < Urgency.EMERGENCY_NOW:
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
