"""Days of wear as strips, and the same in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from followup.core.urgency import WearInstruction
from followup.services.see_today import DayView
from followup.web.figures import Seen, Strip, StripDay, choose_window, draw_strip
from followup.web.voice import Voice


@dataclass(frozen=True, slots=True)
class StripView:
    """One drawn day with the words that say the same."""

    drawn: Strip
    title: str
    desc: str


@dataclass(frozen=True, slots=True)
class DayStrip:
    """One of several days: its name and what was worn of what was planned stand beside the drawing."""

    day: str
    worn: str
    drawn: Strip
    title: str
    desc: str


def strip_day(known: DayView, now: datetime) -> StripDay:
    """A plan day with what was worn and seen, ready to draw; looks still to come are those after `now`."""
    stopped = known.day.stopped_at
    return StripDay(
        on=known.day.on,
        plan=tuple((period.on_at, period.off_at) for period in known.day.open_periods),
        worn=known.worn,
        seen=tuple(Seen(at, clear) for at, clear in known.seen),
        due=tuple(check.at for check in known.day.checks if check.at > now and stopped is None),
    )


def recent_days(days: Sequence[DayView], voice: Voice) -> tuple[DayStrip, ...]:
    """Several days in one window under each other; only the last carries the axis."""
    drawn = _looks_where_made([strip_day(each, voice.now) for each in days], voice)
    window = choose_window(drawn, voice.zone)
    return tuple(
        _day_strip(known, day, draw_strip(day, window, voice.zone, voice.now, axis=day is drawn[-1]), voice)
        for known, day in zip(days, drawn, strict=True)
    )


def _looks_where_made(days: Sequence[StripDay], voice: Voice) -> list[StripDay]:
    """A look made on a later day than the one it speaks of is drawn on the day it was made, if that is shown."""
    shown = {day.on for day in days}
    made = [(look, _day_of(look, day, shown, voice)) for day in days for look in day.seen]
    return [replace(day, seen=tuple(look for look, on in made if on == day.on)) for day in days]


def _day_of(look: Seen, day: StripDay, shown: set[date], voice: Voice) -> date:
    made_on = voice.local(look.at).date()
    return made_on if made_on in shown else day.on


def _day_strip(known: DayView, day: StripDay, drawn: Strip, voice: Voice) -> DayStrip:
    name = voice.weekday(day.on)
    return DayStrip(
        f"{name}, day {known.day.day}", _worn(known, voice), drawn, voice.date(day.on), describe_day(day, voice)
    )


def _worn(known: DayView, voice: Voice) -> str:
    """What was heard of one day; what nobody said is not made up."""
    if known.day.instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
        return "left on as ordered"
    planned = known.day.target_minutes
    if not planned:
        return "nothing planned"
    if known.worn:
        worn = sum(round((end - start).total_seconds() / 60) for start, end in known.worn)
        return f"{voice.short(worn)} of {voice.short(planned)}"
    return f"{voice.short(planned)} planned, " + ("time worn not told" if known.seen else "nothing heard")


def describe_day(day: StripDay, voice: Voice) -> str:
    """A drawn day in words."""
    return " ".join(_described(day, voice))


def _described(day: StripDay, voice: Voice) -> Iterator[str]:
    if day.plan:
        yield voice.say("strip.planned", spans=voice.listed(voice.span(*each) for each in day.plan))
    else:
        yield voice.say("strip.planned_none")
    if day.worn:
        yield voice.say("strip.worn", spans=voice.listed(voice.span(*each) for each in day.worn))
    for clear, key in ((True, "strip.clear"), (False, "strip.mark")):
        clocks = [voice.clock(look.at) for look in day.seen if look.clear is clear]
        if clocks:
            yield voice.say(key, clocks=voice.listed(clocks))
    if day.due:
        key = "strip.due" if len(day.due) > 1 else "strip.due_one"
        yield voice.say(key, clocks=voice.listed(voice.clock(at) for at in day.due))
