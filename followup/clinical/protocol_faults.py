"""What makes a schedule one that nobody can follow, found before any plan is made from it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from followup.clinical.protocol_file import Fault, LadderTable, Pair, ProtocolFile, ThenTable
from followup.core.wear_protocol import Discomfort, LadderEnd
from followup.core.wearing_goal import DAY_MINUTES, Activity

USUAL_WINDOW_MINUTES = 840
"""The hours in which it may be worn where nothing else is prescribed, 07:30 to 21:30 (common practice)."""

DAYS_OF_A_WEEK = 7


def find_faults(file: ProtocolFile, source_keys: Sequence[str]) -> Iterator[Fault]:
    """Every reason why the schedule can't be followed, or can't be traced to its document."""
    for key, value in (("source", file.source), ("mark_limit_source", file.mark_limit_source)):
        if value not in source_keys:
            yield Fault(key, f"write the key of a row in the sources, such as S01; there is no {value}")
    for number, row in enumerate(file.ladder, 1):
        yield from _row_faults(row, f"ladder.{number}", file.mark_limit_minutes)
    yield from _day_faults(file.ladder)
    yield from _alternative_faults(file.ladder)
    yield from _falling_faults(file.ladder)
    yield from _end_faults(file)
    yield from _discomfort_faults(file)


def days_of(rows: Sequence[LadderTable]) -> Iterator[tuple[int, Fault | None]]:
    """For how many wear steps each row stands, and what is wrong with its days.

    A day or a week that two rows share belongs to the earlier row, the lower one. First steps for different wearers
    stand for the same days.
    """
    ended = 0
    for number, row in enumerate(rows, 1):
        if row.when and number > 1 and rows[number - 2].when:
            ended = 0
        first, last, shared_from, key = _printed(row, ended)
        lasts = last - max(first, ended + 1) + 1
        yield max(1, lasts), _day_fault(f"ladder.{number}.{key}", first, lasts, shared_from, ended)
        ended = max(last, ended + 1)


def _printed(row: LadderTable, ended: int) -> tuple[int, int, int, str]:
    """First and last day of a row, the first day of its first day or week if shared, and the key that says so."""
    unit, span, key = (DAYS_OF_A_WEEK, row.weeks, "weeks") if row.weeks is not None else (1, row.days, "days")
    if isinstance(span, tuple):
        first = unit * (span[0] - 1) + 1
        return first, unit * span[1], ended + 1 - unit, key
    return ended + 1, ended + (row.sessions or (span or 1) * unit), ended + 1, key


def _day_fault(key: str, first: int, lasts: int, shared_from: int, ended: int) -> Fault | None:
    if first > ended + 1:
        return Fault(key, f"close the gap: day {ended + 1} is in no row, and this one begins on day {first}")
    if first not in (ended + 1, shared_from):
        return Fault(key, f"begin on day {ended + 1}, or share the last day of the row before: these rows overlap")
    if lasts < 1:
        return Fault(key, f"end after day {ended}: the row before holds every day of this one")
    return None


def _day_faults(rows: Sequence[LadderTable]) -> Iterator[Fault]:
    for number, row in enumerate(rows, 1):
        if sum(each is not None for each in (row.days, row.weeks, row.sessions)) > 1:
            yield Fault(f"ladder.{number}", "write one of days, weeks and sessions")
    yield from (fault for _, fault in days_of(rows) if fault)


def _row_faults(row: LadderTable, key: str, break_minutes: int) -> Iterator[Fault]:
    stated = [row.minutes, row.minutes_each, row.on, row.removals]
    if sum(each is not None for each in stated) != 1:
        yield Fault(key, "say how long it is worn by one of minutes, minutes_each, on with off, or removals")
    if (row.on is None) != (row.off is None):
        yield Fault(f"{key}.off", "write on and off together: minutes on, and minutes off after it")
    if row.minutes_each and not row.periods:
        yield Fault(f"{key}.periods", "write how many periods a day have these minutes each")
    if row.periods and (row.on or row.removals):
        yield Fault(f"{key}.periods", "take periods out: on with off, or removals, say how the day is divided")
    if row.off and row.off[0] < break_minutes:
        yield Fault(f"{key}.off", f"write breaks of at least {break_minutes} minutes: so long may a mark last")
    yield from _room_faults(row, key, break_minutes)


def _room_faults(row: LadderTable, key: str, break_minutes: int) -> Iterator[Fault]:
    """A time that the usual window can't hold. "Full wear" is capped by the wearing goal, so it is let by."""
    over = f"write at most {USUAL_WINDOW_MINUTES} minutes, the usual window from 07:30 to 21:30"
    if row.on and row.on[1] > USUAL_WINDOW_MINUTES:
        yield Fault(f"{key}.on", over)
    if row.minutes and not row.nights and USUAL_WINDOW_MINUTES < row.minutes[0] < DAY_MINUTES:
        yield Fault(f"{key}.minutes", f'{over}, or "full_wear"')
    if row.minutes_each and _held(row.minutes_each, row.periods, break_minutes) > USUAL_WINDOW_MINUTES:
        yield Fault(f"{key}.minutes_each", f"{over}, for all periods and the breaks between them")
    if row.removals and row.removals[1] * break_minutes >= DAY_MINUTES:
        yield Fault(f"{key}.removals", "write fewer: the breaks fill the day")


def _held(each: Pair, periods: int, break_minutes: int) -> int:
    return periods * each[1] + (periods - 1) * break_minutes


def _alternative_faults(rows: Sequence[LadderTable]) -> Iterator[Fault]:
    """First steps that depend on the wearer: one for each kind of wearer, before all others."""
    asked = [row.when for row in rows if row.when]
    if asked and sorted(asked) != sorted(Activity):
        yield Fault("ladder.1.when", "write one first row for each of: " + ", ".join(Activity))
    for number, row in enumerate(rows[len(asked) :], len(asked) + 1):
        if row.when:
            yield Fault(f"ladder.{number}.when", "write the rows with when before all others")


def _falling_faults(rows: Sequence[LadderTable]) -> Iterator[Fault]:
    """No step may be shorter than one before it, by the day in all or, in cycles, by each stretch."""
    most: dict[str, Pair] = {}
    for number, row in enumerate(rows, 1):
        for name, band in (("minutes", total_minutes(row)), ("on", row.on)):
            before = most.get(name)
            if band is None or row.when:
                continue
            if before and (band[0] < before[0] or band[1] < before[1]):
                shown = "minutes_each" if name == "minutes" and row.minutes_each else name
                yield Fault(f"ladder.{number}.{shown}", f"write at least {list(before)}: the steps may never fall")
            most[name] = band


def total_minutes(row: LadderTable) -> Pair | None:
    """Minutes a day in all, where the row states minutes."""
    if row.minutes_each:
        return row.periods * row.minutes_each[0], row.periods * row.minutes_each[1]
    return row.minutes


def _end_faults(file: ProtocolFile) -> Iterator[Fault]:
    last, number = file.ladder[-1], len(file.ladder)
    if any(row.removals for row in file.ladder):
        if number > 1 or file.then is not None:
            yield Fault("ladder", "write one row only, and no then: with removals there is no ramp")
        return
    reaches_full = last.minutes is not None and last.minutes[0] == DAY_MINUTES
    if file.then is None and not reaches_full:
        yield Fault("then", 'say how it goes on: a [then] table, or then = "clinician" where the document does not say')
    if file.then is not None and reaches_full:
        yield Fault("then", "take this key out: the last row is full wear")
    if isinstance(file.then, ThenTable):
        yield from _growth_faults(file.then, last)


def _growth_faults(then: ThenTable, last: LadderTable) -> Iterator[Fault]:
    if sum((then.add_minutes is not None, then.add_minutes_each is not None, then.double)) != 1:
        yield Fault("then", "say how it grows, or it has no end: one of add_minutes, add_minutes_each, double = true")
    total = total_minutes(last)
    if total is None:
        yield Fault("then", "write further [[ladder]] rows instead: only stated minutes can grow")
    if then.add_minutes_each and not last.periods:
        yield Fault("then.add_minutes_each", "write periods in the last [[ladder]] row, or add_minutes")
    if then.until_minutes and total and then.until_minutes <= total[0]:
        yield Fault("then.until_minutes", f"write more than the {total[0]} minutes of the last row")
    if (then.until_minutes is None) != (then.after is None):
        yield Fault("then.after", "write until_minutes and after together: until when it grows, and what comes then")


def _discomfort_faults(file: ProtocolFile) -> Iterator[Fault]:
    goes_back = file.discomfort.do is Discomfort.LAST_TOLERATED
    if goes_back != (file.discomfort.smaller_step_minutes is not None):
        yield Fault("discomfort.smaller_step_minutes", 'write it with do = "last_tolerated", and with nothing else')


def ends_in(file: ProtocolFile) -> LadderEnd:
    """What follows the last step that the document states."""
    if isinstance(file.then, ThenTable):
        return file.then.after or LadderEnd.FULL_WEAR
    return file.then or LadderEnd.FULL_WEAR
