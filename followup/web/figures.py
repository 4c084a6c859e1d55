"""Where each line of a wear strip or a step ladder stands: plain geometry from plan days, no words and no markup.

x is in per cent of the figure's width, y in px, so that words beside the lines never shrink with the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

TREAD_BASE = 140.0
TREAD_RISE = 112.0
EARLY = 40.0
HIGH = 45.0
FULL_HEIGHT = 88
BARE_HEIGHT = 56
NARROWEST = 8
CLOSEST = 2.0
"""Per cent between looks to come: nearer ones would be one blot at the narrowest width, so the later is not drawn."""


@dataclass(frozen=True, slots=True)
class Span:
    """One stretch of time on a strip, `x` and `width` in per cent."""

    x: float
    width: float


@dataclass(frozen=True, slots=True)
class Look:
    """One skin check on a strip: ``seen``, ``found`` (a mark) or ``due``."""

    x: float
    kind: str


@dataclass(frozen=True, slots=True)
class Tick:
    """One tick of the axis; `hour` is set where it carries words, `anchor` says how they hang on it."""

    x: float
    hour: int | None
    anchor: str


@dataclass(frozen=True, slots=True)
class Window:
    """The stretch of a day that is drawn: whole hours after local midnight; `to_hour` may pass 24."""

    from_hour: int
    to_hour: int


@dataclass(frozen=True, slots=True)
class Seen:
    """A skin check that was made, and whether it was clear."""

    at: datetime
    clear: bool


@dataclass(frozen=True, slots=True)
class StripDay:
    """What one strip shows. Instants are aware; `on` is the local date the window is counted from."""

    on: date
    plan: tuple[tuple[datetime, datetime], ...] = ()
    worn: tuple[tuple[datetime, datetime], ...] = ()
    seen: tuple[Seen, ...] = ()
    due: tuple[datetime, ...] = ()


@dataclass(frozen=True, slots=True)
class Strip:
    """A drawn day of wear."""

    height: int
    ticks: tuple[Tick, ...]
    plan: tuple[Span, ...]
    worn: tuple[Span, ...]
    looks: tuple[Look, ...]
    now: float | None


@dataclass(frozen=True, slots=True)
class Tread:
    """One day of a ladder: ``done``, ``here`` or ``ahead``, from `x1` to `x2` at height `y`."""

    kind: str
    x1: float
    x2: float
    y: float


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a point of a ladder. `names` says which day they speak of, `here` whether that is today."""

    names: int
    x: float
    y: float
    anchor: str
    here: bool
    shift: int = 0


@dataclass(frozen=True, slots=True)
class Ladder:
    """The way to full wear: a tread a day, risers between them, words above and under the axis."""

    treads: tuple[Tread, ...]
    risers: tuple[tuple[float, float, float], ...]
    amounts: tuple[Label, ...]
    days: tuple[Label, ...]


def hours_after_midnight(at: datetime, on: date, zone: ZoneInfo) -> float:
    """Hours by the wall clock from local midnight of `on` to `at`; negative before it."""
    local = at.astimezone(zone)
    return 24 * (local.date() - on).days + local.hour + local.minute / 60


def choose_window(days: Sequence[StripDay], zone: ZoneInfo) -> Window:
    """Even hours that leave an hour before the first thing drawn and two after the last; 8 to 20 where nothing is."""
    hours = [hours_after_midnight(at, day.on, zone) for day in days for at in _instants(day)]
    if not hours:
        return Window(8, 20)
    first, last = min(hours), max(hours)
    from_hour, to_hour = 2 * int((first - 1) // 2), 2 * -int(-(last + 2) // 2)
    return Window(from_hour, max(to_hour, from_hour + NARROWEST))


def _instants(day: StripDay) -> tuple[datetime, ...]:
    ends = tuple(at for span in (*day.plan, *day.worn) for at in span)
    return (*ends, *(look.at for look in day.seen), *day.due)


def draw_strip(day: StripDay, window: Window, zone: ZoneInfo, now: datetime | None = None, axis: bool = True) -> Strip:
    """The lines of one day. `now` is drawn only where it falls inside the window."""

    def x(at: datetime) -> float:
        share = (hours_after_midnight(at, day.on, zone) - window.from_hour) / (window.to_hour - window.from_hour)
        return round(100 * min(1.0, max(0.0, share)), 2)

    def span(ends: tuple[datetime, datetime]) -> Span:
        return Span(x(ends[0]), round(x(ends[1]) - x(ends[0]), 2))

    looks = [Look(x(look.at), "seen" if look.clear else "found") for look in day.seen]
    due = _apart([x(at) for at in day.due])
    return Strip(
        height=FULL_HEIGHT if axis else BARE_HEIGHT,
        ticks=_ticks(window) if axis else (),
        plan=tuple(span(each) for each in day.plan),
        worn=tuple(span(each) for each in day.worn),
        looks=(*looks, *(Look(at, "due") for at in due)),
        now=x(now) if now and _inside(now, day.on, window, zone) else None,
    )


def _apart(places: Sequence[float]) -> list[float]:
    kept: list[float] = []
    for place in sorted(places):
        if not kept or place - kept[-1] >= CLOSEST:
            kept.append(place)
    return kept


def _inside(at: datetime, on: date, window: Window, zone: ZoneInfo) -> bool:
    return window.from_hour <= hours_after_midnight(at, on, zone) <= window.to_hour


def _ticks(window: Window) -> tuple[Tick, ...]:
    length = window.to_hour - window.from_hour
    return tuple(_tick(step, length, window.from_hour) for step in range(0, length + 1, 2))


def _tick(step: int, length: int, from_hour: int) -> Tick:
    anchor = "start" if step == 0 else "end" if step == length else "middle"
    named = step % (4 if length <= 24 else 6 if length <= 36 else 12) == 0
    return Tick(round(100 * step / length, 2), (from_hour + step) % 24 if named else None, anchor)


def draw_ladder(minutes: Sequence[int], here: int | None, full_wear: int) -> Ladder:
    """The treads of a plan, one a day. `here` is the index of today, None where today is not among them."""
    treads = _treads(minutes, here, full_wear)
    risers = tuple((one.x2, one.y, two.y) for one, two in pairwise(treads) if one.y != two.y)
    return Ladder(treads, risers, _amount_labels(treads, here), _day_labels(treads, here))


def _treads(minutes: Sequence[int], here: int | None, full_wear: int) -> tuple[Tread, ...]:
    width = 100 / len(minutes) if minutes else 0

    def tread(index: int) -> Tread:
        kind = "ahead" if here is None or index > here else "here" if index == here else "done"
        height = round(TREAD_BASE - TREAD_RISE * min(1.0, minutes[index] / full_wear), 1)
        return Tread(kind, round(width * index, 2), round(width * (index + 1), 2), height)

    return tuple(tread(index) for index in range(len(minutes)))


def _amount_labels(treads: tuple[Tread, ...], here: int | None) -> tuple[Label, ...]:
    """Names for the first, today's and the last tread; one that would run into today's is left out."""
    if not treads:
        return ()
    last = len(treads) - 1
    first_label = Label(0, 0.0, treads[0].y + 18, "start", False)
    last_label = Label(last, 100.0, treads[last].y - 9, "end", False)
    if here is None:
        return _without_twins(first_label, last_label)
    today = _here_label(here, treads[here], last)
    kept = (first_label,) if here and treads[here].x2 >= EARLY else ()
    crowded = here == last or (treads[here].x2 > 50 and today.y < HIGH)
    return (*kept, today, *(() if crowded else (last_label,)))


def _here_label(here: int, tread: Tread, last: int) -> Label:
    if here == last:
        return Label(here, 100.0, tread.y - 9, "end", True)
    if tread.x2 < EARLY:
        return Label(here, tread.x1, tread.y + 18, "start", True)
    return Label(here, tread.x2, tread.y - 12, "end", True, shift=-5)


def _day_labels(treads: tuple[Tread, ...], here: int | None) -> tuple[Label, ...]:
    """Day numbers under the axis, with the room that "day 11" takes at the narrowest width."""
    if not treads:
        return ()
    last = len(treads) - 1
    first_label, last_label = Label(0, 0.0, 180, "start", False), Label(last, 100.0, 180, "end", False)
    if here is None:
        return _without_twins(first_label, last_label)
    middle = (treads[here].x1 + treads[here].x2) / 2
    place = {0: (0.0, "start"), last: (100.0, "end")}.get(here, (round(middle, 2), "middle"))
    today = Label(here, place[0], 180, place[1], True)
    kept_first = (first_label,) if here and middle > 30 else ()
    kept_last = (last_label,) if here != last and middle < 70 else ()
    return (*kept_first, today, *kept_last)


def _without_twins(first: Label, last: Label) -> tuple[Label, ...]:
    return (first,) if first.names == last.names else (first, last)
