"""The rows of a printed day: when it goes on and off, and every look at the skin with its boxes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from followup.core import sentences
from followup.core.printed_sheet import WornLeg
from followup.core.wear_day import PlanState, SkinCheckTime, WearDay, WearPeriod
from followup.core.wear_protocol import LookKind
from followup.words.sheet_words import STAR, WHILE_ON, SheetWords

LOOKS_A_ROW = 2
Row = dict[str, Any]


def rows_of(day: WearDay, words: SheetWords, *, worn: bool) -> list[Row]:
    """The rows of a day, each with up to two looks; no times on and off where nobody takes it off (`worn` False)."""
    if not worn:
        return [_row("", "", looks) for looks in _pairs(_looks(day.checks, day, words))]
    return [row for period, checks in _by_period(day) for row in _rows_of_period(period, checks, day, words)]


def nothing_worn(day: WearDay, leg: WornLeg, words: SheetWords) -> str:
    """What a day without any row says."""
    if day.state is PlanState.LEAVE_ON:
        return words("week.leave_on")
    if day.state is PlanState.OFF or day.stopped_at is not None:
        return words("state.off_protective") if leg.protective else words("week.off")
    if day.state in (PlanState.AWAY, PlanState.ENDED):
        return words(f"state.{day.state.value}")
    return words("week.none")


def total_of(day: WearDay, words: SheetWords) -> str:
    """The day's minutes, such as "2 h in all"; empty where none are to be worn."""
    minutes = sum(period.minutes for period in day.open_periods)
    return words("week.total", amount=sentences.duration(minutes, words.language)) if minutes else ""


def column_words(leg_protective: bool, words: SheetWords) -> dict[str, str]:
    """The heads of the columns; nobody is told to take off what protects."""
    ending = "_protective" if leg_protective else ""
    heads = ("look", "clear", "mark", "minutes", "sore", "touch", "helper")
    return {
        "on": words(f"columns.on{ending}"),
        "off": words(f"columns.off{ending}"),
        **{each: words(f"columns.{each}") for each in heads},
    }


def signs_in(rows: Sequence[Row], words: SheetWords) -> list[str]:
    """What the signs after some of the times of these rows mean; nothing where there are none."""
    times = "".join(time for row in rows for time in (row["on"], row["off"], *row["looks"]))
    meanings = {STAR: "help.star", WHILE_ON: "help.while_on"}
    return [words(key) for sign, key in meanings.items() if sign in times]


def _by_period(day: WearDay) -> Iterator[tuple[WearPeriod, list[SkinCheckTime]]]:
    """Each period that still holds, with the looks from its start to the start of the next one."""
    periods = day.open_periods
    for index, period in enumerate(periods):
        later = [each.on_at for each in day.periods if each.on_at > period.on_at]
        checks = [
            check
            for check in day.checks
            if (index == 0 or check.at >= period.on_at) and (not later or check.at < min(later))
        ]
        yield period, checks


def _rows_of_period(period: WearPeriod, checks: Sequence[SkinCheckTime], day: WearDay, words: SheetWords) -> list[Row]:
    on, off = words.clock(period.on_at, day.on), words.clock(period.off_at, day.on)
    looks = _pairs(_looks(checks, day, words)) or [[]]
    return [_row(on, off, looks[0]), *(_row("", "", each) for each in looks[1:])]


def _looks(checks: Sequence[SkinCheckTime], day: WearDay, words: SheetWords) -> list[str]:
    return [words.clock(check.at, day.on) + WHILE_ON * (check.kind is LookKind.WHILE_ON) for check in checks]


def _pairs(looks: list[str]) -> list[list[str]]:
    return [looks[first : first + LOOKS_A_ROW] for first in range(0, len(looks), LOOKS_A_ROW)]


def _row(on: str, off: str, looks: Sequence[str]) -> Row:
    return {"on": on, "off": off, "looks": list(looks)}
