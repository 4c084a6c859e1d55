"""The list of wearers, and everything about one of their orthoses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from followup.core.urgency import Urgency
from followup.core.wear_day import PlanState, WearDay
from followup.services.end_plan import ended_words
from followup.services.see_change import PlanStanding, see_standing
from followup.services.see_wearers import WearerLine, WearerView, list_wearers, see_wearer
from followup.services.sign_in import Session
from followup.web.change_pages import offered_forms
from followup.web.day_strips import recent_days
from followup.web.forms import Form
from followup.web.ladder_view import view_ladder
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page
from followup.web.staff_words import STATES, URGENCIES, reason_words, upper_first
from followup.web.voice import Voice
from followup.web.wearer_facts import fact_rows

HERE = "wearers"
SHOWN_DAYS = 3
UNTIMED = {"off", "leave_on", "away", "ended"}
"""States of a plan in which no minutes are told."""


@dataclass(frozen=True, slots=True)
class ListedWearer:
    """One orthosis in the list."""

    id: int
    name: str
    orthosis: str
    plan: str


@dataclass(frozen=True, slots=True)
class Lead:
    """A sentence at the top of a wearer's page, with where it leads."""

    words: str
    address: str = ""
    link: str = ""


@staff_page
async def wearers(request: Request, staff: Session) -> Response:
    """Wearers by name."""
    return await _listing(request, staff, "")


@staff_form()
async def find_wearers(request: Request, staff: Session, form: Form) -> Response:
    """Wearers by some letters of a name; sent as a form, so that no name stands in an address."""
    return await _listing(request, staff, form.text("name"))


async def _listing(request: Request, staff: Session, words: str) -> Response:
    parts = parts_of(request)
    found = await run_in_threadpool(list_wearers, parts.practice, words)
    voice = parts.staff_voice()
    count = len(found)
    heading = (
        "Nobody is found"
        if not count
        else "One orthosis"
        if count == 1
        else f"{voice.number(count).capitalize()} orthoses"
    )
    lines = tuple(_listed(each, voice) for each in found)
    form = Form({"name": (words,)})
    return show(request, staff, "staff/wearers.html", HERE, heading=heading, lines=lines, form=form)


def _listed(line: WearerLine, voice: Voice) -> ListedWearer:
    plan = "waits for its checks"
    if line.ended_why:
        plan = STATES["ended"]
    elif line.state is not None:
        minutes = 0 if line.state in UNTIMED else line.target_minutes
        time = f", {voice.short(minutes)}" if minutes else ""
        plan = f"day {line.day}, {STATES.get(line.state, line.state)}{time}"
    orthosis = f"{upper_first(line.side)}, {line.reference}, handed over {voice.date(line.delivered_on)}"
    return ListedWearer(line.orthosis_id, line.wearer_name, orthosis, plan)


@staff_page
async def wearer(request: Request, staff: Session) -> Response:
    """One orthosis and its wearer."""
    parts = parts_of(request)
    voice = parts.staff_voice()
    orthosis_id = request.path_params["orthosis_id"]
    view = await run_in_threadpool(see_wearer, parts.practice, orthosis_id, voice.now)
    standing = await run_in_threadpool(see_standing, parts.practice, orthosis_id, voice.now)
    at_home = replace(voice, zone=ZoneInfo(view.zone))
    today = next((day for day in view.plan if day.on == at_home.local(voice.now).date()), None)
    return show(
        request,
        staff,
        "staff/wearer.html",
        HERE,
        heading=_heading(view, voice),
        chart=f"/wearers/{view.orthosis_id}/chart.pdf",
        leads=tuple(_leads(view, standing)),
        changes=tuple(
            (each.link, f"/wearers/{orthosis_id}/change/{each.name}") for each in offered_forms(standing, staff.role)
        ),
        days=recent_days(view.days[-SHOWN_DAYS:], at_home) if view.days else (),
        way=view_ladder(view.plan, today, view.facts.full_wear_minutes, at_home) if _goes_on(view) else None,
        lines=tuple((voice.told(each.at), each.at, each.text) for each in reversed(view.story)),
        facts_heading=view.facts.wearer_name,
        facts_rows=fact_rows(view.facts, voice),
    )


def _goes_on(view: WearerView) -> bool:
    """False while the plan is off, or the orthosis stays on as ordered: there is no way to full wear to draw."""
    return bool(view.plan) and view.plan[-1].target_minutes > 0 and view.plan[-1].state is not PlanState.LEAVE_ON


def _heading(view: WearerView, voice: Voice) -> str:
    day = f", {_stands(view.days[-1].day, voice)}" if view.days else ""
    return f"{view.facts.wearer_name}, {view.facts.side} orthosis{day}"


def _stands(day: WearDay, voice: Voice) -> str:
    """The plan day and how it stands; a stop after it was issued counts more than what it was issued as."""
    if day.stopped_at is not None and day.stopped_at <= voice.now:
        return f"day {day.day}: off since {voice.when(day.stopped_at)}"
    return f"day {day.day}: {STATES[day.state.value]}"


def _leads(view: WearerView, standing: PlanStanding) -> Iterator[Lead]:
    checks = f"/deliveries/{view.orthosis_id}/checks"
    if standing.ended_why:
        yield Lead(f"{upper_first(ended_words(standing.ended_why))}.")
    if view.open_callback_id is not None and view.open_callback_urgency is not None:
        words = URGENCIES[Urgency(view.open_callback_urgency)].words
        reason = reason_words(view.open_callback_reason)
        yield Lead(f"{words}: {reason}", f"/callbacks/{view.open_callback_id}", "Open the call")
    if view.started_at is None and not standing.ended_why:
        yield Lead("The plan waits for its delivery checks.", checks, "Open the checks")
    if standing.waits_for is not None and standing.checks_open and not standing.ended_why:
        yield Lead("The orthosis was changed: the delivery checks are made again.", checks, "Open the checks")
    elif standing.waits_for is not None and not standing.ended_why:
        yield Lead("The orthosis was changed, the checks are done: the plan waits for a clinician’s start step.")


routes = [
    Route("/wearers", wearers),
    Route("/wearers", find_wearers, methods=["POST"]),
    Route("/wearers/{orthosis_id:int}", wearer),
]
