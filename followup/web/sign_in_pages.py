"""Signing in and out."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.errors import InvalidInput
from followup.services.sign_in import Session, sign_in, sign_out
from followup.web.forms import Fault, Form, needed, read_form
from followup.web.site_parts import parts_of
from followup.web.staff_door import COOKIE, from_our_page, refused, show, staff_form

HOME = "/callbacks"


async def ask(request: Request) -> Response:
    """The sign-in page."""
    return _page(request, Form(), request.query_params.get("back", HOME))


async def enter(request: Request) -> Response:
    """Begin a session, or say what does not fit."""
    form = await read_form(request)
    if not from_our_page(request):
        return refused(request, None)
    back = _own_path(form.text("back"))
    faults = needed(form, "user", "Write your name for signing in") + needed(form, "password", "Write your password")
    if faults:
        return _page(request, form.with_faults(faults), back, 422)
    parts = parts_of(request)
    password = form.all("password")[-1]
    try:
        token = await run_in_threadpool(sign_in, parts.practice, form.text("user"), password, parts.clock())
    except InvalidInput as error:
        return _page(request, form.with_faults([Fault("password", error.message)]), back, 422)
    answer = RedirectResponse(back, 303)
    answer.set_cookie(COOKIE, token, httponly=True, samesite="lax", secure=parts.secure)
    return answer


@staff_form()
async def leave(request: Request, session: Session, form: Form) -> Response:
    """End the session."""
    await run_in_threadpool(sign_out, parts_of(request).practice, request.cookies[COOKIE])
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(COOKIE)
    return answer


async def home(request: Request) -> Response:
    """The address of the site itself leads to the queue."""
    return RedirectResponse(HOME, 303)


def _page(request: Request, form: Form, back: str, status: int = 200) -> Response:
    return show(request, None, "staff/sign_in.html", "", status, form=form, back=_own_path(back))


def _own_path(back: str) -> str:
    """A path of this site; anything else leads to the queue."""
    safe = back.startswith("/") and not back.startswith(("//", "/\\")) and "\\" not in back
    return back if safe and not back.startswith("/c/") else HOME


routes = [
    Route("/", home),
    Route("/sign-in", ask),
    Route("/sign-in", enter, methods=["POST"]),
    Route("/sign-out", leave, methods=["POST"]),
]
