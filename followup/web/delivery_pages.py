"""Writing a delivery down, and the checks before its plan starts."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.core.delivery import DeliveryFaults, parse_delivery
from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.errors import InvalidInput
from followup.services.check_delivery import (
    CheckLine,
    ChecksView,
    name_checker,
    record_checks,
    release_check,
    see_checks,
    send_test_message,
)
from followup.services.deliver import take_delivery
from followup.services.sign_in import Role, Session
from followup.web.check_view import (
    blocked_words,
    orthosis_rows,
    recorded_lines,
    say_test,
    send_button,
    to_record,
    to_release,
)
from followup.web.delivery_fields import delivery_groups, faults_in_words, row_of
from followup.web.forms import Choice, Fault, Form
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page

HERE = "deliveries"
MOST_FIELDS = 90
CHOICES = (Choice("confirmed", "So"), Choice("exception", "Not so"))


@staff_page
async def blank(request: Request, staff: Session) -> Response:
    """The form with what is most often so: the practice's own time zone, and today."""
    voice = parts_of(request).staff_voice()
    zone, today = (str(voice.zone),), (voice.local(voice.now).date().isoformat(),)
    return _form_page(request, staff, Form({"zone": zone, "contact1_zone": zone, "delivered_on": today}))


@staff_form(most_fields=MOST_FIELDS)
async def write_down(request: Request, staff: Session, form: Form) -> Response:
    """Record a delivery; every column that cannot be used is told, and then nothing is recorded."""
    parts = parts_of(request)
    try:
        delivery = parse_delivery(row_of(form), frozenset(parts.practice.protocols))
        orthosis_id, _ = await run_in_threadpool(
            take_delivery, parts.practice, delivery, f"staff:{staff.staff_id}", parts.clock()
        )
    except DeliveryFaults as error:
        groups = delivery_groups(parts.practice.protocols)
        return _form_page(request, staff, form.with_faults(faults_in_words(error.faults, form, groups)), 422)
    return RedirectResponse(f"/deliveries/{orthosis_id}/checks", 303)


def _form_page(request: Request, staff: Session, form: Form, status: int = 200) -> Response:
    groups = delivery_groups(parts_of(request).practice.protocols)
    return show(
        request,
        staff,
        "staff/delivery_new.html",
        HERE,
        status,
        form=form,
        groups=groups,
        errors_heading=_heading_of(form, "Nothing is written down yet"),
    )


@staff_page
async def checks(request: Request, staff: Session) -> Response:
    """Where the checks stand."""
    return await _checks_page(request, staff, Form())


@staff_form(most_fields=30)
async def write_checks(request: Request, staff: Session, form: Form) -> Response:
    """Record the checks that were answered; what was left open stays open."""
    parts, orthosis_id = parts_of(request), request.path_params["orthosis_id"]
    answers, faults = _answers(form)
    if faults:
        return await _checks_page(request, staff, form.with_faults(faults), 422)
    try:
        await run_in_threadpool(record_checks, parts.practice, orthosis_id, answers, staff.staff_id, parts.clock())
    except InvalidInput as error:
        return await _checks_page(request, staff, form.with_faults([Fault(error.path, error.message)]), 422)
    return RedirectResponse(f"/deliveries/{orthosis_id}/checks", 303)


def _answers(form: Form) -> tuple[dict[DeliveryCheck, CheckAnswer], list[Fault]]:
    """The checks that were answered, and what is missing or impossible."""
    answers: dict[DeliveryCheck, CheckAnswer] = {}
    faults: list[Fault] = []
    for check in DeliveryCheck:
        said, reason = form.text(check), form.text(f"{check}_reason")
        if not said and not reason:
            continue
        if said not in set(Outcome):
            faults.append(Fault(check, "Choose “So” or “Not so”"))
        elif said == Outcome.EXCEPTION and not reason:
            faults.append(Fault(f"{check}_reason", "Write why it is not so"))
        else:
            answers[check] = CheckAnswer(check, Outcome(said), reason)
    if not answers and not faults:
        faults.append(Fault("", "Choose “So” or “Not so” for what was looked at"))
    return answers, faults


@staff_form()
async def release(request: Request, staff: Session, form: Form) -> Response:
    """A clinician lets the plan start in spite of an exception."""
    parts, orthosis_id = parts_of(request), request.path_params["orthosis_id"]
    said = form.text("check")
    if said not in set(DeliveryCheck):
        faults = [Fault("", "Choose which check is released")]
        return await _checks_page(request, staff, form.with_faults(faults), 422)
    note = form.text(f"note_{said}")
    try:
        await run_in_threadpool(
            release_check, parts.practice, orthosis_id, DeliveryCheck(said), staff, note, parts.clock()
        )
    except InvalidInput as error:
        faults = [Fault(f"note_{said}" if error.path == "note" else "", error.message)]
        return await _checks_page(request, staff, form.with_faults(faults), 422)
    return RedirectResponse(f"/deliveries/{orthosis_id}/checks", 303)


@staff_form()
async def say_checker(request: Request, staff: Session, form: Form) -> Response:
    """Write down who looks at the skin."""
    parts, orthosis_id = parts_of(request), request.path_params["orthosis_id"]
    try:
        await run_in_threadpool(
            name_checker, parts.practice, orthosis_id, form.text("checker"), staff.staff_id, parts.clock()
        )
    except InvalidInput as error:
        return await _checks_page(request, staff, form.with_faults([Fault(error.path, error.message)]), 422)
    return RedirectResponse(f"/deliveries/{orthosis_id}/checks", 303)


@staff_form()
async def send_test(request: Request, staff: Session, form: Form) -> Response:
    """Send the test message whose answer is the last of the checks."""
    parts, orthosis_id = parts_of(request), request.path_params["orthosis_id"]
    await run_in_threadpool(send_test_message, parts.practice, orthosis_id, parts.clock())
    return RedirectResponse(f"/deliveries/{orthosis_id}/checks", 303)


async def _checks_page(request: Request, staff: Session, form: Form, status: int = 200) -> Response:
    parts = parts_of(request)
    view: ChecksView = await run_in_threadpool(see_checks, parts.practice, request.path_params["orthosis_id"])
    lines: tuple[CheckLine, ...] = view.checks
    return show(
        request,
        staff,
        "staff/checks.html",
        HERE,
        status,
        form=form,
        errors_heading=_heading_of(form, "Nothing is written down yet"),
        heading=f"Delivery checks for {view.wearer_name}",
        lead=blocked_words(view),
        recorded=recorded_lines(lines),
        to_release=to_release(lines),
        to_record=() if view.started_at and not view.again else to_record(lines),
        may_release=staff.role is Role.CLINICIAN,
        choices=CHOICES,
        address=f"/deliveries/{view.orthosis_id}/checks",
        wearer_address=f"/wearers/{view.orthosis_id}",
        started=view.started_at is not None,
        lacks_checker=view.lacks_checker and view.started_at is None,
        test_words=say_test(view.sent_test, parts.staff_voice()),
        test_button=send_button(view),
        facts_rows=orthosis_rows(view.orthosis),
        notes=view.notes,
    )


def _heading_of(form: Form, words: str) -> str:
    count = len(form.faults)
    return f"{words}: one thing to mend" if count == 1 else f"{words}: {count} things to mend"


routes = [
    Route("/deliveries/new", blank),
    Route("/deliveries/new", write_down, methods=["POST"]),
    Route("/deliveries/{orthosis_id:int}/checks", checks),
    Route("/deliveries/{orthosis_id:int}/checks", write_checks, methods=["POST"]),
    Route("/deliveries/{orthosis_id:int}/checks/release", release, methods=["POST"]),
    Route("/deliveries/{orthosis_id:int}/checks/checker", say_checker, methods=["POST"]),
    Route("/deliveries/{orthosis_id:int}/checks/test", send_test, methods=["POST"]),
]
