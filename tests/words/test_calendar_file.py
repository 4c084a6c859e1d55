from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from followup.core.plan_calendar import CalendarEntry, calendar_entries, revisions
from followup.core.plan_event import PlanEvent
from followup.core.plan_event_json import parse_event
from followup.words.calendar_file import CalendarFacts, write_calendar
from tests.wearing import ASHA, Wearer
from tests.words.an_importing_calendar import Held, ImportingCalendar, read

PLAIN = CalendarFacts("en", "01632 960114", 20, protective=False, cannot_stand=False)
NO_EVENTS: tuple[PlanEvent, ...] = ()


def entries(wearer: Wearer, events: Sequence[PlanEvent], now: datetime) -> tuple[CalendarEntry, ...]:
    def plan(at: datetime) -> Any:
        return wearer.plan(list(events), 40, as_of=at)

    revised_at = revisions(wearer.at(1, "05:00"), plan(now), events, now)
    return calendar_entries("asha-left", wearer.goal.zone, events, plan, revised_at)


def file_at(wearer: Wearer, events: Sequence[PlanEvent], now: datetime, facts: CalendarFacts = PLAIN) -> bytes:
    return write_calendar(entries(wearer, events, now), facts)


def known_at(events: Sequence[PlanEvent], now: datetime) -> list[PlanEvent]:
    return [each for each in events if each.recorded_at <= now]


def wear(held: Sequence[Held]) -> list[Held]:
    return [each for each in held if each.summary.startswith("Wear") and each.status != "CANCELLED"]


def moved(day: int, zone: str) -> PlanEvent:
    at = ASHA.at(day, "12:00").isoformat()
    data = {"zone": zone, "from_on": ASHA.on(day + 1).isoformat()}
    return parse_event({"id": "moved", "type": "zone_change", "occurred_at": at, "recorded_at": at, "data": data})


HISTORIES = {
    "a stop": [*ASHA.clear(1, 2), ASHA.check(3, "sore", at="09:20")],
    "a stop and a restart": [ASHA.check(2, "sore", at="09:20"), ASHA.word(2, "restart", from_day=4)],
    "a shorter time": [*ASHA.clear(1, 2, 3, 4), ASHA.word(5, "shorter", from_day=6)],
    "another zone": [*ASHA.clear(1, 2, 3), moved(4, "America/New_York")],
    "silence": [],
}


@pytest.mark.parametrize("events", HISTORIES.values(), ids=HISTORIES)
@pytest.mark.parametrize("imported_on", [(1,), (1, 2), (2, 4), (1, 2, 3, 4, 5)])
def test_a_plan_imported_again_is_the_plan_once(events: list[PlanEvent], imported_on: tuple[int, ...]) -> None:
    """RFC 5546, 2.1.4 and 2.1.5: UID and SEQUENCE say what replaces what."""
    family, now = ImportingCalendar(), ASHA.at(6, "23:00")
    for day in imported_on:
        family.take(file_at(ASHA, known_at(events, ASHA.at(day, "08:00")), ASHA.at(day, "08:00")))
    family.take(file_at(ASHA, events, now))
    fresh = ImportingCalendar()
    fresh.take(file_at(ASHA, events, now))
    assert family.shown() == fresh.shown()


def test_every_period_and_look_is_read_back_at_its_instant() -> None:
    now = ASHA.at(1, "12:00")
    ahead = [day for day in ASHA.plan([], 40, as_of=now) if day.on <= ASHA.on(15)]
    held = read(file_at(ASHA, NO_EVENTS, now))
    assert {(each.starts, each.ends) for each in wear(held)} == {
        (period.on_at, period.off_at) for day in ahead for period in day.periods
    }
    assert {each.starts for each in held if each.summary == "Look at the skin"} == {
        look.at for day in ahead for look in day.checks
    }


def test_on_the_day_the_clock_changes_the_words_are_the_family_s_clock() -> None:
    """Europe/Madrid goes to summer time on 29 March 2026: 9:00 is 7:00 UTC from then on."""
    spring = Wearer(delivered_on=date(2026, 3, 28))
    held = wear(read(file_at(spring, NO_EVENTS, spring.at(1, "12:00"))))
    assert [(each.starts, each.summary[:12]) for each in held[:2]] == [
        (datetime(2026, 3, 28, 8, tzinfo=UTC), "Wear 9:00 to"),
        (datetime(2026, 3, 29, 7, tzinfo=UTC), "Wear 9:00 to"),
    ]


def test_the_same_plan_is_the_same_bytes() -> None:
    events, now = HISTORIES["a stop and a restart"], ASHA.at(5, "12:00")
    assert file_at(ASHA, events, now) == file_at(ASHA, events[::-1], now)


def test_lines_are_folded_and_commas_escaped() -> None:
    """RFC 5545, 3.1 and 3.3.11: at most 75 octets a line, CRLF, and a backslash before a comma."""
    made = file_at(ASHA, NO_EVENTS, ASHA.at(1, "12:00"), replace(PLAIN, language="es"))
    assert max(len(line) for line in made.split(b"\r\n")) <= 75
    assert b"\n" not in made.replace(b"\r\n", b"")
    assert "luego quíteselo".encode() in made.replace(b"\r\n ", b"")
    assert b"\\, " in made


def test_a_time_that_is_not_fixed_says_what_it_depends_on_and_its_alarm_too() -> None:
    held = wear(read(file_at(ASHA, ASHA.clear(1), ASHA.at(2, "08:00"))))
    assert (held[1].status, held[1].summary, held[1].alarms) == (
        "CONFIRMED",
        "Wear 9:00 to 10:00",
        ("Wear 9:00 to 10:00",),
    )
    assert (held[2].status, held[2].summary) == ("TENTATIVE", "Wear 9:00 to 10:00, if the skin stays clear")
    assert held[2].alarms == ("Only if the skin was clear: wear 9:00 to 10:00.",)


def test_what_is_cancelled_rings_no_more() -> None:
    held = read(file_at(ASHA, HISTORIES["a stop"], ASHA.at(3, "10:00")))
    gone = [each for each in held if each.status == "CANCELLED"]
    assert gone
    assert {each.alarms for each in gone} == {()}


def test_when_to_stop_and_whom_to_ring_comes_first() -> None:
    held = read(file_at(ASHA, NO_EVENTS, ASHA.at(1, "12:00")))
    assert all(each.description.startswith("Stop and ring us on 01632 960114") for each in held)


def test_who_cannot_stand_is_told_to_sit_or_lie_down_first() -> None:
    held = read(file_at(ASHA, NO_EVENTS, ASHA.at(1, "12:00"), replace(PLAIN, cannot_stand=True)))
    assert all("Do not stand up alone without it." in each.description for each in held)


@pytest.mark.parametrize("language", ["en", "es"])
def test_what_protects_the_leg_is_never_told_to_come_off(language: str) -> None:
    guarded = Wearer(precautions=("protective",))
    facts = replace(PLAIN, protective=True, language=language)
    held = read(file_at(guarded, [guarded.check(1, "sore", at="09:40")], guarded.at(3, "12:00"), facts))
    said = " ".join(f"{each.summary} {each.description}" for each in held).lower()
    assert not any(words in said for words in ("take it off sitting", "then take it off", "quíteselo"))
    current = [each for each in held if each.status != "CANCELLED" and each.starts == guarded.on(3)]
    assert [each.alarms for each in current] == [()]


def test_a_family_with_two_legs_to_look_after_is_told_which() -> None:
    held = read(file_at(ASHA, NO_EVENTS, ASHA.at(1, "12:00"), replace(PLAIN, side="left")))
    assert {each.summary.partition(":")[0] for each in held} == {"Left leg"}


def test_the_file_says_what_it_is_and_how_often_to_ask_and_names_nobody() -> None:
    facts = replace(PLAIN, page="https://example.org/c/t", feed="https://example.org/c/t/calendar.ics")
    head = file_at(ASHA, NO_EVENTS, ASHA.at(1, "12:00"), facts).decode().partition("BEGIN:VEVENT")[0]
    for line in ("METHOD:PUBLISH", "NAME:Wear times", "REFRESH-INTERVAL;VALUE=DURATION:PT1H", "SOURCE;VALUE=URI:"):
        assert line in head
    made = file_at(ASHA, NO_EVENTS, ASHA.at(1, "12:00"), facts).decode()
    assert not [word for word in ("ORGANIZER", "ATTENDEE", "Asha", "orthosis", "s01") if word in made]
