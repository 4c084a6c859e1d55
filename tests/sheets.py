"""Invented weeks to print: days made of local times, independent of how plans are replayed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from followup.core.plan_reason import Lead, Reason, ReasonCode
from followup.core.printed_sheet import ChartFacts, NumbersToRing, Standing, WornLeg
from followup.core.urgency import WearInstruction
from followup.core.wear_day import Basis, PlanState, SkinCheckTime, WearDay, WearPeriod
from followup.core.wear_protocol import LookKind

ZONE = ZoneInfo("Europe/Madrid")
MONDAY = date(2026, 3, 2)
QUILLMERE = NumbersToRing("Quillmere", "01632 960114", "01632 960180", "112")
ADDRESS = "https://follow.quillmere.example/c/aB3dE5gH7jK9mN1p"
WALKS = WornLeg("right", 30, by_touch=False, protective=False, cannot_stand=False)
NEEDS_HELP = replace(WALKS, side="left", by_touch=True, cannot_stand=True)
PROTECTED = replace(WALKS, protective=True)
TWICE = ("9:00-10:00", "15:00-16:00")
CYCLES = ("7:30-9:30", "10:30-12:30", "13:30-15:30", "16:30-18:30", "19:30-21:00", "22:00-7:00")
"""Five periods in the day and the night, which ends next morning."""


def at(on: date, clock: str, after: datetime | None = None) -> datetime:
    """The instant of a local time, on the next day where it would lie before `after`."""
    hour, _, minute = clock.partition(":")
    instant = datetime.combine(on, time(int(hour), int(minute)), ZONE)
    return instant if after is None or instant > after else instant + timedelta(days=1)


def worn(on: date, span: str) -> WearPeriod:
    start, _, end = span.partition("-")
    on_at = at(on, start)
    off_at = at(on, end, on_at)
    return WearPeriod(on_at, off_at, int((off_at - on_at).total_seconds() / 60))


def day(number: int, spans: Sequence[str] = TWICE, limit: int = 30, every: int | None = None, **facts: Any) -> WearDay:
    """A plan day worn in these spans, looked at on removal and `limit` minutes later, and every so many while on."""
    on = MONDAY + timedelta(days=number - 1)
    periods = tuple(worn(on, span) for span in spans)
    looks = [SkinCheckTime(each.off_at, LookKind.REMOVAL) for each in periods]
    looks += [SkinCheckTime(each.off_at + timedelta(minutes=limit), LookKind.AFTER_LIMIT) for each in periods]
    for each in periods if every else ():
        looks += [
            SkinCheckTime(each.on_at + timedelta(minutes=passed), LookKind.WHILE_ON)
            for passed in range(every or 1, each.minutes, every or 1)
        ]
    total = sum(each.minutes for each in periods)
    plain: dict[str, Any] = {
        "basis": Basis.RECORDED if number == 1 else Basis.PROJECTED,
        "state": PlanState.WEARING,
        "instruction": WearInstruction.AS_PLANNED,
        "reasons": (Reason(ReasonCode.CLEAR_CHECK, Lead.MORE, total),),
        **facts,
    }
    checks = tuple(sorted(looks, key=lambda each: each.at))
    return WearDay(
        day=number,
        on=on,
        issued_at=at(on, "6:00"),
        step=number,
        target_minutes=total,
        range_minutes=(total, total),
        periods=periods,
        checks=checks,
        **plain,
    )


def week(spans: Sequence[str] = TWICE, **facts: Any) -> tuple[WearDay, ...]:
    """Seven days alike from `MONDAY`."""
    return tuple(day(number, spans, **facts) for number in range(1, 8))


def chart(
    days: tuple[WearDay, ...] | None = None,
    leg: WornLeg = WALKS,
    standing: Standing = Standing.WEARING,
    **facts: Any,
) -> ChartFacts:
    """The week from `MONDAY`, printed that morning."""
    said = {"printed_at": at(MONDAY, "8:00"), "address": ADDRESS, **facts}
    return ChartFacts(
        leg=leg,
        ring=said.pop("ring", QUILLMERE),
        zone=ZONE,
        from_on=MONDAY,
        standing=standing,
        days=week() if days is None else days,
        **said,
    )
