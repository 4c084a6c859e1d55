"""Where the wearing periods of a day lie, in minutes from the start of the day's window.

Pure arithmetic on whole minutes, which `wear_day` turns into instants. What is not published is common practice.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import product

from followup.core.day_search import GRID, SHORTEST_PERIOD, USUAL_BREAK, Space, divide, fit_around
from followup.core.day_window import DAY_MINUTES, DayWindow, Stretch, plain_window
from followup.core.step_shape import StepShape, WearStep
from followup.core.wearing_goal import WearingGoal

LONGEST_SINGLE_PERIOD = 60
SHORTEST_NIGHT = 60
EARLIER_BY_UP_TO = 60
HALF_A_DAY = 720
TO_ANSWER = 15
"""After the last look of a day that ends in the morning, to say how the skin was before the next day is fixed."""


@lru_cache(maxsize=16384)
def lay_minutes(
    step: WearStep, wanted: int, break_minutes: int, window: DayWindow, earliest: int | None = None
) -> tuple[Stretch, ...]:
    """The wearing periods of a day: apart by the break or more, together never more than `wanted`.

    None begins before `earliest`. What does not fit is left out. The night is laid only where the whole step is worn:
    of less time it is the first to go, since nobody is awake to notice, and the day is then worn no longer for it.
    """
    shape, opens = step.shape, max(0, earliest or 0)
    if wanted <= 0 or window.room <= 0:
        return ()
    if shape.removals:
        return _worn_all_day(shape.removals, wanted, break_minutes, window, earliest and opens)
    pause = _pause(shape, break_minutes)
    usual_night = _usual_night(pause, break_minutes, window) if shape.nights else 0
    night = _night(pause, break_minutes, window) if 0 < usual_night <= wanted >= step.low_minutes else None
    by_day = wanted - usual_night if night else min(wanted, max(wanted, step.low_minutes) - usual_night)
    day = _lay_by_day(shape, by_day, break_minutes, window.opening_at(opens))
    return _from(opens, day) + ((night,) if night and night[0] >= opens else ())


def held_minutes(shape: StepShape, goal: WearingGoal, break_minutes: int) -> tuple[int, int] | None:
    """Lowest and highest minutes a day of a shape that states no total; None where the schedule's minutes count.

    On and off in turn: what the goal's window holds, with short stretches and long breaks or the other way round.
    Taken off for the skin only: all but the breaks. Fixed points and clock changes may leave less of one day.
    """
    if shape.removals:
        fewest, most = shape.removals
        return _all_but(most, break_minutes), _all_but(fewest, break_minutes)
    if not (shape.on and shape.off):
        return None
    pause, window = _pause(shape, break_minutes), plain_window(goal)
    room = _room(pause, break_minutes, window)
    night = _usual_night(pause, break_minutes, window) if shape.nights else 0
    low = _held(shape.on[0], max(pause, shape.off[1]), room)
    return low + night, max(low, _held(shape.on[1], pause, room)) + night


def night_minutes(shape: StepShape, goal: WearingGoal, break_minutes: int) -> int:
    """Minutes of the night between two windows, less a break before and after; 0 where that leaves under an hour."""
    return _usual_night(_pause(shape, break_minutes), break_minutes, plain_window(goal))


def _from(opens: int, periods: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
    return tuple((start + opens, end + opens) for start, end in periods)


def _pause(shape: StepShape, break_minutes: int) -> int:
    return max(break_minutes, shape.off[0]) if shape.off else break_minutes


def _before_next(pause: int, break_minutes: int) -> int:
    """Minutes without it before the next day's window: a break, and time for the look in it to be told."""
    return max(pause, break_minutes + TO_ANSWER)


def _room(pause: int, break_minutes: int, window: DayWindow) -> int:
    return min(window.room, window.until_next - _before_next(pause, break_minutes))


def _all_but(removals: int, break_minutes: int) -> int:
    return DAY_MINUTES - removals * break_minutes - TO_ANSWER


def _lay_by_day(shape: StepShape, wanted: int, break_minutes: int, window: DayWindow) -> tuple[Stretch, ...]:
    pause = _pause(shape, break_minutes)
    room = _room(pause, break_minutes, window)
    if wanted <= 0 or room <= 0:
        return ()
    space = Space.of(window, break_minutes, room)
    if shape.on and shape.off:
        return _in_turn(shape.on, (pause, max(pause, shape.off[1])), wanted, space)
    usual = _usual(shape.periods, wanted, break_minutes, room, window)
    fits = sum(end - start for start, end in usual) == wanted and all(space.holds(*each) for each in usual)
    if not window.has_points or (fits and not window.on):
        return usual
    return fit_around(wanted, usual, space)


def _usual(periods: int, wanted: int, break_minutes: int, room: int, window: DayWindow) -> tuple[Stretch, ...]:
    """Up to an hour is one period, more is two equal ones, unless the schedule says how many.

    The break is an hour where that fits. They begin at 09:00 and 15:00, more than two are spread between, and are
    pulled earlier so that the last removal is by 18:00 and its second look by 18:30.
    """
    lengths, pause = _lengths(periods, wanted, break_minutes, room)
    removed_by = _within(window.removal_by, room, room)
    looked_by = _within(window.look_by, room, room + break_minutes)
    before_last = sum(lengths[:-1]) + pause * (len(lengths) - 1)
    latest = min(room, max(min(removed_by, looked_by - break_minutes), before_last + lengths[-1]))
    first = _within(window.first_at, room, 0)
    aimed = max(_within(window.second_at, room, 0), first + before_last) if len(lengths) > 1 else first
    last = min(aimed, latest - lengths[-1])
    return _spread(lengths, min(first, last - before_last), last)


def _within(minute: int, room: int, otherwise: int) -> int:
    return minute if 0 <= minute < room else otherwise


def _lengths(periods: int, wanted: int, break_minutes: int, room: int) -> tuple[tuple[int, ...], int]:
    """Lengths of the periods and the break between them, cut to what the window holds."""
    if not periods and (wanted <= LONGEST_SINGLE_PERIOD or room - break_minutes <= LONGEST_SINGLE_PERIOD):
        return (min(wanted, room, LONGEST_SINGLE_PERIOD),), 0
    count = min(periods or 2, wanted)
    while count > 1 and room - break_minutes * (count - 1) < count * min(SHORTEST_PERIOD, wanted // count):
        count -= 1
    pause = max(break_minutes, USUAL_BREAK)
    if wanted + pause * (count - 1) > room:
        pause = break_minutes
    return divide(min(wanted, room - pause * (count - 1)), count), pause


def _spread(lengths: tuple[int, ...], first: int, last: int) -> tuple[Stretch, ...]:
    """Periods of these lengths with equal breaks, the first and the last beginning there."""
    free, laid = last - first - sum(lengths[:-1]), 0
    found: list[Stretch] = []
    for number, length in enumerate(lengths):
        start = first + laid + (free * number // (len(lengths) - 1) if number else 0)
        found.append((start, start + length))
        laid += length
    return tuple(found)


def _in_turn(on: Stretch, off: Stretch, wanted: int, space: Space) -> tuple[Stretch, ...]:
    """On and off in turn from the window's start, with the shortest stretches and longest breaks that hold `wanted`."""
    lengths = sorted({*range(on[0], on[1], GRID), on[1]})
    breaks = sorted({*range(off[0], off[1], GRID), off[1]}, reverse=True)
    enough = (pair for pair in product(lengths, breaks) if _held(*pair, space.room) >= wanted)
    length, pause = next(enough, (on[1], off[0]))
    laid: list[Stretch] = []
    left = wanted
    while left and (period := _next_stretch(laid[-1][1] + pause if laid else 0, length, space)):
        laid.append(space.cut(period, max(0, period[1] - period[0] - left)))
        left -= laid[-1][1] - laid[-1][0]
    return tuple(laid)


def _held(length: int, pause: int, room: int) -> int:
    """Minutes that `room` holds of stretches and breaks in turn; a last one too short to be worth it is left out."""
    whole, rest = divmod(room, length + pause)
    return whole * length + (min(rest, length) if rest >= min(length, SHORTEST_PERIOD) else 0)


def _next_stretch(ready: int, longest: int, space: Space) -> Stretch | None:
    shortest = min(longest, SHORTEST_PERIOD)
    for start in [ready, *(minute for minute in space.grid() if minute > ready)]:
        end = space.end_for(start, longest)
        if end is not None and end - start >= shortest and space.holds(start, end):
            return start, end
    return None


def _usual_night(pause: int, break_minutes: int, window: DayWindow) -> int:
    minutes = DAY_MINUTES - window.clock_room - pause - _before_next(pause, break_minutes)
    return minutes if minutes >= SHORTEST_NIGHT else 0


def _night(pause: int, break_minutes: int, window: DayWindow) -> Stretch | None:
    """From the window's end to the next one's start less the breaks, never longer than a night without clock change."""
    longest, opens = _usual_night(pause, break_minutes, window), window.room + pause
    space = Space.of(window, break_minutes, window.until_next - _before_next(pause, break_minutes))
    for start in [opens, *(after for _, after in space.off if after > opens)]:
        end = space.end_for(start, longest) if longest else None
        if end is not None and end - start >= SHORTEST_NIGHT and space.holds(start, end):
            return start, end
    return None


def _worn_all_day(
    removals: tuple[int, int], wanted: int, break_minutes: int, window: DayWindow, earliest: int | None
) -> tuple[Stretch, ...]:
    """Worn from each removal to the next, up to the next day's first, so that only the breaks are without it.

    The first removal is at the window's start, the last before its end, others spread between; each where somebody can
    look, if the family has said when. Where nobody is within half a day it is not left off: the removal stays. On
    the first day it is worn from `earliest` to the first removal. Less time than all of it is worn by day only.
    """
    fewest, most = removals
    enough = (count for count in range(most, fewest, -1) if _all_but(count, break_minutes) >= wanted)
    count = next(enough, fewest)
    off = _gaps(count, break_minutes, window, window.until_next)
    tomorrow, _ = _gaps(count, break_minutes, window.opening_at(window.until_next), DAY_MINUTES)[0]
    on_again = [after for _, after in off]
    taken_off = [*(before for before, _ in off[1:]), window.until_next + tomorrow]
    if earliest is not None:
        on_again, taken_off = [earliest, *on_again], [off[0][0], *taken_off]
    worn = [(max(start, earliest or 0), end) for start, end in zip(on_again, taken_off, strict=True)]
    worn = [each for each in worn if each[1] > each[0]]
    if wanted < _all_but(most, break_minutes):
        worn = [each for each in worn if each[1] <= window.room]
    return _up_to(wanted, worn, Space.of(window, break_minutes, window.room))


def _gaps(count: int, break_minutes: int, window: DayWindow, until: int) -> list[Stretch]:
    """When it is off for the skin in the day that begins with the window; a time without it is one of these."""
    space = Space.of(window, break_minutes, until)
    off = [_taken_off_by(before, after, space) for before, after in window.off if before < until]
    spread = _removals(count, break_minutes, window)
    for before, _ in off[: count - 1]:
        spread.remove(min(spread[1:], key=lambda minute: abs(minute - before)))
    first, *others = [space.nearest_removal(minute, HALF_A_DAY) for minute in spread]
    asked = [(first, first + break_minutes + TO_ANSWER), *((minute, minute + break_minutes) for minute in others)]
    merged: list[Stretch] = []
    for start, end in sorted([*off, *asked]):
        if merged and start < merged[-1][1] + SHORTEST_PERIOD:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def _removals(count: int, break_minutes: int, window: DayWindow) -> list[int]:
    """So many times spread over the hours in which people are up."""
    whole_day = window.clock_room == DAY_MINUTES
    last = DAY_MINUTES - DAY_MINUTES // count if whole_day else max(0, window.clock_room - break_minutes)
    return [last * number // max(1, count - 1) // GRID * GRID for number in range(count)]


def _taken_off_by(before: int, after: int, space: Space) -> Stretch:
    """The time without it, begun up to an hour earlier where nobody could look at its beginning."""
    looked_at = [
        min(before, last) for first, last in space.removals or () if first <= before <= last + EARLIER_BY_UP_TO
    ]
    start = max(looked_at, default=before)
    return start, max(after, start + space.break_minutes)


def _up_to(wanted: int, worn: list[Stretch], space: Space) -> tuple[Stretch, ...]:
    """The first `wanted` minutes of what is worn; the last removal stays where it was if nobody could look earlier."""
    kept: list[Stretch] = []
    left = wanted
    for start, end in worn:
        excess = max(0, end - start - left)
        if end - start > excess:
            kept.append(space.cut((start, end), excess))
            left -= end - start - excess
    return tuple(kept)
