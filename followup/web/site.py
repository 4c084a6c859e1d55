"""The site: every page, the headers they carry, and what is said when something goes wrong."""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from followup.app import App
from followup.clinical.load_rules import load_looks
from followup.errors import Conflict, FollowupError, UnknownId
from followup.web import (
    calendar_pages,
    callback_pages,
    caregiver_pages,
    change_pages,
    chart_pages,
    delivery_pages,
    desk_pages,
    phone_log_pages,
    sign_in_pages,
    wearer_pages,
)
from followup.web.headers import SafeHeaders, headers_for
from followup.web.page_words import load_page_words
from followup.web.pages import Pages
from followup.web.site_parts import SiteParts, parts_of
from followup.web.staff_door import session_of, tell
from followup.words.render import template_root

PAGE_MODULES = (
    sign_in_pages,
    caregiver_pages,
    calendar_pages,
    callback_pages,
    desk_pages,
    phone_log_pages,
    delivery_pages,
    wearer_pages,
    change_pages,
    chart_pages,
)
SORRY = {
    400: ("That could not be read", "Nothing was changed. Open the page again and send it once more."),
    404: ("There is no such page", "It may have been written down wrongly. Nothing was changed."),
    405: ("That is not how this page works", "Nothing was changed. Open the page again."),
}


def make_site(app: App) -> Starlette:
    """The ASGI application of an app."""
    folder = template_root()
    address = urlsplit(app.settings.public_address)
    parts = SiteParts(
        app.practice,
        app.clock,
        Pages(folder / "pages"),
        load_page_words(folder / "pages" / "words"),
        load_looks(),
        f"{address.scheme}://{address.netloc}",
    )
    static = Mount("/static", StaticFiles(directory=folder / "static"))
    site = Starlette(
        routes=[*(route for module in PAGE_MODULES for route in module.routes), static],
        middleware=[Middleware(SafeHeaders, secure=parts.secure)],
        exception_handlers={FollowupError: not_possible, HTTPException: not_answered, Exception: broken},
    )
    site.state.parts = parts
    return site


async def not_possible(request: Request, error: Exception) -> Response:
    """What cannot be done is told in the error's own words."""
    assert isinstance(error, FollowupError)
    status = 404 if isinstance(error, UnknownId) else 409 if isinstance(error, Conflict) else 422
    if _is_family(request):
        return _sorry(request, status)
    return tell(request, await session_of(request), status, "That could not be done", error.message)


async def not_answered(request: Request, error: Exception) -> Response:
    """No such page, no such method, or a form that could not be read."""
    assert isinstance(error, HTTPException)
    if _is_family(request):
        return _sorry(request, error.status_code)
    heading, words = SORRY.get(error.status_code, SORRY[400])
    return tell(request, await session_of(request), error.status_code, heading, words)


async def broken(request: Request, error: Exception) -> Response:
    """A fault of the program: whom to ring, and nothing of what went wrong."""
    words = "Nothing was changed. Tell whoever looks after this program."
    answer = (
        _sorry(request, 500) if _is_family(request) else tell(request, None, 500, "Something is broken here", words)
    )
    answer.headers.update(headers_for(request.url.path, parts_of(request).secure))
    return answer


def _is_family(request: Request) -> bool:
    return request.url.path.startswith("/c/")


def _sorry(request: Request, status: int) -> Response:
    parts = parts_of(request)
    return parts.sorry("fault", parts.stranger_voice(request), status)
