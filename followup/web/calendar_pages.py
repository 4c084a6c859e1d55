"""The calendar of a wearer's plan behind a family's link, to download once or to subscribe to.

Reading it changes nothing. It is asked for by calendar programs, which read no pages: what is not there has no words.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from email.utils import format_datetime, parsedate_to_datetime

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from followup.errors import InvalidInput
from followup.services.links import page_address
from followup.services.practice import Practice
from followup.services.see_calendar import SeenCalendar, see_calendar
from followup.web.headers import CALENDAR
from followup.web.site_parts import parts_of
from followup.words.calendar_file import CalendarFacts, write_calendar


async def calendar(request: Request) -> Response:
    """The calendar; 304 where the caller's copy is the newest, 410 once the link has ended, so that asking stops."""
    parts = parts_of(request)
    try:
        seen = await run_in_threadpool(see_calendar, parts.practice, request.path_params["token"], parts.clock())
    except InvalidInput as error:
        return Response(status_code=404 if error.code == "link_unknown" else 410)
    if seen is None:
        return Response(status_code=404)
    made = await run_in_threadpool(_write, parts.practice, seen)
    headers = {
        "ETag": f'"{hashlib.sha256(made).hexdigest()[:32]}"',
        "Last-Modified": format_datetime(seen.changed_at.astimezone(UTC).replace(microsecond=0), usegmt=True),
    }
    if _is_known(request, headers["ETag"], seen.changed_at):
        return Response(status_code=304, headers=headers)
    headers["Content-Disposition"] = 'attachment; filename="times.ics"'
    return Response(made, media_type="text/calendar", headers=headers)


def _write(practice: Practice, seen: SeenCalendar) -> bytes:
    page = page_address(practice, seen.link.token)
    facts = CalendarFacts(
        seen.link.language,
        practice.facts.phone,
        seen.mark_limit_minutes,
        seen.protective,
        seen.cannot_stand,
        seen.side,
        page,
        page + CALENDAR,
    )
    return write_calendar(seen.entries, facts)


def _is_known(request: Request, tag: str, changed_at: datetime) -> bool:
    """True where the caller has this very copy; its tag decides alone where it sends one (RFC 9110, 13.2.2)."""
    tags = request.headers.get("if-none-match")
    if tags is not None:
        return tags.strip() == "*" or tag in (each.strip().removeprefix("W/") for each in tags.split(","))
    since = request.headers.get("if-modified-since")
    try:
        return since is not None and changed_at.replace(microsecond=0) <= parsedate_to_datetime(since)
    except (TypeError, ValueError):
        return False


routes = [Route("/c/{token}" + CALENDAR, calendar)]
