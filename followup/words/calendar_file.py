"""A wear plan as a calendar file (RFC 5545, RFC 7986): entries with alarms, which a later copy updates or cancels.

Times are written in UTC. Each entry stands for one day, so nothing repeats across a clock change; the plan has already
placed every instant by the family's clocks; and no calendar has to know or trust a zone table of ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event

from followup.core.plan_calendar import CalendarEntry, EntryKind
from followup.core.sentences import clock_time
from followup.words.render import message_environment, template_root

MADE_BY = "-//followup//wear plan//EN"
ASK_AGAIN_AFTER = timedelta(hours=1)
WORDS: Mapping[str, Mapping[str, str]] = {
    "en": {
        "name": "Wear times",
        EntryKind.WEAR: "Wear {start} to {end}",
        EntryKind.LOOK: "Look at the skin",
        EntryKind.LEAVE_ON: "Leave it on as ordered",
        "if_clear": "{summary}, if the skin stays clear",
        "first_ask": "Only if the skin was clear: {summary}.",
        "provisional": "This time is not fixed yet. It holds if the skin stays clear. Look at your page on the day.",
        "newest": "Our newest message and your page come before this calendar.",
        "touch": "Look in good light, and feel the skin too.",
    },
    "es": {
        "name": "Horas de uso",
        EntryKind.WEAR: "Llevar de {start} a {end}",
        EntryKind.LOOK: "Mirar la piel",
        EntryKind.LEAVE_ON: "Dejarlo puesto como se indicó",
        "if_clear": "{summary}, si la piel sigue bien",
        "first_ask": "Solo si la piel estaba bien: {summary}.",
        "provisional": "Esta hora aún no es fija. Vale si la piel sigue bien. Mire su página ese día.",
        "newest": "Nuestro último mensaje y su página valen más que este calendario.",
        "touch": "Mire con buena luz y toque también la piel.",
    },
}


@dataclass(frozen=True, slots=True)
class CalendarFacts:
    """What the words of a calendar need beside its entries.

    `page` is the address of the family's page and `feed` that of this calendar, empty for a file made by hand. `side`
    is ``left`` or ``right`` for a family with two orthoses to look after.
    """

    language: str
    phone: str
    mark_limit_minutes: int
    protective: bool
    cannot_stand: bool
    side: str = ""
    page: str = ""
    feed: str = ""


def write_calendar(entries: Iterable[CalendarEntry], facts: CalendarFacts) -> bytes:
    """The calendar as a file; the same entries and facts give the same bytes."""
    words = WORDS[facts.language]
    calendar = Calendar()
    calendar.add("prodid", MADE_BY)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", _with_side(words["name"], facts))
    calendar.add("refresh-interval", ASK_AGAIN_AFTER, parameters={"VALUE": "DURATION"})
    if facts.feed:
        calendar.add("source", facts.feed, parameters={"VALUE": "URI"})
    for entry in entries:
        calendar.add_component(_event(entry, facts))
    made: bytes = calendar.to_ical()
    return made


def _event(entry: CalendarEntry, facts: CalendarFacts) -> Event:
    content, event = entry.content, Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("dtstamp", entry.changed_at)
    event.add("created", entry.published_at)
    event.add("last-modified", entry.changed_at)
    if content.kind is EntryKind.LEAVE_ON:
        event.add("dtstart", entry.on)
    else:
        event.add("dtstart", content.starts_at)
        event.add("dtend", content.ends_at)
    event.add("summary", _summary(entry, facts))
    event.add("description", _description(entry, facts))
    event.add("status", "CANCELLED" if entry.cancelled else "TENTATIVE" if content.provisional else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    event.add("class", "PRIVATE")
    if facts.page:
        event.add("url", facts.page)
    if not entry.cancelled and content.kind is not EntryKind.LEAVE_ON:
        event.add_component(_alarm(entry, facts))
    return event


def _alarm(entry: CalendarEntry, facts: CalendarFacts) -> Alarm:
    """Rings at the start. Of a time that is not fixed yet it says what it depends on: the copy may be an old one."""
    words, said = WORDS[facts.language], _plain_summary(entry, facts)
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", timedelta(0))
    if entry.content.provisional and entry.content.kind is EntryKind.WEAR:
        said = words["first_ask"].format(summary=said[:1].lower() + said[1:])
    alarm.add("description", said)
    return alarm


def _summary(entry: CalendarEntry, facts: CalendarFacts) -> str:
    said = _plain_summary(entry, facts)
    depends = entry.content.provisional and entry.content.kind is EntryKind.WEAR
    return WORDS[facts.language]["if_clear"].format(summary=said) if depends else said


def _plain_summary(entry: CalendarEntry, facts: CalendarFacts) -> str:
    content = entry.content

    def clock(at: datetime) -> str:
        return clock_time(at.astimezone(ZoneInfo(content.zone)))

    said = WORDS[facts.language][content.kind]
    return _with_side(said.format(start=clock(content.starts_at), end=clock(content.ends_at)), facts)


def _with_side(said: str, facts: CalendarFacts) -> str:
    side = _part("side", facts)
    return f"{side}: {said[:1].lower()}{said[1:]}" if side else said


def _description(entry: CalendarEntry, facts: CalendarFacts) -> str:
    """When to stop and whom to ring comes first, then what the entry depends on."""
    words = WORDS[facts.language]
    told = [_part("stop", facts, leave_on=entry.content.kind is EntryKind.LEAVE_ON)]
    if entry.content.kind is EntryKind.LOOK:
        told.append(words["touch"])
    if entry.content.provisional:
        told.append(words["provisional"])
    return "\n".join((*told, words["newest"]))


def _part(name: str, facts: CalendarFacts, *, leave_on: bool = False) -> str:
    """A part of the messages, so that a calendar says what they say in the same words."""
    parts = message_environment(template_root() / "messages", autoescape=False)
    return (
        parts.get_template(f"{facts.language}/parts/{name}.txt")
        .render(
            leave_on=leave_on,
            protective=facts.protective,
            cannot_stand=facts.cannot_stand,
            phone=facts.phone,
            limit=facts.mark_limit_minutes,
            side=facts.side,
        )
        .strip()
    )
