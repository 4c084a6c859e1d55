"""The caregiver's page behind an opaque link: today's times, a report in a few taps, and what happens next.

Looking changes nothing; every change is a POST that ends in a redirect. The token in the address is the only key.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.errors import InvalidInput, UnknownId
from followup.services.links import CaregiverLink, open_link, page_address
from followup.services.see_today import Today, see_today
from followup.services.take_report import Progress, ReportSource, begin_report, finish_report, see_report
from followup.web.answer_view import answered, view_answer
from followup.web.forms import Fault, read_form
from followup.web.headers import CALENDAR
from followup.web.report_steps import answer_step, ask_next, side_of
from followup.web.site_parts import SiteParts, parts_of
from followup.web.today_view import view_today
from followup.web.voice import Voice

USEFUL = 9
"""More questions than this, were every answer "not sure", would only frighten; then the number is not told."""
FamilyPage = Callable[[Request, CaregiverLink, Voice], Awaitable[Response]]


def behind_link(page: FamilyPage) -> Callable[[Request], Awaitable[Response]]:
    """A page that a token opens; an unknown or ended one is told so and changes nothing."""

    async def guarded(request: Request) -> Response:
        parts = parts_of(request)
        try:
            link = await run_in_threadpool(open_link, parts.practice, request.path_params["token"], parts.clock())
        except InvalidInput as error:
            status = 404 if error.code == "link_unknown" else 410
            return parts.sorry(error.code, parts.stranger_voice(request), status)
        return await page(request, link, parts.voice(link.language, link.zone))

    return guarded


@behind_link
async def today_page(request: Request, link: CaregiverLink, voice: Voice) -> Response:
    """Today's times."""
    return await _today(request, link, voice)


@behind_link
async def look(request: Request, link: CaregiverLink, voice: Voice) -> Response:
    """Begin a report with what was seen."""
    parts = parts_of(request)
    said = (await read_form(request)).text("look")
    if said not in parts.looks:
        return await _today(request, link, voice, [Fault("look", voice.say("look.missing"))])
    source = ReportSource("link", link.orthosis_id, link.contact_id)
    progress = await run_in_threadpool(begin_report, parts.practice, source, parts.looks[said], parts.clock())
    if progress.question is None:
        await run_in_threadpool(finish_report, parts.practice, progress.report_id, parts.clock())
    return RedirectResponse(_address(link, progress.report_id), 303)


@behind_link
async def report_page(request: Request, link: CaregiverLink, voice: Voice) -> Response:
    """The next question, or what happens next once there is none."""
    progress = await _own_report(request, link)
    if progress is None:
        return parts_of(request).sorry("link_unknown", voice, 404)
    which = request.query_params.get("which", "")
    return await _report(request, link, voice, progress, which)


@behind_link
async def answer(request: Request, link: CaregiverLink, voice: Voice) -> Response:
    """Keep one answer; a missing or impossible one is asked again."""
    parts = parts_of(request)
    progress = await _own_report(request, link)
    if progress is None:
        return parts.sorry("link_unknown", voice, 404)
    form = await read_form(request, most_fields=30)
    try:
        await run_in_threadpool(answer_step, parts.practice, progress, form, voice, parts.clock())
    except InvalidInput as error:
        faults = [Fault("answer", error.message)]
        return await _report(request, link, voice, progress, form.text("which"), faults, form.text("minutes"))
    except UnknownId as error:
        if error.code != "report_finished":
            faults = [Fault("answer", voice.say("question.missing"))]
            return await _report(request, link, voice, progress, "", faults)
    return RedirectResponse(_address(link, progress.report_id), 303)


@behind_link
async def end(request: Request, link: CaregiverLink, voice: Voice) -> Response:
    """Stop answering: the report is judged as it stands, and what is open stays unknown."""
    parts = parts_of(request)
    progress = await _own_report(request, link)
    if progress is None:
        return parts.sorry("link_unknown", voice, 404)
    await run_in_threadpool(finish_report, parts.practice, progress.report_id, parts.clock())
    return RedirectResponse(_address(link, progress.report_id), 303)


async def _own_report(request: Request, link: CaregiverLink) -> Progress | None:
    """The report of the address, if it came through this link's contact and orthosis."""
    parts = parts_of(request)
    try:
        progress = await run_in_threadpool(see_report, parts.practice, request.path_params["report_id"], parts.clock())
    except UnknownId:
        return None
    own = (progress.contact_id, progress.orthosis_id) == (link.contact_id, link.orthosis_id)
    return progress if own and progress.channel == "link" else None


async def _today(request: Request, link: CaregiverLink, voice: Voice, faults: Sequence[Fault] = ()) -> Response:
    parts = parts_of(request)
    today: Today = await run_in_threadpool(see_today, parts.practice, link, voice.now)
    shown = view_today(today, parts.practice.facts.emergency_number, voice)
    facts = {**_common(parts, link, voice), "shown": shown, "faults": faults, "follow": _follow(parts, link)}
    return parts.pages.show("home/today.html", 422 if faults else 200, **facts, address=f"/c/{link.token}")


async def _report(
    request: Request,
    link: CaregiverLink,
    voice: Voice,
    progress: Progress,
    which: str,
    faults: Sequence[Fault] = (),
    given: str = "",
) -> Response:
    parts = parts_of(request)
    common = _common(parts, link, voice) | {"address": _address(link, progress.report_id)}
    asked = ask_next(progress, parts.practice, voice, which)
    if asked is None:
        today = await run_in_threadpool(see_today, parts.practice, link, voice.now)
        day = today.today.day if today.today else None
        found = answered(progress, day, voice.now, knows_times=link.may_be_told)
        shown = view_answer(found, parts.practice.facts.emergency_number, voice)
        return parts.pages.show("home/answer.html", 200, **common, shown=shown, numbers=parts.numbers(voice))
    side = await run_in_threadpool(side_of, parts.practice, link.orthosis_id) if asked.kind == "place" else ""
    common |= {"asked": asked, "position": _position(progress, voice), "given": given, "which": which, "side": side}
    return parts.pages.show("home/question.html", 422 if faults else 200, **common, faults=faults)


def _common(parts: SiteParts, link: CaregiverLink, voice: Voice) -> dict[str, object]:
    return {"say": voice.say, "practice": parts.practice.facts, "today": f"/c/{link.token}"}


def _follow(parts: SiteParts, link: CaregiverLink) -> str:
    """The address by which a calendar program subscribes: it asks over http or https for what stands behind it."""
    return "webcal://" + page_address(parts.practice, link.token).partition("://")[2] + CALENDAR


def _address(link: CaregiverLink, report_id: int) -> str:
    return f"/c/{link.token}/r/{report_id}"


def _position(progress: Progress, voice: Voice) -> str:
    """First question of at most three; the most is left out while it is too many to be of use."""
    position, most = progress.asked + 1, max(progress.at_most, progress.asked + 1)
    if position > voice.say.count("time.ordinals"):
        return voice.say("question.position_number", position=position)
    ordinal = voice.ordinal(position)
    key = "question.position" if most <= USEFUL else "question.position_alone"
    words = voice.say(key, ordinal=ordinal, number=voice.number(most))
    return words[:1].upper() + words[1:]


routes = [
    Route("/c/{token}", today_page),
    Route("/c/{token}/look", look, methods=["POST"]),
    Route("/c/{token}/r/{report_id:int}", report_page),
    Route("/c/{token}/r/{report_id:int}", answer, methods=["POST"]),
    Route("/c/{token}/r/{report_id:int}/end", end, methods=["POST"]),
]
