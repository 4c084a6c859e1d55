"""Whose call it is: the report of a call, the wearer it is about, and who is on the line and may be told what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.errors import InvalidInput, UnknownId
from followup.services.name_caller import name_caller
from followup.services.practice import Practice
from followup.services.see_wearers import WearerView, see_wearer
from followup.services.sign_in import Session
from followup.services.take_report import Progress, finish_report, see_report
from followup.web.forms import Choice, Fault, Form, one_of
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page
from followup.web.staff_words import upper_first
from followup.web.voice import Voice
from followup.web.wearer_facts import FactRow, fact_rows

HERE = "phone_log"
SOMEBODY_ELSE = "else"
DANGER_GATE = "body"
TOLD, UNTOLD = "may be told everything", "may report but not be told"


async def call_of(request: Request) -> Progress:
    """The report of the call at this address."""
    parts = parts_of(request)
    progress = await run_in_threadpool(see_report, parts.practice, request.path_params["report_id"], parts.clock())
    if progress.channel != "phone":
        raise UnknownId("unknown_report", "There is no call of that number. Begin a new one.")
    return progress


async def wearer_of(request: Request, progress: Progress) -> WearerView | None:
    """Whom the call is about, None while nobody knows."""
    parts = parts_of(request)
    if progress.orthosis_id is None:
        return None
    return await run_in_threadpool(see_wearer, parts.practice, progress.orthosis_id, parts.clock())


def may_be_told(progress: Progress, view: WearerView | None) -> bool:
    """True only for a contact of the wearer who may; not for anybody else, nor while nobody knows who rings."""
    contacts = view.facts.contacts if view is not None else ()
    return any(each.may_be_told for each in contacts if each.id == progress.contact_id)


def is_named(progress: Progress) -> bool:
    """True once it was written down who is on the line."""
    return progress.contact_id is not None or bool(progress.text)


def asks_who(progress: Progress, practice: Practice) -> bool:
    """True where who is on the line is asked next: the wearer is known, and no sign of danger is still to be asked."""
    question = progress.question
    if progress.orthosis_id is None or is_named(progress) or question is None:
        return False
    finding = practice.rules.findings.get(question.id)
    return question.id != DANGER_GATE and (finding is None or finding.gate != DANGER_GATE)


def facts_of_call(progress: Progress, view: WearerView | None, voice: Voice) -> dict[str, Any]:
    """The facts margin, and whose call it is."""
    if view is None:
        rows: tuple[FactRow, ...] = (("In their words", progress.text or "Nothing yet.", False),)
        return {
            "heading": "A caller we do not know is on the line",
            "facts_heading": "The caller",
            "facts_rows": rows,
            "side": "right",
            "caller_address": "",
        }
    whose = f"{view.facts.wearer_name}’s" if not view.facts.wearer_name.endswith("s") else f"{view.facts.wearer_name}’"
    return {
        "heading": f"A call about {whose} {view.facts.side} orthosis",
        "facts_heading": view.facts.wearer_name,
        "facts_rows": (*_on_the_line(progress, view), *fact_rows(view.facts, voice)),
        "side": view.facts.side,
        "caller_address": f"/phone-log/{progress.report_id}/caller",
        "caller_link": "Somebody else is on the line" if is_named(progress) else "Write down who is on the line",
    }


def _on_the_line(progress: Progress, view: WearerView) -> Iterator[FactRow]:
    contacts = {each.id: each for each in view.facts.contacts}
    if progress.contact_id in contacts:
        contact = contacts[progress.contact_id]
        yield "On the line", f"{contact.name}; {TOLD if contact.may_be_told else UNTOLD}.", not contact.may_be_told
    elif progress.text:
        yield "On the line", f"{progress.text}; {UNTOLD}.", True
    else:
        yield "On the line", "Not asked yet. Tell nothing about the wearer.", True


@staff_page
async def caller(request: Request, staff: Session) -> Response:
    """Who is on the line."""
    return await _page(request, staff, Form())


@staff_form()
async def write_caller(request: Request, staff: Session, form: Form) -> Response:
    """Keep who is on the line, or end the call where it stands."""
    parts, report_id = parts_of(request), request.path_params["report_id"]
    if form.text("do") == "hung_up":
        await call_of(request)
        await run_in_threadpool(finish_report, parts.practice, report_id, parts.clock())
        return RedirectResponse(f"/phone-log/{report_id}?ended=early", 303)
    chosen = form.text("caller")
    known = chosen.isascii() and chosen.isdecimal()
    faults = [] if known else one_of(form, "caller", {SOMEBODY_ELSE}, "Choose who is on the line")
    if faults:
        return await _page(request, staff, form.with_faults(faults), 422)
    who = (form.text("caller_name"), form.text("caller_number"))
    words = ", ".join(filter(None, who)) if form.text("caller_name") else ""
    contact_id = int(chosen) if known else None
    try:
        await run_in_threadpool(name_caller, parts.practice, report_id, contact_id, words, staff, parts.clock())
    except InvalidInput as error:
        return await _page(request, staff, form.with_faults([Fault(error.path, error.message)]), 422)
    return RedirectResponse(f"/phone-log/{report_id}", 303)


async def _page(request: Request, staff: Session, form: Form, status: int = 200) -> Response:
    progress = await call_of(request)
    view = await wearer_of(request, progress)
    if view is None:
        raise UnknownId("unknown_report", "There is no call of that number about a wearer we know.")
    facts = facts_of_call(progress, view, parts_of(request).staff_voice())
    return show(
        request,
        staff,
        "staff/phone_caller.html",
        HERE,
        status,
        form=form,
        callers=tuple(_callers(view)),
        report_id=progress.report_id,
        open=progress.state == "open",
        **facts,
    )


def _callers(view: WearerView) -> Iterator[Choice]:
    for each in view.facts.contacts:
        who = "the wearer" if each.relation == "self" else each.relation.replace("_", " ")
        yield Choice(str(each.id), f"{each.name}, {who}", upper_first(TOLD if each.may_be_told else UNTOLD))
    yield Choice(SOMEBODY_ELSE, "Somebody else", upper_first(UNTOLD))


routes = [
    Route("/phone-log/{report_id:int}/caller", caller),
    Route("/phone-log/{report_id:int}/caller", write_caller, methods=["POST"]),
]
