"""The desk list: silence, messages that did not arrive, words nobody could read, families to ring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from followup.core.callback import Part
from followup.services.desk import DeskEntry, close_desk_item, count_messages, see_desk
from followup.services.sign_in import Session
from followup.web.forms import Form
from followup.web.site_parts import parts_of
from followup.web.staff_door import show, staff_form, staff_page, tell
from followup.web.staff_words import PARTS, late_words, upper_first
from followup.web.voice import Voice

MESSAGE_STATES = {
    "accepted": "Accepted",
    "planned": "Planned for later",
    "in_doubt": "May not have arrived",
    "refused": "Refused",
}


@dataclass(frozen=True, slots=True)
class DeskLine:
    """One thing to do as it is read."""

    id: int
    name: str
    say: str
    why: str
    when: str
    at: datetime
    by: bool
    late: str | None
    phone: str


@dataclass(frozen=True, slots=True)
class DeskGroup:
    """One stretch of time under its rule."""

    id: str
    kind: str
    heading: str
    lines: tuple[DeskLine, ...]


@staff_page
async def desk(request: Request, staff: Session) -> Response:
    """What is open for the desk."""
    parts = parts_of(request)
    voice = parts.staff_voice()
    entries = await run_in_threadpool(see_desk, parts.practice, voice.now)
    counts = await run_in_threadpool(count_messages, parts.practice)
    sent = tuple((words, counts.get(state, 0)) for state, words in MESSAGE_STATES.items())
    groups = desk_groups(entries, voice)
    return show(
        request, staff, "staff/desk.html", "desk", heading=desk_heading(entries, voice), groups=groups, sent=sent
    )


@staff_form()
async def done(request: Request, staff: Session, form: Form) -> Response:
    """Note that one thing was done."""
    parts = parts_of(request)
    if not form.text("close").isdecimal():
        return tell(request, staff, 422, "That thing was not named", "Nothing was changed. Choose one from the list.")
    item_id = int(form.text("close"))
    await run_in_threadpool(close_desk_item, parts.practice, item_id, staff, form.text("note"), parts.clock())
    return RedirectResponse("/desk", 303)


def desk_heading(entries: Sequence[DeskEntry], voice: Voice) -> str:
    """How many things, and how many past their time."""
    if not entries:
        return "Nothing for the desk"
    things = "One thing" if len(entries) == 1 else f"{voice.number(len(entries)).capitalize()} things"
    late = sum(entry.part is Part.LATE for entry in entries)
    if not late:
        return f"{things} for the desk"
    if len(entries) == 1:
        return f"{things} for the desk, past its time"
    return f"{things} for the desk, {voice.number(late)} past {'its' if late == 1 else 'their'} time"


def desk_groups(entries: Sequence[DeskEntry], voice: Voice) -> tuple[DeskGroup, ...]:
    """The entries under the headings of their stretch of time."""
    order = list(Part)
    arranged = sorted(entries, key=lambda entry: (order.index(entry.part), entry.due_at))
    return tuple(
        DeskGroup(part.value, part.value, PARTS[part], tuple(_line(entry, voice) for entry in members))
        for part, members in groupby(arranged, key=lambda entry: entry.part)
    )


def _line(entry: DeskEntry, voice: Voice) -> DeskLine:
    late = int((voice.now - entry.due_at).total_seconds() // 60)
    about = entry.wearer_name or entry.contact_name or "somebody we do not know"
    contact = f", {entry.contact_name}" if entry.contact_name not in ("", entry.wearer_name) else ""
    return DeskLine(
        id=entry.id,
        name=about,
        say=about + contact,
        why=upper_first(entry.text.rstrip(".")) + ".",
        when=voice.when(entry.due_at),
        at=entry.due_at,
        by=entry.part is not Part.LATE,
        late=late_words(late) if late > 0 else None,
        phone=entry.phone,
    )


routes = [Route("/desk", desk), Route("/desk", done, methods=["POST"])]
