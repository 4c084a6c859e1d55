"""The way to full wear as a figure, and the same in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from followup.core.wear_day import WearDay
from followup.web.figures import Ladder, draw_ladder
from followup.web.voice import Voice


@dataclass(frozen=True, slots=True)
class LadderView:
    """The drawn way to full wear with the words that say the same; words of labels by index of day."""

    drawn: Ladder
    title: str
    desc: str
    caption: str
    amount_words: tuple[str, ...]
    day_words: tuple[str, ...]
    lines: tuple[str, ...]


def view_ladder(days: Sequence[WearDay], today: WearDay | None, full_wear: int, voice: Voice) -> LadderView | None:
    """The way to full wear, None where there is no way: a plan of one day, or worn in full from its first."""
    if len(days) < 2:
        return None
    here = next((index for index, day in enumerate(days) if today is not None and day.on == today.on), None)
    runs = _runs(days)
    return LadderView(
        drawn=draw_ladder([day.target_minutes for day in days], here, full_wear),
        title=voice.say("ladder.title"),
        desc=_ladder_desc(runs, today, voice),
        caption=_caption(days, here, voice),
        amount_words=tuple(
            _amount(index, day, here, full_wear, voice, day is days[-1]) for index, day in enumerate(days)
        ),
        day_words=tuple(voice.say("ladder.day", day=day.day) for day in days),
        lines=tuple(_run_words(run, voice) for run in runs),
    )


@dataclass(frozen=True, slots=True)
class _Run:
    first: int
    last: int
    minutes: int


def _runs(days: Sequence[WearDay]) -> list[_Run]:
    """Neighbouring days of the same length, as one; a run of projected days is not joined to recorded ones."""
    grouped = groupby(days, key=lambda day: (day.target_minutes, day.basis))
    return [_Run(members[0].day, members[-1].day, minutes) for (minutes, _), each in grouped if (members := list(each))]


def _run_words(run: _Run, voice: Voice, prefix: str = "") -> str:
    kind = {0: "day" if prefix else "one_day", 1: "two" if prefix else "two_days"}
    key = kind.get(run.last - run.first, "more" if prefix else "more_days")
    return voice.say(f"ladder.{prefix}{key}", first=run.first, last=run.last, amount=voice.amount(run.minutes))


def _ladder_desc(runs: Sequence[_Run], today: WearDay | None, voice: Voice) -> str:
    here = today.day if today is not None else 0
    past = [_run_words(run, voice) for run in runs if run.first <= here]
    ahead = [_run_words(run, voice, "ahead_") for run in runs if run.first > here]
    told = [voice.say("ladder.here", day=here)] if here else []
    more = [voice.say("ladder.ahead", days="; ".join(ahead))] if ahead else []
    return " ".join((*past, *told, *more))


def _amount(index: int, day: WearDay, here: int | None, full_wear: int, voice: Voice, last: bool) -> str:
    """The words of one tread; the longest, today at full wear, only where it is the last and so has the room."""
    amount = voice.short(day.target_minutes)
    full = day.target_minutes >= full_wear
    said = voice.say("ladder.full", amount=amount) if full and (last or index != here) else amount
    if index != here:
        return said
    return voice.say("ladder.today_stopped") if day.stopped_at is not None else voice.say("ladder.today", amount=said)


def _caption(days: Sequence[WearDay], here: int | None, voice: Voice) -> str:
    """What tomorrow is; only a longer or equal time is something that a good day earns."""
    caption = voice.say("ladder.caption")
    if here is None or here + 1 >= len(days) or not days[here + 1].target_minutes:
        return caption
    now, then = days[here].target_minutes, days[here + 1].target_minutes
    if days[here].stopped_at is not None or then < now:
        return f"{caption} {voice.say('ladder.caption_from_tomorrow', amount=voice.amount(then))}"
    key = "ladder.caption_same" if now == then else "ladder.caption_more"
    return f"{caption} {voice.say(key, amount=voice.amount(then))}"
