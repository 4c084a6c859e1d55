"""One callback laid open: why, what was said, the last days, likely causes, and what each instruction would do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from followup.core.plan_event import PlanAction
from followup.core.urgency import Urgency
from followup.core.wear_day import WearDay
from followup.services.see_callback import CallbackView, Cause, WhyLine
from followup.web.day_strips import DayStrip, recent_days
from followup.web.forms import Choice
from followup.web.queue_view import QueueLine, queue_line
from followup.web.staff_words import ACTIONS, INSTRUCTIONS, URGENCIES, UrgencyWords, reason_words, upper_first
from followup.web.voice import Voice
from followup.web.wearer_facts import FactRow, fact_rows

MOST_NAMED = 4
ToldLine = tuple[str, datetime, str]
OUTCOMES = (
    Choice("spoken", "Spoken to"),
    Choice("seen", "Seen at the practice"),
    Choice(
        "sent_to_care", "Sent to other care", "A doctor, a hospital or the emergency number; the desk asks next day"
    ),
)


@dataclass(frozen=True, slots=True)
class Why:
    """One line of the reasons, with what it asks for."""

    known: str
    rule: str
    sources: str
    urgency: UrgencyWords


@dataclass(frozen=True, slots=True)
class OpenCallback:
    """Everything the page shows. `bounds` are the words of floor and ceiling where they differ.

    `story` is what belongs to this call, oldest first; `earlier` what was said before it, newest first.
    """

    title: str
    line: QueueLine
    instruction: str
    phone: str
    closed: str
    version: int
    steps: tuple[Choice, ...]
    last_clear_step: str
    story: tuple[ToldLine, ...]
    earlier: tuple[ToldLine, ...]
    days: tuple[DayStrip, ...]
    zone_note: str
    causes: tuple[Cause, ...]
    why: tuple[Why, ...]
    open: str
    bounds: tuple[str, str] | None
    facts_heading: str
    facts: tuple[FactRow, ...]


def view_callback(view: CallbackView, staff_id: int, voice: Voice) -> OpenCallback:
    """The words and figures of one callback's page."""
    line = queue_line(view.entry, staff_id, voice)
    at_home = replace(voice, zone=ZoneInfo(view.zone))
    return OpenCallback(
        title=f"{line.whom}{f' by {line.when}' if line.by else ''}",
        line=line,
        instruction=INSTRUCTIONS[view.entry.instruction],
        phone=view.entry.phone,
        closed=_closed(view),
        version=view.entry.version,
        steps=_steps(view, voice),
        last_clear_step=_last_clear_step(view, voice),
        story=_told(view, voice, earlier=False),
        earlier=_told(view, voice, earlier=True)[::-1],
        days=recent_days(view.days, at_home) if view.days else (),
        zone_note="" if at_home.zone == voice.zone else f" Times are the wearer’s own, {view.zone}.",
        causes=view.causes,
        why=tuple(_why(each) for each in view.why),
        open=_open(view.unanswered, voice),
        bounds=_bounds(view.floor, view.ceiling),
        facts_heading=view.facts.wearer_name if view.facts else "Nobody we know yet",
        facts=fact_rows(view.facts, voice) if view.facts else (),
    )


def _told(view: CallbackView, voice: Voice, *, earlier: bool) -> tuple[ToldLine, ...]:
    return tuple(
        (voice.told(each.at), each.at, each.text.replace("'", "’"))
        for each in view.story
        if (each.at < view.said_since) is earlier
    )


def _steps(view: CallbackView, voice: Voice) -> tuple[Choice, ...]:
    return tuple(
        Choice(str(step), f"Step {step}: {voice.short(minutes)}") for step, minutes in enumerate(view.step_minutes, 1)
    )


def _last_clear_step(view: CallbackView, voice: Voice) -> str:
    """The step at which a plan begins again where none is named."""
    days = view.next_days.get(PlanAction.RESUME, ())
    return f"The last clear one: {voice.short(days[0].target_minutes)}" if days else "The last clear one"


def _open(unanswered: Sequence[str], voice: Voice) -> str:
    """Urgent questions nobody answered; the first few by name, for nobody reads forty."""
    rest = len(unanswered) - MOST_NAMED
    named = [*unanswered[:MOST_NAMED], *([f"{voice.number(rest)} more"] if rest > 0 else [])]
    return f"Not answered: {voice.listed(named)}." if named else ""


def _closed(view: CallbackView) -> str:
    if view.entry.state != "closed":
        return ""
    how = next((each.label for each in OUTCOMES if each.value == view.outcome), "Closed")
    return f"This call is closed. {how}: {view.note}"


def _why(line: WhyLine) -> Why:
    return Why(
        upper_first(reason_words(line.known)),
        line.rule.replace("'", "’").rstrip("."),
        "; ".join(line.sources).replace("'", "’") or "common practice",
        URGENCIES[line.urgency],
    )


def _bounds(floor: Urgency | None, ceiling: Urgency | None) -> tuple[str, str] | None:
    if floor is None or ceiling is None or floor == ceiling:
        return None
    return URGENCIES[floor].words, URGENCIES[ceiling].words


def action_choices(view: CallbackView, voice: Voice) -> tuple[Choice, ...]:
    """The plan instructions, each with what it would make of the next three days."""
    return tuple(Choice(action.value, ACTIONS[action], _preview(action, view, voice)) for action in ACTIONS)


def _preview(action: PlanAction, view: CallbackView, voice: Voice) -> str:
    if action is PlanAction.LEAVE_ON:
        return "Only for an orthosis that protects a fracture or a repair"
    days: Sequence[WearDay] = view.next_days.get(action, ())
    if action is PlanAction.OFF:
        return "No times are issued. The desk looks at it again in two working days."
    if not days:
        return ""
    if not any(day.periods for day in days):
        return "No times from tomorrow"
    first, *then = (voice.short(day.target_minutes) if day.periods else "no times" for day in days)
    return f"{first} tomorrow; if the skin stays clear, then {voice.listed(then)}" if then else f"{first} tomorrow"
