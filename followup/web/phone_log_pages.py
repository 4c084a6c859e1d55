"""The phone log: find whom it is about, then questions one by one to be read aloud, with the outcome always in view."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.errors import InvalidInput
from followup.services.see_wearers import list_wearers
from followup.services.sign_in import Session
from followup.services.take_report import (
    Progress,
    ReportSource,
    answer_report,
    begin_report,
    finish_report,
)
from followup.web.answer_view import answered
from followup.web.forms import Choice, Fault, Form, needed
from followup.web.phone_caller_pages import asks_who, call_of, facts_of_call, may_be_told, wearer_of
from followup.web.phone_caller_pages import routes as caller_routes
from followup.web.phone_log_view import (
    URGENT_SIGNS,
    changed_member,
    known_so_far,
    to_change,
    view_end,
    view_question,
)
from followup.web.questions import AskedQuestion
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page

HERE = "phone_log"
MISSING = "Choose one of the answers, or “Not sure”"


@staff_page
async def start(request: Request, staff: Session) -> Response:
    """Find the wearer, or begin with a caller nobody knows."""
    return await _start(request, staff, Form())


@staff_form()
async def search(request: Request, staff: Session, form: Form) -> Response:
    """Whom it may be about; sent as a form, so that no name stands in an address."""
    return await _start(request, staff, form)


@staff_form()
async def begin(request: Request, staff: Session, form: Form) -> Response:
    """Begin a report about one orthosis, or about nobody known yet."""
    parts, chosen = parts_of(request), form.text("orthosis")
    known = chosen.isdecimal()
    if not known and chosen != "unknown":
        return await _start(request, staff, form.with_faults([Fault("name", "Choose whom the call is about")]), 422)
    faults = [] if known else needed(form, "text", "Write who is calling and a number to ring back")
    if faults:
        return await _start(request, staff, form.with_faults(faults), 422)
    source = ReportSource("phone", int(chosen) if known else None, None, staff.staff_id, form.text("text"))
    progress = await run_in_threadpool(begin_report, parts.practice, source, {}, parts.clock())
    return RedirectResponse(f"/phone-log/{progress.report_id}", 303)


@staff_page
async def report(request: Request, staff: Session) -> Response:
    """The next question, one to be changed, or what to say once there is none."""
    progress = await call_of(request)
    return await _report(request, staff, progress, change=request.query_params.get("change", ""))


@staff_form()
async def answer(request: Request, staff: Session, form: Form) -> Response:
    """Keep one answer, or end the call where it stands."""
    parts, progress = parts_of(request), await call_of(request)
    address = f"/phone-log/{progress.report_id}"
    if form.text("do") == "hung_up":
        await run_in_threadpool(finish_report, parts.practice, progress.report_id, parts.clock())
        return RedirectResponse(f"{address}?ended=early", 303)
    given = form.text("number") or form.text("answer")
    if not given:
        return await _report(request, staff, progress, form.text("change"), [Fault("answer", MISSING)])
    question, said = form.text("question"), given
    if form.text("change") in parts.practice.rules.gates:
        member = changed_member(parts.practice, given)
        if member is None:
            return RedirectResponse(f"{address}?change={quote(given)}", 303)
        question, said = member
    try:
        now = parts.clock()
        after = await run_in_threadpool(answer_report, parts.practice, progress.report_id, question, said, now)
    except InvalidInput as error:
        return await _report(
            request, staff, progress, form.text("change"), [Fault("answer", error.message)], form.text("number")
        )
    if after.question is None:
        await run_in_threadpool(finish_report, parts.practice, progress.report_id, parts.clock())
    return RedirectResponse(address, 303)


@staff_page
async def urgent(request: Request, staff: Session) -> Response:
    """Which danger sign is so; nothing is written down yet."""
    return _urgent(request, staff, Form())


@staff_form()
async def write_urgent(request: Request, staff: Session, form: Form) -> Response:
    """Write danger signs down at once, in a report of their own or in the open one."""
    parts, report_id = parts_of(request), request.path_params.get("report_id")
    signs = [sign for sign in form.all("sign") if sign in URGENT_SIGNS]
    faults = [] if signs else [Fault("sign", "Choose at least one of these signs")]
    if report_id is None:
        faults += needed(form, "text", "Write who is calling and a number to ring back")
    if faults:
        return _urgent(request, staff, form.with_faults(faults), 422)
    if report_id is None:
        source = ReportSource("phone", None, None, staff.staff_id, form.text("text"))
        stated = dict.fromkeys(signs, True)
        begun = await run_in_threadpool(begin_report, parts.practice, source, stated, parts.clock())
        report_id = begun.report_id
    else:
        for sign in signs:
            await run_in_threadpool(answer_report, parts.practice, report_id, sign, "yes", parts.clock())
    return RedirectResponse(f"/phone-log/{report_id}", 303)


async def _start(request: Request, staff: Session, form: Form, status: int = 200) -> Response:
    parts = parts_of(request)
    words = form.text("name")
    found = await run_in_threadpool(list_wearers, parts.practice, words) if words.strip() else ()
    choices = tuple(Choice(str(each.orthosis_id), each.wearer_name, f"{each.side}, {each.reference}") for each in found)
    heading = "Choose whom it is about" if found else f"Nobody is found for “{words}”"
    shown = Form({**form.sent, "name": (words,)}, form.faults)
    return show(
        request,
        staff,
        "staff/phone_start.html",
        HERE,
        status,
        form=shown,
        searched=bool(words.strip()),
        found=choices,
        found_heading=heading,
    )


def _urgent(request: Request, staff: Session, form: Form, status: int = 200) -> Response:
    report_id = request.path_params.get("report_id")
    findings = parts_of(request).practice.rules.findings
    signs = tuple(Choice(sign, findings[sign].words["en"].staff.rstrip("?")) for sign in URGENT_SIGNS)
    back = f"/phone-log/{report_id}" if report_id else "/phone-log"
    facts: dict[str, Any] = {
        "signs": signs,
        "unknown": report_id is None,
        "back": back,
        "address": request.url.path,
        "form": form,
    }
    return show(request, staff, "staff/phone_urgent.html", HERE, status, **facts)


async def _report(
    request: Request,
    staff: Session,
    progress: Progress,
    change: str = "",
    faults: list[Fault] | None = None,
    given: str = "",
) -> Response:
    parts = parts_of(request)
    voice = parts.staff_voice()
    asked = _asked(request, progress, change)
    if asks_who(progress, parts.practice) and not change and not faults:
        return RedirectResponse(f"/phone-log/{progress.report_id}/caller", 303)
    wearer = await wearer_of(request, progress)
    facts = facts_of_call(progress, wearer, voice)
    known = known_so_far(progress, parts.practice, voice)
    if asked is None:
        day = wearer.days[-1].day if wearer and wearer.days else None
        found = answered(progress, day, voice.now, knows_times=may_be_told(progress, wearer))
        hung_up = request.query_params.get("ended") == "early"
        shown = view_end(found, parts.practice, voice, hung_up=hung_up)
        return show(request, staff, "staff/phone_end.html", HERE, shown=shown, known=known, **facts)
    shown_question = view_question(progress, asked, parts.practice, voice)
    return show(
        request,
        staff,
        "staff/phone_question.html",
        HERE,
        422 if faults else 200,
        asked=asked,
        shown=shown_question,
        known=known,
        change=change,
        faults=faults or [],
        given=given,
        report_id=progress.report_id,
        **facts,
    )


def _asked(request: Request, progress: Progress, change: str) -> AskedQuestion | None:
    parts = parts_of(request)
    return to_change(progress, parts.practice, parts.staff_voice(), change)


routes = [
    Route("/phone-log", start),
    Route("/phone-log", begin, methods=["POST"]),
    Route("/phone-log/search", search, methods=["POST"]),
    Route("/phone-log/urgent", urgent),
    Route("/phone-log/urgent", write_urgent, methods=["POST"]),
    Route("/phone-log/{report_id:int}", report),
    Route("/phone-log/{report_id:int}", answer, methods=["POST"]),
    Route("/phone-log/{report_id:int}/urgent", urgent),
    Route("/phone-log/{report_id:int}/urgent", write_urgent, methods=["POST"]),
    *caller_routes,
]
