"""Wearing periods around the fixed points of a family's day, found on a grid of five minutes.

The same day always gets the same periods. In this order: as many equal periods as usual; more and shorter ones; as
much of the time as fits, no period longer than a usual one. Among equals, most of the time the family wants it on is
covered, then breaks are an hour where that fits, then it lies nearest to the usual times, then earliest.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from followup.core.day_window import DayWindow, Stretch

GRID = 5
USUAL_BREAK = 60
SHORTEST_PERIOD = 15
MOST_PERIODS = 6
"""As often as a family can put it on in a day; common practice, no source, as is the shortest period."""
COVERED_FIRST = 100_000


class Space(NamedTuple):
    """What of a window may be worn: up to `room`, not in `off`, ending only in `removals` (None: at any time)."""

    room: int
    break_minutes: int
    off: tuple[Stretch, ...]
    on: tuple[Stretch, ...]
    removals: tuple[Stretch, ...] | None

    @classmethod
    def of(cls, window: DayWindow, break_minutes: int, until: int) -> Space:
        """The space of a window up to `until`, for periods apart by the break, after which the skin is looked at."""
        return cls(until, break_minutes, window.off, window.on, window.removals(break_minutes))

    def holds(self, start: int, end: int) -> bool:
        """True where a period may lie there: it meets no time without it, and somebody can look when it comes off."""
        return self.may_end(end) and all(end <= before or after <= start for before, after in self.off)

    def may_end(self, minute: int) -> bool:
        """True where somebody can look at the skin at this removal and after it."""
        return self.removals is None or any(first <= minute <= last for first, last in self.removals)

    def nearest_removal(self, minute: int, within: int) -> int:
        """The removal nearest to `minute` with somebody to look, if it is `within` so many minutes; else `minute`."""
        near = (min(max(minute, first), last) for first, last in self.removals or () if first < self.room)
        found = [each for each in near if abs(each - minute) <= within]
        return min(found, key=lambda each: (abs(each - minute), each), default=minute)

    def end_for(self, start: int, longest: int) -> int | None:
        """The latest end of a period that starts there; None where none may."""
        limit = min([start + longest, self.room, *(before for before, after in self.off if after > start)])
        looked_at = ((0, limit),) if self.removals is None else self.removals
        ends = [min(limit, last) for first, last in looked_at if first <= limit]
        return max((end for end in ends if end > start), default=None)

    def free_since(self, minute: int) -> int:
        """The earliest start of a period that ends at `minute`."""
        return max((after for _, after in self.off if after < minute), default=0)

    def covered(self, periods: Iterable[Stretch]) -> int:
        """Minutes of these periods in which the family wants it on."""
        return sum(max(0, min(end, last) - max(start, first)) for start, end in periods for first, last in self.on)

    def cut(self, period: Stretch, excess: int) -> Stretch:
        """The period without the excess: it ends earlier, or begins later where nobody could look at that hour."""
        start, end = period
        return (start, end - excess) if self.may_end(end - excess) else (start + excess, end)

    def grid(self, length: int = 0) -> list[int]:
        """The minutes at which a period of this length is tried to start: every five, and where it meets a point."""
        edges = [each for stretch in (*self.off, *self.on, *(self.removals or ())) for each in stretch]
        tried = {*range(0, self.room + 1, GRID), self.room - length, *edges, *(each - length for each in edges)}
        return sorted(minute for minute in tried if 0 <= minute <= self.room - length)


class _Laid(NamedTuple):
    """Periods laid so far, when the next may start, and how good they are: the lowest cost is the best."""

    ready: int
    cost: int
    periods: tuple[Stretch, ...]


NOTHING_LAID = _Laid(0, 0, ())


def divide(minutes: int, count: int) -> tuple[int, ...]:
    """So many whole parts of `minutes`, as equal as can be, the longer ones first."""
    part, over = divmod(minutes, count)
    return tuple(part + (number < over) for number in range(count))


def fit_around(wanted: int, usual: Sequence[Stretch], space: Space) -> tuple[Stretch, ...]:
    """The day's periods around its fixed points, where `usual` is their layout without them."""
    breaks = (max(USUAL_BREAK, space.break_minutes), space.break_minutes)
    for count in range(len(usual), max(len(usual), MOST_PERIODS) + 1):
        lengths = divide(wanted, count)
        if count > len(usual) and lengths[-1] < SHORTEST_PERIOD:
            break
        near = _near(usual, count)
        both = [_lay_equal(lengths, near, space, pause) for pause in breaks]
        found = [laid for laid in both if laid]
        if found:
            return max(found, key=space.covered)
    return _lay_most(wanted, divide(wanted, len(usual))[0], space)


def _near(usual: Sequence[Stretch], count: int) -> list[int]:
    """Where so many periods would start if spread as the usual ones are."""
    first, last = usual[0][0], usual[-1][0]
    if count == len(usual):
        return [start for start, _ in usual]
    return [first + (last - first) * number // (count - 1) for number in range(count)]


def _lay_equal(lengths: Sequence[int], near: Sequence[int], space: Space, pause: int) -> tuple[Stretch, ...]:
    """Periods of these lengths at the best legal starts; nothing where there are none."""
    laid = [NOTHING_LAID]
    for length, usual in zip(lengths, near, strict=True):
        starts = [start for start in space.grid(length) if space.holds(start, start + length)]
        laid = [_with(best, (start, start + length), usual, space, pause) for start, best in _best_by(starts, laid)]
    return _best(laid).periods if laid else ()


def _with(best: _Laid, period: Stretch, usual: int, space: Space, pause: int) -> _Laid:
    cost = best.cost + abs(period[0] - usual) - COVERED_FIRST * space.covered((period,))
    return _Laid(period[1] + pause, cost, (*best.periods, period))


def _lay_most(wanted: int, longest: int, space: Space) -> tuple[Stretch, ...]:
    """As much as fits, in the fewest periods that hold it, none longer than `longest`; cost counts minutes down."""
    best, laid = NOTHING_LAID, [NOTHING_LAID]
    for _ in range(MOST_PERIODS):
        laid = list(_lay_longest(laid, longest, space))
        best = _best([best, *laid])
        if not laid or -best.cost >= wanted:
            break
    return _shortened(best.periods, -best.cost - wanted, space)


def _lay_longest(laid: list[_Laid], longest: int, space: Space) -> Iterator[_Laid]:
    """Each legal end of one more period, with the start that gives most minutes in all."""
    grid = space.grid()
    starts = deque(_best_by(grid, laid))
    worth: deque[tuple[int, int, _Laid]] = deque()
    for end in grid:
        while starts and starts[0][0] <= end - min(SHORTEST_PERIOD, longest):
            start, best = starts.popleft()
            while worth and worth[-1][0] > best.cost + start:
                worth.pop()
            worth.append((best.cost + start, start, best))
        while worth and worth[0][1] < max(end - longest, space.free_since(end)):
            worth.popleft()
        if worth and space.holds(end - 1, end):
            cost, start, best = worth[0]
            yield _Laid(end + space.break_minutes, cost - end, (*best.periods, (start, end)))


def _best_by(starts: Iterable[int], laid: Sequence[_Laid]) -> Iterator[tuple[int, _Laid]]:
    """For each start, in order, the best of what is ready by then."""
    best, seen = None, 0
    for start in starts:
        while seen < len(laid) and laid[seen].ready <= start:
            best = laid[seen] if best is None else _best([best, laid[seen]])
            seen += 1
        if best is not None:
            yield start, best


def _best(laid: Iterable[_Laid]) -> _Laid:
    return min(laid, key=lambda each: (each.cost, each.periods))


def _shortened(periods: tuple[Stretch, ...], excess: int, space: Space) -> tuple[Stretch, ...]:
    """The same periods without the excess, taken from the last one back."""
    kept: list[Stretch] = []
    for start, end in reversed(periods):
        cut = min(max(0, excess), end - start - 1)
        excess -= cut
        kept.append(space.cut((start, end), cut))
    return tuple(reversed(kept))
