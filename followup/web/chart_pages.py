"""Paper: the chart of a wearer's week, for staff and behind a family's link, and the round sheet of a day.

Printing shows and changes nothing. A home's address is sent as a form, so that it never stands in an address.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.core.sentences import LANGUAGES
from followup.errors import InvalidInput, UnknownId
from followup.services.links import CaregiverLink
from followup.services.print_chart import gather_chart, gather_chart_behind, gather_round, orthoses_with
from followup.services.sign_in import Session
from followup.web.caregiver_pages import behind_link
from followup.web.forms import Choice, Fault, Form
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page
from followup.web.voice import Voice
from followup.words.chart import print_chart
from followup.words.round_sheet import print_round_sheet
from followup.words.typeset import Paper

HERE = "wearers"
LANGUAGE_CHOICES = (Choice("en", "English", ""), Choice("es", "Spanish", ""))
PAPER_CHOICES = (Choice("a4", "A4", ""), Choice("letter", "Letter", ""))


@staff_page
async def chart(request: Request, staff: Session) -> Response:
    """The chart of a wearer's week; ``from``, ``language``, ``paper`` and ``initials=yes`` say otherwise."""
    parts, asked = parts_of(request), request.query_params
    from_on = _day(asked["from"], "from") if asked.get("from") else None
    orthosis_id, initials = request.path_params["orthosis_id"], asked.get("initials") == "yes"
    gathered = await run_in_threadpool(
        gather_chart, parts.practice, orthosis_id, parts.clock(), from_on, initials=initials
    )
    language = asked.get("language") or gathered.language
    made = await run_in_threadpool(print_chart, gathered.facts, language, _paper(asked.get("paper", "")))
    return _as_file(made, f"chart-{gathered.facts.from_on}.pdf")


@behind_link
async def family_chart(request: Request, link: CaregiverLink, voice: Voice) -> Response:
    """The chart of the week from today; whoever may not be told is led to the page that says what they can do."""
    parts = parts_of(request)
    gathered = await run_in_threadpool(gather_chart_behind, parts.practice, link, voice.now)
    if gathered is None:
        return RedirectResponse(f"/c/{link.token}", 303)
    paper = _paper(request.query_params.get("paper", ""))
    made = await run_in_threadpool(print_chart, gathered.facts, voice.say.language, paper)
    return _as_file(made, f"{gathered.facts.from_on}.pdf")


@staff_page
async def round_form(request: Request, staff: Session) -> Response:
    """Where a round is chosen: whom a home or a school looks after, and for which day."""
    voice = parts_of(request).staff_voice()
    return _round_page(request, staff, Form({"on": (voice.local(voice.now).date().isoformat(),)}))


@staff_form()
async def round_sheet(request: Request, staff: Session, form: Form) -> Response:
    """The round sheet as a file; a form that cannot be used comes back with what to mend."""
    parts = parts_of(request)
    try:
        on = _day(form.text("on"), "on")
        ids = _ids(form.text("orthoses"))
        if not ids:
            ids = await run_in_threadpool(orthoses_with, parts.practice, form.text("contact"))
        facts = await run_in_threadpool(gather_round, parts.practice, ids, on, parts.clock())
        paper, language = _paper(form.text("paper")), form.text("language") or LANGUAGES[0]
        made = await run_in_threadpool(print_round_sheet, facts, language, paper)
    except (InvalidInput, UnknownId) as error:
        field = error.path if error.path in {"on", "orthoses", "contact"} else "orthoses"
        return _round_page(request, staff, form, [Fault(field, error.message)])
    return _as_file(made, f"round-{on}.pdf")


def _round_page(request: Request, staff: Session, form: Form, faults: Sequence[Fault] = ()) -> Response:
    facts = {"form": form.with_faults(faults), "languages": LANGUAGE_CHOICES, "papers": PAPER_CHOICES}
    return show(request, staff, "staff/round.html", HERE, 422 if faults else 200, **facts)


def _day(text: str, field: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InvalidInput("bad_date", "Write the day as a date, such as 2026-03-02.", field) from None


def _ids(text: str) -> tuple[int, ...]:
    """The numbers in a list such as ``3, 5 8``."""
    words = text.replace(",", " ").split()
    if not all(word.isdecimal() and len(word) < 10 for word in words):
        raise InvalidInput("bad_orthosis", "Write the numbers of orthoses, such as 3, 5, 8.", "orthoses")
    return tuple(map(int, words))


def _paper(text: str) -> Paper:
    return Paper.LETTER if text == Paper.LETTER.value else Paper.A4


def _as_file(made: bytes, name: str) -> Response:
    return Response(made, 200, {"Content-Disposition": f'attachment; filename="{name}"'}, "application/pdf")


routes = [
    Route("/wearers/{orthosis_id:int}/chart.pdf", chart),
    Route("/c/{token}/chart.pdf", family_chart),
    Route("/round", round_form),
    Route("/round", round_sheet, methods=["POST"]),
]
