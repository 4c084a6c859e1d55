"""The callback queue and one callback: take it, give it back, try again, close it with an instruction to the plan."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, time

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.core.plan_event import PlanAction
from followup.core.precaution import Precaution
from followup.errors import Conflict, InvalidInput
from followup.services.join_wearer import join_wearer
from followup.services.name_caller import callers_of
from followup.services.see_callback import CallbackView, see_callback
from followup.services.see_wearers import list_wearers
from followup.services.sign_in import Role, Session
from followup.services.work_callbacks import (
    CallOutcome,
    Closing,
    close_callback,
    note_no_answer,
    only_a_clinician_takes,
    release_callback,
    see_queue,
    take_callback,
)
from followup.web.callback_view import OUTCOMES, action_choices, view_callback
from followup.web.forms import Choice, Fault, Form, needed, one_of, read_date
from followup.web.queue_view import queue_groups, queue_heading
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page, tell

KNOWINGLY = (Choice("yes", "I change the wear of a protective orthosis knowingly"),)
HERE = "callbacks"
STANDS = "Read it again; what you wrote still stands below."
NUMBER = re.compile(r"\+?\d[\d ()/.-]{4,}\d")


@staff_page
async def queue(request: Request, staff: Session) -> Response:
    """Whom to ring, most pressing first."""
    parts = parts_of(request)
    voice = parts.staff_voice()
    entries = await run_in_threadpool(see_queue, parts.practice, voice.now)
    groups = queue_groups(entries, staff.staff_id, voice)
    return show(request, staff, "staff/queue.html", HERE, heading=queue_heading(entries, voice), groups=groups)


@staff_form()
async def take_from_queue(request: Request, staff: Session, form: Form) -> Response:
    """Take a call, or give one's own back."""
    parts = parts_of(request)
    act, name = (release_callback, "release") if form.text("release") else (take_callback, "take")
    if not form.text(name).isdecimal():
        return tell(request, staff, 422, "That call was not named", "Nothing was changed. Choose a call from the list.")
    await run_in_threadpool(act, parts.practice, int(form.text(name)), staff, parts.clock())
    return RedirectResponse("/callbacks" if name == "release" else f"/callbacks/{form.text(name)}", 303)


@staff_page
async def callback(request: Request, staff: Session) -> Response:
    """One callback laid open."""
    return await _page(request, staff, Form())


@staff_form()
async def work(request: Request, staff: Session, form: Form) -> Response:
    """Take, give back, try again or close."""
    parts, callback_id = parts_of(request), request.path_params["callback_id"]
    match form.text("do"):
        case "take" | "release" as act:
            do = take_callback if act == "take" else release_callback
            await run_in_threadpool(do, parts.practice, callback_id, staff, parts.clock())
            return RedirectResponse(f"/callbacks/{callback_id}", 303)
        case "no_answer":
            return await _try_again(request, staff, form)
        case "close":
            return await _close(request, staff, form)
    return await _page(request, staff, form.with_faults([Fault("", "Choose what to do with this call")]), 422)


async def _try_again(request: Request, staff: Session, form: Form) -> Response:
    parts, callback_id = parts_of(request), request.path_params["callback_id"]
    at = _today_at(form.text("next_try"), parts.staff_voice().local(parts.clock()))
    if at is None:
        faults = [Fault("next_try", "Write when to ring again, as a time of today such as 15:30")]
        return await _page(request, staff, form.with_faults(faults), 422)
    try:
        await run_in_threadpool(note_no_answer, parts.practice, callback_id, staff, at, parts.clock())
    except InvalidInput as error:
        return await _page(request, staff, form.with_faults([Fault("next_try", error.message)]), 422)
    return RedirectResponse("/callbacks", 303)


def _today_at(text: str, now: datetime) -> datetime | None:
    """The instant of a time written as 9:30 or 09:30, on the practice's date of now."""
    try:
        return datetime.combine(now.date(), time.fromisoformat(text.rjust(5, "0")), now.tzinfo)
    except ValueError:
        return None


async def _close(request: Request, staff: Session, form: Form) -> Response:
    parts, callback_id = parts_of(request), request.path_params["callback_id"]
    view = await run_in_threadpool(see_callback, parts.practice, callback_id, parts.clock())
    faults = _closing_faults(form, has_plan=view.facts is not None)
    if faults:
        return await _page(request, staff, form.with_faults(faults), 422)
    closing = _closing(form, view, parts.staff_voice().local(parts.clock()))
    version = int(form.text("version"))
    try:
        await run_in_threadpool(close_callback, parts.practice, callback_id, staff, version, closing, parts.clock())
    except InvalidInput as error:
        return await _page(request, staff, form.with_faults([Fault(error.path, error.message)]), 422)
    except Conflict as error:
        if error.code not in {"changed_meanwhile", "taken_meanwhile"}:
            raise
        return await _page(request, staff, form.with_faults([Fault("", f"{error.message} {STANDS}")]), 409)
    return RedirectResponse("/callbacks", 303)


def _closing_faults(form: Form, *, has_plan: bool) -> list[Fault]:
    """What is missing or impossible in a closing form; without a known wearer no plan is instructed."""
    faults = one_of(form, "outcome", set(CallOutcome), "Choose how the call ended")
    if has_plan:
        faults += one_of(form, "action", set(PlanAction), "Choose what the plan does from here")
        if read_date(form, "from_on") is None:
            faults.append(Fault("from_on", "Write from which day, as a date such as 2026-05-15"))
        step = form.text("step")
        if step and (not step.isascii() or not step.isdecimal()):
            faults.append(Fault("step", f"“{step}” is not a step; write a whole number, or nothing"))
        if step and form.text("action") != PlanAction.RESUME:
            faults.append(Fault("step", "A step is for “begin again at a step” only; choose that, or leave it empty"))
    faults += needed(form, "note", "Write in a sentence or two what was said and agreed")
    if not form.text("version").isdecimal():
        faults.append(Fault("", "Open the call again: this page was not whole"))
    return faults


def _closing(form: Form, view: CallbackView, today: datetime) -> Closing:
    action = PlanAction(form.text("action")) if view.facts is not None else PlanAction.AS_PLANNED
    step = int(form.text("step")) if form.text("step") else None
    return Closing(
        CallOutcome(form.text("outcome")),
        form.text("note"),
        action,
        read_date(form, "from_on") or today.date(),
        step,
        knowingly=form.text("knowingly") == "yes",
    )


@staff_form()
async def search_whose(request: Request, staff: Session, form: Form) -> Response:
    """Whom a call may be about; sent as a form, so that no name stands in an address."""
    return await _page(request, staff, form)


@staff_form()
async def say_whose(request: Request, staff: Session, form: Form) -> Response:
    """Join a call nobody knew the wearer of to the orthosis it is about."""
    parts, callback_id, chosen = parts_of(request), request.path_params["callback_id"], form.text("orthosis")
    if not (chosen.isascii() and chosen.isdecimal()):
        return await _page(request, staff, form.with_faults([Fault("name", "Choose whom the call is about")]), 422)
    now = parts.clock()
    target = await run_in_threadpool(join_wearer, parts.practice, callback_id, int(chosen), staff, now)
    return RedirectResponse(f"/callbacks/{target}", 303)


@dataclass(frozen=True, slots=True)
class Caller:
    """A caller who is no contact, in their words; `number` is empty where none was given."""

    words: str
    number: str


@dataclass(frozen=True, slots=True)
class Whose:
    """Whom a call is about, while nobody knows: the search and what it found."""

    unknown: bool
    search: Form
    searched: bool
    heading: str
    found: tuple[Choice, ...]


async def _callers(request: Request) -> tuple[Caller, ...]:
    said = await run_in_threadpool(callers_of, parts_of(request).practice, request.path_params["callback_id"])
    numbers = (NUMBER.search(words) for words in said)
    return tuple(Caller(words, match.group() if match else "") for words, match in zip(said, numbers, strict=True))


async def _whose(request: Request, view: CallbackView, form: Form) -> Whose:
    words = form.text("name").strip()
    unknown = view.facts is None
    rows = await run_in_threadpool(list_wearers, parts_of(request).practice, words) if unknown and words else ()
    found = tuple(Choice(str(each.orthosis_id), each.wearer_name, f"{each.side}, {each.reference}") for each in rows)
    heading = "Choose whom it is about." if found else f"Nobody is found for “{words}”."
    return Whose(unknown, Form({"name": (words,)}, form.faults), bool(words), heading, found)


async def _page(request: Request, staff: Session, form: Form, status: int = 200) -> Response:
    parts = parts_of(request)
    voice = parts.staff_voice()
    view = await run_in_threadpool(see_callback, parts.practice, request.path_params["callback_id"], voice.now)
    count = len(form.faults)
    return show(
        request,
        staff,
        "staff/callback.html",
        HERE,
        status,
        shown=view_callback(view, staff.staff_id, voice),
        form=form,
        errors_heading="One thing is still needed" if count == 1 else "Some things are still needed",
        address=f"/callbacks/{view.entry.callback_id}",
        may_close=staff.role is Role.CLINICIAN,
        may_take=staff.role is Role.CLINICIAN or not only_a_clinician_takes(view.entry.urgency),
        whose=await _whose(request, view, form),
        callers=await _callers(request),
        outcomes=OUTCOMES,
        actions=action_choices(view, voice) if view.facts is not None else (),
        knowingly=KNOWINGLY if view.facts is not None and Precaution.PROTECTIVE in view.facts.precautions else (),
    )


routes = [
    Route("/callbacks", queue),
    Route("/callbacks", take_from_queue, methods=["POST"]),
    Route("/callbacks/{callback_id:int}", callback),
    Route("/callbacks/{callback_id:int}", work, methods=["POST"]),
    Route("/callbacks/{callback_id:int}/search", search_whose, methods=["POST"]),
    Route("/callbacks/{callback_id:int}/wearer", say_whose, methods=["POST"]),
]
