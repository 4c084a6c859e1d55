"""The pages that change a plan: one small form each, with the next days shown before a clinician decides."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.core.wear_day import WearDay
from followup.errors import Conflict, InvalidInput, UnknownId
from followup.services.change_plan import record_change
from followup.services.see_change import PlanStanding, preview_change, preview_start_step, see_standing
from followup.services.sign_in import Role, Session
from followup.services.start_step import give_start_step
from followup.web.change_forms import CHANGE_FORMS, ChangeForm, hours_now
from followup.web.forms import Choice, Fault, Form
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page
from followup.web.voice import Voice

HERE = "wearers"
BY_NAME = {each.name: each for each in CHANGE_FORMS}


def offered_forms(standing: PlanStanding, role: Role) -> tuple[ChangeForm, ...]:
    """The forms that fit how the plan stands, for who is signed in."""
    return tuple(
        each for each in CHANGE_FORMS if each.offered(standing) and (not each.clinician or role is Role.CLINICIAN)
    )


@staff_page
async def blank(request: Request, staff: Session) -> Response:
    """One form, with what holds now."""
    standing, change = await _standing(request), _form_called(request)
    sent = {"from_on": (standing.today.isoformat(),), "zone": (str(standing.goal.zone),)}
    return _page(request, staff, standing, change, Form(sent | (hours_now(standing) if change.name == "hours" else {})))


@staff_form()
async def write_down(request: Request, staff: Session, form: Form) -> Response:
    """Show what the next days would become, or record the change."""
    standing, change = await _standing(request), _form_called(request)
    only_shown = form.text("do") == "preview" and change.previews
    try:
        days = await run_in_threadpool(partial(_do, request, staff, standing, change, form, only_shown))
    except InvalidInput as error:
        return _page(request, staff, standing, change, form.with_faults([Fault(error.path, error.message)]), (), 422)
    except Conflict as error:
        return _page(request, staff, standing, change, form.with_faults([Fault("", error.message)]), (), 409)
    if only_shown:
        return _page(request, staff, standing, change, form, days)
    return RedirectResponse(f"/wearers/{standing.orthosis_id}", 303)


def _do(
    request: Request, staff: Session, standing: PlanStanding, change: ChangeForm, form: Form, only_shown: bool
) -> tuple[WearDay, ...]:
    practice, now = parts_of(request).practice, parts_of(request).clock()
    orthosis_id, knowingly = standing.orthosis_id, form.text("knowingly") == "yes"
    if change.read is None:
        step = form.text("step")
        if not (step.isascii() and step.isdecimal()) or not 1 <= int(step) <= len(standing.step_minutes):
            raise InvalidInput("bad_step", "Choose the step to start with", "step")
        if only_shown:
            return preview_start_step(practice, orthosis_id, int(step), now)
        give_start_step(practice, orthosis_id, int(step), form.text("why"), staff, now, knowingly=knowingly)
        return ()
    told = change.read(form, standing, practice.protocols)
    if only_shown:
        return preview_change(practice, orthosis_id, told, staff.role, now, knowingly=knowingly)
    record_change(practice, orthosis_id, told, staff, now, knowingly=knowingly)
    return ()


async def _standing(request: Request) -> PlanStanding:
    parts = parts_of(request)
    return await run_in_threadpool(see_standing, parts.practice, request.path_params["orthosis_id"], parts.clock())


def _form_called(request: Request) -> ChangeForm:
    found = BY_NAME.get(request.path_params["what"])
    if found is None:
        raise UnknownId("unknown_change", "There is no such form; choose one on the wearer’s page.")
    return found


def _page(
    request: Request,
    staff: Session,
    standing: PlanStanding,
    change: ChangeForm,
    form: Form,
    days: Sequence[WearDay] = (),
    status: int = 200,
) -> Response:
    parts = parts_of(request)
    voice = parts.staff_voice()
    steps = tuple(
        Choice(str(step), f"Step {step}: {voice.short(minutes)}")
        for step, minutes in enumerate(standing.step_minutes, 1)
    )
    return show(
        request,
        staff,
        "staff/change.html",
        HERE,
        status,
        form=form,
        errors_heading="Nothing is written down yet: one thing to mend",
        heading=f"{change.heading}: {standing.wearer_name}, {standing.side} orthosis",
        change=change,
        fields=change.fields(standing, parts.practice.protocols),
        steps=steps,
        preview=_days_in_words(days, voice),
        asked=form.text("do") == "preview" and not form.faults,
        address=f"/wearers/{standing.orthosis_id}/change/{change.name}",
        back=f"/wearers/{standing.orthosis_id}",
    )


def _days_in_words(days: Sequence[WearDay], voice: Voice) -> tuple[str, ...]:
    return tuple(f"{voice.date(day.on)}: {_in_words(day, voice)}" for day in days)


def _in_words(day: WearDay, voice: Voice) -> str:
    return f"{voice.short(day.target_minutes)}, step {day.step}" if day.periods else "no times"


routes = [
    Route("/wearers/{orthosis_id:int}/change/{what}", blank),
    Route("/wearers/{orthosis_id:int}/change/{what}", write_down, methods=["POST"]),
]
