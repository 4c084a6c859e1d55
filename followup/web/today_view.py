"""What a caregiver's page says about today: heading, times, caution, strip and the way to full wear."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from followup.core.plan_reason import day_sentence
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wear_day import PlanState, WearDay, WearPeriod
from followup.services.see_today import DayView, Today
from followup.web.day_strips import StripView, describe_day, strip_day
from followup.web.figures import choose_window, draw_strip
from followup.web.forms import Choice
from followup.web.ladder_view import LadderView, view_ladder
from followup.web.voice import Voice

MOST_TIMES = 5
"""More periods than this are not all set large: the one that is on and the next are what matters now."""


@dataclass(frozen=True, slots=True)
class TimesLine:
    """One wearing period with what is known of it; `current` marks the one that is on or comes next."""

    span: str
    words: tuple[str, ...]
    current: bool


@dataclass(frozen=True, slots=True)
class CautionWords:
    """When to take it off, or with a protective orthosis when to ring; then when not to wait for the practice."""

    heading: str
    words: tuple[str, ...]
    danger: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TomorrowWords:
    """What is foreseen for tomorrow, and what it depends on."""

    heading: str
    spans: tuple[str, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TodayView:
    """Everything the page shows. `urgent_number` is set while an open call says to ring the emergency number.

    On a day of many periods `times` are the one that is on and the next, and `all_times` every one.
    """

    title: str
    heading: str
    urgent_number: str
    side: str
    times: tuple[TimesLine, ...]
    all_times: tuple[str, ...]
    tomorrow: TomorrowWords | None
    paragraphs: tuple[str, ...]
    caution: CautionWords
    looks: tuple[Choice, ...]
    strip: StripView | None
    ladder: LadderView | None
    started: bool
    told: bool


def view_today(today: Today, emergency_number: str, voice: Voice) -> TodayView:
    """The words and figures of a caregiver's page."""
    known = today.today
    wears = known is not None and not today.off and not today.leave_on
    said = heading(today, emergency_number, voice)
    times = _times(known, voice) if known is not None and wears else ()
    many = len(times) > MOST_TIMES
    return TodayView(
        title=voice.say("today.title") if known is not None and wears and known.day.periods else said,
        heading=said,
        urgent_number=emergency_number if today.urgency is Urgency.EMERGENCY_NOW else "",
        side=voice.say(f"today.side_{today.side}") if today.side else "",
        times=_nearest(times) if many else times,
        all_times=tuple(line.span for line in times) if many else (),
        tomorrow=_tomorrow(today, voice) if wears else None,
        paragraphs=tuple(_paragraphs(today, emergency_number, voice)),
        caution=_caution(today, emergency_number, voice),
        looks=_looks(today, voice),
        strip=_strip(known, voice) if known is not None and (wears or known.worn or known.seen) else None,
        ladder=view_ladder(today.days, known.day, today.full_wear_minutes, voice)
        if known is not None and wears
        else None,
        started=today.started,
        told=known is not None,
    )


def heading(today: Today, emergency_number: str, voice: Voice) -> str:
    """The sentence at the top, such as "Today, 2 hours, in two parts"; other care that is needed comes first."""
    if today.urgency is not None and today.needs_other_care:
        where = voice.say(f"answer.{today.urgency.id}", number=emergency_number)
        wear = "off_until_we_speak" if today.off else "leave_on_as_ordered" if today.leave_on else ""
        return f"{where} {voice.say(f'answer.{wear}')}" if wear else where
    if not today.started:
        return voice.say("today.none_yet")
    if today.off:
        return _heading_off(today, voice)
    if today.leave_on:
        return voice.say("today.leave_on")
    day = today.today.day if today.today else None
    if day is None or not day.periods:
        return voice.say("today.untold" if day is None else "today.nothing_today")
    full = "full_" if day.state is PlanState.FULL_WEAR else ""
    total = voice.amount(day.target_minutes)
    if len(day.periods) == 1:
        return voice.say(f"today.{full}one_part", total=total)
    return voice.say(f"today.{full}parts", total=total, number=voice.number(len(day.periods)))


def _heading_off(today: Today, voice: Voice) -> str:
    if today.resumes is not None:
        day = voice.day(today.resumes.periods[0].on_at)
        return voice.say("today.off_resumes", day=day, times=_spans(today.resumes, voice))
    due = today.callback_due_at
    return voice.say("today.off_due", when=voice.before(due)) if due else voice.say("today.off")


def _spans(day: WearDay, voice: Voice) -> str:
    return voice.listed(voice.span(period.on_at, period.off_at) for period in day.periods)


def _paragraphs(today: Today, emergency_number: str, voice: Voice) -> Iterator[str]:
    if today.needs_other_care:
        emergency = today.urgency is Urgency.EMERGENCY_NOW
        yield voice.say("answer.do_emergency" if emergency else "answer.do_medical", number=emergency_number)
        yield voice.say("today.other_care_done")
    if not today.started:
        yield voice.say("today.none_yet_text")
        return
    if today.today is None and not today.off and not today.leave_on:
        yield voice.say("today.untold_text")
    if today.off:
        yield from _about_off(today, voice)
    elif today.leave_on:
        yield voice.say("today.leave_on_text")
    if today.reason and not _outdated(today):
        yield _sentence(today.reason)
    if today.off and today.cannot_stand:
        yield voice.say("today.off_stand")
    if today.callback_due_at and (not today.off or today.resumes is not None or today.needs_other_care):
        yield voice.say("today.promised", when=voice.before(today.callback_due_at))


def _about_off(today: Today, voice: Voice) -> Iterator[str]:
    if today.resumes is not None:
        yield voice.say("today.off_resumes_text")
        return
    yield voice.say("today.off_text")
    if today.callback_due_at is None:
        yield voice.say("today.off_no_call")


def _outdated(today: Today) -> bool:
    """True where the reason of the day, given when it was issued, no longer says how things stand."""
    stopped = today.today is not None and today.today.day.stopped_at is not None
    return today.off and (stopped or today.resumes is not None)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "!", "?")) else ".")


def _caution(today: Today, emergency_number: str, voice: Voice) -> CautionWords:
    """When to stop and whom to ring; the danger signs stand on every page but one that says to ring already."""
    say = voice.say
    signs = (say("caution.emergency", number=emergency_number), say("caution.medical"))
    danger = () if today.urgency is Urgency.EMERGENCY_NOW else signs
    if today.leave_on or today.protective:
        return CautionWords(say("caution.title_leave_on"), (say("caution.text_leave_on"),), danger)
    if today.off:
        return CautionWords(say("caution.title_off"), (say("caution.text_off"),), danger)
    sit = (say("caution.sit"),) if today.cannot_stand else ()
    return CautionWords(say("caution.title"), (say("caution.text", limit=today.limit_minutes), *sit), danger)


def _looks(today: Today, voice: Voice) -> tuple[Choice, ...]:
    """The first answers of a report; "no problem" comes last while other care is needed."""
    stays_on = today.leave_on or today.protective
    broken = "look.broken_small_leave_on" if stays_on else "look.broken_small"
    clear = "look.clear_small_leave_on" if stays_on else "look.clear_small"
    looks = (
        Choice("clear", voice.say("look.clear"), voice.say(clear, limit=today.limit_minutes)),
        Choice("mark", voice.say("look.mark"), voice.say("look.mark_small")),
        Choice("broken", voice.say("look.broken"), voice.say(broken)),
        Choice("call", voice.say("look.call"), voice.say("look.call_small")),
    )
    return looks[::-1] if today.needs_other_care else looks


def _times(known: DayView, voice: Voice) -> tuple[TimesLine, ...]:
    periods = known.day.periods
    nexts = [*(period.on_at for period in periods[1:]), datetime.max.replace(tzinfo=voice.now.tzinfo)]
    current = next((index for index, period in enumerate(periods) if period.off_at > voice.now), None)
    return tuple(
        TimesLine(voice.span(period.on_at, period.off_at), tuple(_about(known, period, until, voice)), index == current)
        for index, (period, until) in enumerate(zip(periods, nexts, strict=False))
    )


def _nearest(times: Sequence[TimesLine]) -> tuple[TimesLine, ...]:
    """The period that is on or comes next, and the one after it; the last two once all are over."""
    first = next((index for index, line in enumerate(times) if line.current), len(times))
    first = min(first, len(times) - 2)
    return tuple(times[first : first + 2])


def _tomorrow(today: Today, voice: Voice) -> TomorrowWords | None:
    """Tomorrow's times are a promise of nothing: they hold if the skin stays clear and somebody says so."""
    day = today.tomorrow
    if day is None or today.needs_other_care or day.instruction is WearInstruction.LEAVE_ON_AS_ORDERED:
        return None
    if not day.periods:
        return TomorrowWords(
            voice.say("tomorrow.none"), (), (_sentence(day_sentence(day.reasons, voice.say.language)),)
        )
    spans = tuple(voice.span(period.on_at, period.off_at) for period in day.periods)
    key = "tomorrow.text_leave_on" if today.protective else "tomorrow.text"
    words: tuple[str, ...] = (voice.say(key, total=voice.amount(day.target_minutes)),)
    if len(spans) > MOST_TIMES:
        words = (voice.say("tomorrow.many", number=len(spans), first=spans[0], last=spans[-1]), *words)
        spans = ()
    return TomorrowWords(voice.say("tomorrow.heading"), spans, words)


def _about(known: DayView, period: WearPeriod, until: datetime, voice: Voice) -> Iterator[str]:
    """What was worn and seen in one period; what to look at while nothing was."""
    for start, end in known.worn:
        if period.on_at <= start < until:
            yield voice.say("today.worn_told", amount=voice.amount(round((end - start).total_seconds() / 60)))
    seen = [(at, clear) for at, clear in known.seen if period.on_at <= at < until]
    for at, clear in seen:
        yield voice.say("today.seen_clear" if clear else "today.seen_mark", clock=voice.clock(at))
    stopped = known.day.stopped_at
    if stopped is not None and stopped < period.off_at:
        yield voice.say("today.stopped", clock=voice.clock(max(stopped, period.on_at)))
        return
    dues = [check.at for check in known.day.checks if period.on_at <= check.at < until]
    if not seen and dues:
        yield _looks_due(dues, voice)


def _looks_due(dues: Sequence[datetime], voice: Voice) -> str:
    clocks = [voice.clock(at) for at in dues]
    if len(clocks) > 2:
        return voice.say("today.look_often", clocks=voice.listed(clocks))
    return voice.say("today.look_twice" if len(clocks) > 1 else "today.look_once", first=clocks[0], second=clocks[-1])


def _strip(known: DayView, voice: Voice) -> StripView:
    day = strip_day(known, voice.now)
    window = choose_window([day], voice.zone)
    return StripView(
        draw_strip(day, window, voice.zone, voice.now),
        voice.say("strip.title", start=f"{window.from_hour % 24}:00", end=f"{window.to_hour % 24}:00"),
        describe_day(day, voice),
    )
