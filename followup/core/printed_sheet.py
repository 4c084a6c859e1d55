"""What a sheet of paper is printed from: the week of one plan, or one day of several wearers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

from followup.core.urgency import WearInstruction
from followup.core.wear_day import PlanState, WearDay

DAYS_A_WEEK = 7
MOST_INITIALS = 4


class Standing(StrEnum):
    """How a plan stands at the instant of printing; times are printed only while it is `WEARING`."""

    NOT_STARTED = "not_started"
    WEARING = "wearing"
    LEAVE_ON = "leave_on"
    OFF = "off"
    AWAY = "away"
    ENDED = "ended"


class Care(StrEnum):
    """Other care that an open call asks for."""

    NONE = ""
    DOCTOR = "doctor"
    EMERGENCY = "emergency"


@dataclass(frozen=True, slots=True)
class NumbersToRing:
    """Whom to ring. An empty name or number is a blank to fill in by hand."""

    practice: str = ""
    phone: str = ""
    out_of_hours_phone: str = ""
    emergency_number: str = ""


@dataclass(frozen=True, slots=True)
class WornLeg:
    """One orthosis as paper needs to know it.

    `side` is ``left``, ``right`` or empty where it is not known; `initials` are empty where nobody is to be told whose
    sheet it is.
    """

    side: str
    limit_minutes: int
    by_touch: bool
    protective: bool
    cannot_stand: bool
    initials: str = ""


@dataclass(frozen=True, slots=True)
class ChartFacts:
    """One week of a plan, or several: `days` are those to print, in order, from `from_on`.

    `address` is the caregiver's page, empty where it is not known.
    """

    leg: WornLeg
    ring: NumbersToRing
    zone: ZoneInfo
    printed_at: datetime
    from_on: date
    standing: Standing
    days: tuple[WearDay, ...]
    address: str = ""
    care: Care = Care.NONE


@dataclass(frozen=True, slots=True)
class RoundLine:
    """One wearer of a round; `day` is None where the plan has none on that date."""

    leg: WornLeg
    zone: ZoneInfo
    standing: Standing
    day: WearDay | None
    care: Care = Care.NONE


@dataclass(frozen=True, slots=True)
class RoundFacts:
    """One day of several wearers, in the order of the round; `zone` is the practice's."""

    on: date
    zone: ZoneInfo
    printed_at: datetime
    ring: NumbersToRing
    lines: tuple[RoundLine, ...]


def standing_of(today: WearDay | None, now: datetime, asked: WearInstruction | None = None) -> Standing:
    """How a plan that has begun stands; `asked` is what an open call says.

    "Leave it on" counts from either. "Off" is the plan's to say where it has a day: a clinician's newer word is in it.
    """
    state = today.state if today else None
    told = {asked, today.instruction if today else None}
    stopped = today is not None and today.stopped_at is not None and today.stopped_at <= now
    if state is PlanState.ENDED:
        return Standing.ENDED
    if state is PlanState.AWAY:
        return Standing.AWAY
    if state is PlanState.LEAVE_ON or WearInstruction.LEAVE_ON_AS_ORDERED in told:
        return Standing.LEAVE_ON
    if state is PlanState.OFF or stopped or (today is None and asked is WearInstruction.OFF_UNTIL_WE_SPEAK):
        return Standing.OFF
    return Standing.WEARING


def week_from(days: Iterable[WearDay], from_on: date) -> tuple[WearDay, ...]:
    """The days of the week that begins on `from_on`."""
    return tuple(day for day in days if 0 <= (day.on - from_on).days < DAYS_A_WEEK)


def initials_of(name: str) -> str:
    """The first letter of each part of a name, such as ``A. T.``; what is no letter is left out."""
    firsts = (next((letter for letter in part if letter.isalpha()), "") for part in name.replace("-", " ").split())
    return " ".join(f"{letter.upper()}." for letter in [each for each in firsts if each][:MOST_INITIALS])
