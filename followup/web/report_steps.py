"""A family's report step by step: what the first tap says, which question is shown, and how an answer is kept."""

from __future__ import annotations

from datetime import datetime

from followup.core.finding import CANT_SAY
from followup.errors import InvalidInput
from followup.services.check_delivery import see_checks
from followup.services.practice import Practice
from followup.services.take_report import PLACE, TOUCH, WORN, Progress, answer_report, finish_report
from followup.web.forms import Form
from followup.web.questions import AskedQuestion, ask_family, ask_place, ask_touch, ask_worn
from followup.web.voice import Voice


def ask_next(progress: Progress, practice: Practice, voice: Voice, which: str = "") -> AskedQuestion | None:
    """The question to show; None where there is nothing left to ask. `which` names a gate to be asked by member."""
    question = progress.question
    if question is None:
        return None
    if question.id == PLACE:
        return ask_place(practice.places, voice)
    if question.id == WORN:
        return ask_worn(practice.rules, progress.facts, voice)
    if question.id == TOUCH:
        return ask_touch(question, voice)
    return ask_family(practice.rules, progress.facts, question, voice, which == question.id)


def answer_step(practice: Practice, progress: Progress, form: Form, voice: Voice, now: datetime) -> Progress:
    """Keep the answer of a form, and finish the report when nothing is left to ask.

    `InvalidInput` in the reader's words for a missing or impossible answer. An answer to a question that is no longer
    asked (sent twice, or from an old page) is left as it was answered.
    """
    asked = ask_next(progress, practice, voice)
    if asked is None or asked.id != form.text("question"):
        if any(question == form.text("question") for question, _ in progress.history):
            return progress
        raise InvalidInput("bad_answer", voice.say("question.missing"), "answer")
    try:
        progress = answer_report(practice, progress.report_id, asked.id, _answer(asked, form, voice), now)
    except InvalidInput as error:
        key = "question.number_fits_not" if asked.kind == "number" else "question.no_answer_fits"
        raise InvalidInput(error.code, voice.say(key, given=given_by(form)), "answer") from error
    if progress.question is None:
        return finish_report(practice, progress.report_id, now)
    return progress


def _answer(asked: AskedQuestion, form: Form, voice: Voice) -> str:
    """What was answered; `InvalidInput` in the reader's words where nothing was."""
    if form.text("done") == CANT_SAY:
        return CANT_SAY
    if not given_by(form):
        key = {"place": "question.missing_place", "number": "question.missing_number"}.get(
            asked.kind, "question.missing"
        )
        raise InvalidInput("bad_answer", voice.say(key), "answer")
    return given_by(form)


def given_by(form: Form) -> str:
    """The answer pressed or chosen, else the minutes written."""
    return form.text("answer") or form.text("minutes")


def side_of(practice: Practice, orthosis_id: int) -> str:
    """Which leg the orthosis is on, for the figure."""
    return see_checks(practice, orthosis_id).orthosis.side.value
