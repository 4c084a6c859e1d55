"""Gathers what a printed chart or a round sheet says. Nothing is changed, and no link is made: paper only shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from followup.core.precaution import Precaution
from followup.core.printed_sheet import (
    DAYS_A_WEEK,
    Care,
    ChartFacts,
    NumbersToRing,
    RoundFacts,
    RoundLine,
    Standing,
    WornLeg,
    initials_of,
    standing_of,
    week_from,
)
from followup.core.sentences import LANGUAGES
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wear_day import WearDay
from followup.errors import InvalidInput, UnknownId
from followup.services.follow_plan import PlanRecord, load_plan
from followup.services.links import CaregiverLink, known_token, page_address
from followup.services.practice import Practice
from followup.storage import callbacks, orthoses, people

AHEAD_AT_MOST = 56
MOST_OF_A_ROUND = 60
_CARE = {Urgency.MEDICAL_TODAY: Care.DOCTOR, Urgency.EMERGENCY_NOW: Care.EMERGENCY}


@dataclass(frozen=True, slots=True)
class ChartToPrint:
    """A chart with the language of whoever it is for."""

    facts: ChartFacts
    language: str


@dataclass(frozen=True, slots=True)
class _Printable:
    """One plan as it stands: `days` reach at least to the days that are asked for."""

    record: PlanRecord
    leg: WornLeg
    standing: Standing
    care: Care
    days: tuple[WearDay, ...]


def gather_chart(
    practice: Practice, orthosis_id: int, now: datetime, from_on: date | None = None, *, initials: bool = False
) -> ChartToPrint:
    """The week of an orthosis from `from_on`, which is today unless given, for the caregiver on duty.

    `UnknownId` if there is no such orthosis, `InvalidInput` for a week that the plan does not hold.
    """
    with practice.store.read() as connection:
        plan = _see(connection, practice, orthosis_id, now, from_on)
        contact = _told_first(connection, plan.record)
        token = known_token(connection, practice, contact.id, orthosis_id, now) if contact else None
    address = page_address(practice, token) if token else ""
    leg = plan.leg if initials else replace(plan.leg, initials="")
    language = contact.language if contact and contact.language in LANGUAGES else LANGUAGES[0]
    return ChartToPrint(_chart(practice, replace(plan, leg=leg), now, from_on, address), language)


def gather_chart_behind(practice: Practice, link: CaregiverLink, now: datetime) -> ChartToPrint | None:
    """The week from today for whoever opened `link`; None for somebody who may report but not be told."""
    if not link.may_be_told:
        return None
    with practice.store.read() as connection:
        plan = _see(connection, practice, link.orthosis_id, now, None)
    unnamed = replace(plan, leg=replace(plan.leg, initials=""))
    return ChartToPrint(_chart(practice, unnamed, now, None, page_address(practice, link.token)), link.language)


def orthoses_with(practice: Practice, contact: str) -> tuple[int, ...]:
    """The orthoses, oldest first, whose caregiver on duty has that address or phone number; `UnknownId` for none."""
    with practice.store.read() as connection:
        found = people.on_duty_at(connection, contact.strip()) if contact.strip() else []
        ids = {each for person in found for each in orthoses.of_wearer(connection, person.wearer_id)}
    if not ids:
        message = "Nobody on duty has that address or phone number; write it as it was given at delivery."
        raise UnknownId("unknown_contact", message, "contact")
    return tuple(sorted(ids))


def gather_round(practice: Practice, orthosis_ids: Sequence[int], on: date, now: datetime) -> RoundFacts:
    """The day `on` of those orthoses, in this order, each once; plans that have ended are left out.

    Wearers are known by initials, with their reference where two share them.
    """
    wanted = tuple(dict.fromkeys(orthosis_ids))
    if not 0 < len(wanted) <= MOST_OF_A_ROUND:
        message = f"Choose at least one orthosis, and at most {MOST_OF_A_ROUND}."
        raise InvalidInput("bad_round", message, "orthoses")
    with practice.store.read() as connection:
        plans = [_see(connection, practice, each, now, on) for each in wanted]
    going_on = [plan for plan in plans if plan.standing is not Standing.ENDED]
    lines = tuple(_line(plan, on, whose) for plan, whose in zip(going_on, _told_apart(going_on), strict=True))
    return RoundFacts(on, practice.facts.hours.zone, now, _ring(practice), lines)


def _line(plan: _Printable, on: date, whose: str) -> RoundLine:
    day = next((each for each in plan.days if each.on == on), None)
    return RoundLine(replace(plan.leg, initials=whose), plan.record.goal.zone, plan.standing, day, plan.care)


def _told_apart(plans: Iterable[_Printable]) -> list[str]:
    """Initials, with the practice's own reference wherever two wearers of the round share them."""
    whose = {plan.record.wearer["id"]: plan for plan in plans}
    shared = Counter(plan.leg.initials for plan in whose.values())
    return [
        plan.leg.initials
        if shared[plan.leg.initials] == 1 and plan.leg.initials
        else f"{plan.leg.initials} {plan.record.wearer['reference']}".strip()
        for plan in plans
    ]


def _see(
    connection: Connection, practice: Practice, orthosis_id: int, now: datetime, wanted_on: date | None
) -> _Printable:
    record = load_plan(connection, practice, orthosis_id, now)
    waiting = callbacks.open_of(connection, orthosis_id)
    today_on = record.on(now)
    ahead = max(((wanted_on or today_on) - today_on).days, (record.day_one - today_on).days, 0)
    if ahead > AHEAD_AT_MOST:
        message = f"A plan is foreseen for {AHEAD_AT_MOST} days at most; choose an earlier day."
        raise InvalidInput("too_far_ahead", message, "from")
    days = record.days(now, ahead=ahead + DAYS_A_WEEK) if record.started_at else ()
    return _Printable(record, _leg(record), _standing(record, days, waiting, now), _care(waiting), days)


def _leg(record: PlanRecord) -> WornLeg:
    return WornLeg(
        record.orthosis["side"],
        record.limit_minutes,
        record.terms.by_touch,
        Precaution.PROTECTIVE in record.precautions,
        record.without.cannot_stand_alone,
        initials_of(record.wearer["name"]),
    )


def _standing(
    record: PlanRecord, days: Iterable[WearDay], waiting: Mapping[str, Any] | None, now: datetime
) -> Standing:
    if record.ended_at is not None:
        return Standing.ENDED
    if record.started_at is None:
        return Standing.NOT_STARTED
    today = next((day for day in days if day.on == record.on(now)), None)
    return standing_of(today, now, WearInstruction(waiting["instruction"]) if waiting else None)


def _care(waiting: Mapping[str, Any] | None) -> Care:
    return _CARE.get(Urgency(waiting["urgency"]), Care.NONE) if waiting else Care.NONE


def _chart(practice: Practice, plan: _Printable, now: datetime, wanted_on: date | None, address: str) -> ChartFacts:
    first_on = plan.days[0].on if plan.days else plan.record.on(now)
    from_on = wanted_on or max(plan.record.on(now), first_on)
    if plan.days and from_on + timedelta(days=DAYS_A_WEEK) <= first_on:
        raise InvalidInput("before_the_plan", f"The plan begins on {first_on}; choose a week that holds it.", "from")
    return ChartFacts(
        plan.leg,
        _ring(practice),
        plan.record.goal.zone,
        now,
        from_on,
        plan.standing,
        week_from(plan.days, from_on),
        "" if plan.standing is Standing.ENDED else address,
        plan.care,
    )


def _told_first(connection: Connection, record: PlanRecord) -> people.Contact | None:
    """The caregiver on duty who may be told; else whoever else may be."""
    contacts = people.contacts_of(connection, [record.wearer["id"]])[record.wearer["id"]]
    return next((each for each in contacts if each.may_be_told), None)


def _ring(practice: Practice) -> NumbersToRing:
    facts = practice.facts
    return NumbersToRing(facts.name, facts.phone, facts.out_of_hours_phone, facts.emergency_number)
