"""Who may see and send staff pages: a session, a token in every form, and an origin that is ours."""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from followup.services.sign_in import Session, see_session
from followup.web.forms import Form, read_form
from followup.web.site_parts import parts_of

COOKIE = "followup_session"
Endpoint = Callable[[Request], Awaitable[Response]]
StaffPage = Callable[[Request, Session], Awaitable[Response]]
StaffForm = Callable[[Request, Session, Form], Awaitable[Response]]


async def session_of(request: Request) -> Session | None:
    """The session of a request's cookie, None for none or an ended one."""
    token = request.cookies.get(COOKIE)
    parts = parts_of(request)
    return await run_in_threadpool(see_session, parts.practice, token, parts.clock()) if token else None


def staff_page(page: StaffPage) -> Endpoint:
    """A page that is shown to signed-in staff; anybody else is asked to sign in and comes back."""

    async def guarded(request: Request) -> Response:
        session = await session_of(request)
        if session is None:
            return to_sign_in(request.url.path)
        return await page(request, session)

    return guarded


def staff_form(most_fields: int = 20) -> Callable[[StaffForm], Endpoint]:
    """A form that only signed-in staff may send, from one of our own pages."""

    def dressed(send: StaffForm) -> Endpoint:
        async def guarded(request: Request) -> Response:
            session = await session_of(request)
            if session is None:
                return to_sign_in("/callbacks")
            form = await read_form(request, most_fields)
            if not from_our_page(request) or not hmac.compare_digest(
                form.text("csrf").encode("utf-8", "replace"), session.csrf.encode()
            ):
                return refused(request, session)
            return await send(request, session, form)

        return guarded

    return dressed


def from_our_page(request: Request) -> bool:
    """False where a browser says that a form comes from another site."""
    origin = request.headers.get("origin")
    if origin is not None and origin != "null":
        return origin in {parts_of(request).origin, str(request.base_url).rstrip("/")}
    return request.headers.get("sec-fetch-site", "same-origin") in {"same-origin", "none"}


def to_sign_in(back: str) -> Response:
    """Where somebody without a session is sent."""
    return RedirectResponse(f"/sign-in?back={quote(back)}", 303)


def refused(request: Request, session: Session | None) -> Response:
    """The answer to a form that did not come from one of our pages."""
    return tell(
        request,
        session,
        403,
        "This form did not come from a page of yours",
        "Nothing was changed. Open the page again and send it once more; if you were signed out, sign in first.",
    )


def tell(request: Request, session: Session | None, status: int, heading: str, words: str) -> Response:
    """A staff page that says what went wrong."""
    return show(request, session, "staff/sorry.html", "", status, heading=heading, words=words)


def show(
    request: Request, session: Session | None, template: str, here: str, status: int = 200, **facts: object
) -> Response:
    """A staff page; `here` marks the place in the running head."""
    parts = parts_of(request)
    voice = parts.staff_voice()
    common = {"practice": parts.practice.facts, "staff": session, "voice": voice, "say": voice.say, "here": here}
    return parts.pages.show(template, status, **common, **facts)
