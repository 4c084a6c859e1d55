"""Days of wear as strips, and the same in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from followup.core.wear_plan import WearDay
from followup.web.figures import Seen, Strip, StripDay
from followup.web.voice import Voice


@dataclass(frozen=True, slots=True)
class StripView:
    """One drawn day with the words that say the same."""

    drawn: Strip
    title: str
    desc: str


def strip_day(
    day: WearDay,
    worn: Sequence[tuple[datetime, datetime | None]],
    seen: Sequence[tuple[datetime, bool]],
    now: datetime,
) -> StripDay:
    """A plan day with what was worn and seen, ready to draw; looks still to come are those after `now`."""
    return StripDay(
        on=day.on,
        plan=tuple((period.on_at, period.off_at) for period in day.periods),
        worn=tuple((start, end or now) for start, end in worn),
        seen=tuple(Seen(at, clear) for at, clear in seen),
        due=tuple(check.at for check in day.checks if check.at > now),
    )


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
