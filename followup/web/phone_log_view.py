"""What the phone log shows: the question to read aloud, where it stands, what is known, and what to say at the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from followup.core.finding import CANT_SAY, FindingKind
from followup.core.interview import Question, QuestionKind, question_called
from followup.core.urgency import Urgency
from followup.services.practice import Practice
from followup.services.see_callback import Cause
from followup.services.take_report import PLACE, TOUCH, WORN, YES_NO, Progress
from followup.web.answer_view import Answered, heading, steps
from followup.web.forms import Choice
from followup.web.questions import AskedQuestion, ask_place, ask_staff, ask_touch, ask_worn, word_of
from followup.web.staff_words import INSTRUCTIONS, URGENCIES, UrgencyWords, lower_first
from followup.web.untold_words import untold_words
from followup.web.voice import Voice

USEFUL = 12
MOST_NAMED = 4
URGENT_SIGNS = (
    "breathless",
    "chest_pain",
    "stroke_signs",
    "confused_or_very_unwell",
    "foot_cold",
    "toes_blue_or_white",
    "head_injury",
)


@dataclass(frozen=True, slots=True)
class Known:
    """One answer given so far; `change` is the question to ask again, empty where the call is over."""

    label: str
    words: str
    change: str


@dataclass(frozen=True, slots=True)
class QuestionView:
    """Where the call stands beside the question. `stands` are the words of floor and ceiling."""

    position: str
    of_at_most: str
    stands: tuple[str, str]
    if_nothing: str
    why: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class EndView:
    """What to say at the end of a call."""

    heading: str
    when: str
    at: datetime | None
    urgency: UrgencyWords
    instruction: str
    aloud: tuple[str, ...]
    why: tuple[str, ...]
    open: str
    callback_id: int | None


def to_change(progress: Progress, practice: Practice, voice: Voice, change: str) -> AskedQuestion | None:
    """The question to show: the one to be changed if it can be, else the next one; None at the end."""
    if progress.state != "open":
        return None
    if change in practice.rules.gates:
        return _which_changes(practice, change, voice)
    question = _called(progress, practice, change) or progress.question
    return _ask(progress, practice, question, voice) if question is not None else None


def _which_changes(practice: Practice, gate: str, voice: Voice) -> AskedQuestion:
    """Which member of an answered gate is so after all."""
    members = [each for each in practice.rules.findings.values() if each.gate == gate and each.asked]
    listed = tuple(Choice(each.id, each.words["en"].short) for each in members)
    return AskedQuestion(gate, "choices", voice.say("question.which"), "", (), listed)


def changed_member(practice: Practice, member: str) -> tuple[str, str] | None:
    """The answer that says a yes-or-no member of a gate is so; None for one that has to be asked by itself."""
    finding = practice.rules.findings.get(member)
    if finding is None or finding.kind is not FindingKind.BOOLEAN:
        return None
    return member, "yes" if finding.worst else "no"


def _called(progress: Progress, practice: Practice, id: str) -> Question | None:
    """The finding, or the place or wear, that is to be answered again; None for anything else."""
    if id in {PLACE, WORN, TOUCH}:
        return Question(QuestionKind.FINDING, id, (id,), tuple(YES_NO) if id == TOUCH else ())
    if id in practice.rules.findings:
        return question_called(practice.rules, progress.facts, id)
    return None


def _ask(progress: Progress, practice: Practice, question: Question, voice: Voice) -> AskedQuestion:
    if question.id == PLACE:
        return ask_place(practice.places, voice)
    if question.id == WORN:
        return ask_worn(practice.rules, progress.facts, voice)
    if question.id == TOUCH:
        return ask_touch(question, voice)
    return ask_staff(practice.rules, progress.facts, question, voice)


def view_question(progress: Progress, asked: AskedQuestion, practice: Practice, voice: Voice) -> QuestionView:
    """What stands round a question."""
    result, position = progress.result, progress.asked + 1
    most = max(progress.at_most, position)
    return QuestionView(
        position=f"{voice.ordinal(position)} question"
        if position <= voice.say.count("time.ordinals")
        else f"question {position}",
        of_at_most=f"of at most {voice.number(most)}" if most <= USEFUL else "",
        stands=(URGENCIES[result.floor].words, URGENCIES[result.ceiling].words),
        if_nothing=INSTRUCTIONS[result.instruction],
        why=_why_asked(asked, progress),
        causes=causes_of(progress, practice),
    )


def _why_asked(asked: AskedQuestion, progress: Progress) -> str:
    if asked.id == PLACE:
        return "Nothing more can change the urgency. The clinician needs the place to find the cause."
    if asked.id == WORN:
        return "Nothing more can change the urgency. The plan goes on by the time that was really worn."
    if asked.id == TOUCH:
        return "On a foot that cannot feel, clear skin counts only when it was felt as well as looked at."
    floor, ceiling = URGENCIES[progress.result.floor].words, URGENCIES[progress.result.ceiling].words
    return (
        f"It is at least “{floor}” and could become “{ceiling}”. "
        "Of the questions still open, this is the one that can raise it furthest."
    )


def causes_of(progress: Progress, practice: Practice) -> tuple[Cause, ...]:
    """Likely causes of what is known so far, in the order to check."""
    known = practice.rules.causes
    return tuple(
        Cause(known[id]["en"]["label"], known[id]["en"]["check"]) for id in progress.result.causes if id in known
    )


def known_so_far(progress: Progress, practice: Practice, voice: Voice) -> tuple[Known, ...]:
    """Every answer given, the newest for each question."""
    latest = dict(progress.history)
    open_call = progress.state == "open"
    return tuple(
        Known(*_told(question, answer, progress, practice, voice), question if open_call else "")
        for question, answer in latest.items()
    )


def _told(question: str, answer: str, progress: Progress, practice: Practice, voice: Voice) -> tuple[str, str]:
    if question == PLACE:
        place = next((each.words["en"] for each in practice.places if each.id == answer), "Not sure")
        return "Place", place
    if question == WORN:
        return "Worn", "Not sure" if answer == CANT_SAY else voice.amount(int(answer))
    if question == TOUCH:
        return "Skin felt by hand", {"yes": "Yes", "no": "No"}.get(answer, "Not sure")
    return word_of(practice.rules, question, answer, progress.facts, voice)


def view_end(found: Answered, practice: Practice, voice: Voice, *, hung_up: bool = False) -> EndView:
    """What to say at the end, and why; after a call that has ended already, what to say to them next."""
    progress, emergency = found.progress, practice.facts.emergency_number
    result = progress.result
    due = progress.callback_due_at
    return EndView(
        heading=_end_heading(result.urgency, emergency, hung_up),
        when=f"by {voice.when(due)}" if due else "",
        at=due,
        urgency=URGENCIES[result.urgency],
        instruction=INSTRUCTIONS[found.wear],
        aloud=_aloud(found, emergency, voice),
        why=tuple(_because(progress)),
        open=_open(progress, practice, voice),
        callback_id=progress.callback_id,
    )


def _end_heading(urgency: Urgency, emergency: str, hung_up: bool) -> str:
    if urgency is Urgency.EMERGENCY_NOW:
        return f"Ring back at once: they need {emergency}" if hung_up else f"Stay on the line until {emergency} answers"
    return "The call has ended. Say this when you reach them" if hung_up else "What to say before you hang up"


def _aloud(found: Answered, emergency: str, voice: Voice) -> tuple[str, ...]:
    if found.progress.orthosis_id is not None and not found.knows_times:
        return tuple(untold_words(found, emergency, voice))
    return (heading(found, emergency, voice), *steps(found, emergency, voice))


def _open(progress: Progress, practice: Practice, voice: Voice) -> str:
    """Urgent questions nobody answered; the first few by name, for nobody reads forty."""
    findings = (practice.rules.findings[id] for id in progress.result.still_matters)
    missing = [lower_first(each.words["en"].short) for each in findings if each.urgent and each.asked]
    rest = len(missing) - MOST_NAMED
    return voice.listed([*missing[:MOST_NAMED], *([f"{voice.number(rest)} more"] if rest > 0 else [])])


def _because(progress: Progress) -> Iterator[str]:
    for rule in progress.result.fired[:4]:
        yield f"{rule.words['en'].staff.rstrip('.')}." if "en" in rule.words else f"{rule.label}."
    if progress.result.urgency > progress.result.floor:
        yield "Not every urgent question has an answer."
