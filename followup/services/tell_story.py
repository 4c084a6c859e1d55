"""What was said and done about one orthosis, in order, in sentences; and the facts of its wearer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection

from followup.core.finding import CANT_SAY
from followup.core.finding_words import NOT_ALL_ANSWERED, say_finding
from followup.core.fixed_points import write_fixed_points
from followup.core.urgency import WearInstruction
from followup.services.follow_plan import PlanRecord
from followup.services.practice import Practice
from followup.services.tell_changes import say_change
from followup.storage import callbacks, outbox, people, reports
from followup.storage.people import Contact

CHANNELS = {"link": "On the page", "text": "By text", "phone": "By phone", "email": "By e-mail", "import": "By file"}
STATES = {
    "accepted": "taken by the network",
    "in_doubt": "it may not have arrived",
    "refused": "refused by the network",
}
KINDS = {
    "test": "the test message",
    "delivery_day": "the first day’s times",
    "times": "the day’s times",
    "check_prompt": "a prompt to look at the skin",
    "question": "the question for the day",
    "same_time": "the same time again",
    "shorter_time": "a shorter time",
    "off_until_we_speak": "off until we speak",
    "resume": "when to begin again",
    "rests": "that the plan rests",
    "waits": "that the plan waits",
    "hours_changed": "the changed times",
    "plan_ended": "that the plan has ended",
}


@dataclass(frozen=True, slots=True)
class StoryLine:
    """One thing that happened, as a sentence, with its instant."""

    at: datetime
    text: str


@dataclass(frozen=True, slots=True)
class WearerFacts:
    """What is known of a wearer beside the story; words for people."""

    wearer_name: str
    reference: str
    side: str
    construction: tuple[str, ...]
    precautions: tuple[str, ...]
    without: str
    contacts: tuple[Contact, ...]
    protocol_title: str
    full_wear_minutes: int
    limit_minutes: int
    delivered_on: date
    identifier: str
    lot: str
    window: str
    fixed_points: str
    checker: str


def facts_of_wearer(connection: Connection, record: PlanRecord) -> WearerFacts:
    """The facts beside the story."""
    row, wearer, goal = record.orthosis, record.wearer, record.goal
    words = (row["material"], f"shell {row['shell']}", f"{row['strut']} strut", f"{row['heel'].replace('_', ' ')} heel")
    return WearerFacts(
        wearer["name"],
        wearer["reference"],
        row["side"],
        words,
        tuple(sorted(each.value for each in record.precautions)),
        record.without.value,
        tuple(people.contacts_of(connection, [wearer["id"]])[wearer["id"]]),
        record.protocol.title,
        goal.full_wear_minutes,
        record.limit_minutes,
        row["delivered_on"],
        row["identifier"],
        row["lot"],
        f"{goal.window_start:%H:%M}-{goal.window_end:%H:%M}",
        write_fixed_points(goal.fixed_points),
        row["checker"],
    )


def story_of(connection: Connection, practice: Practice, record: PlanRecord, since: datetime) -> tuple[StoryLine, ...]:
    """Reports, results, instructions, messages and calls of an orthosis since then, oldest first."""
    names = people.staff_names(connection)
    lines = [
        *_reports(
            connection,
            practice,
            reports.reports_of(connection, record.orthosis_id, since),
            names,
            record.limit_minutes,
        ),
        *_changes(practice, record, since, names),
        *_messages(connection, record, since),
        *_calls(connection, record, since, names),
    ]
    return tuple(sorted(lines, key=lambda line: line.at))


def story_of_reports(
    connection: Connection, practice: Practice, rows: Iterable[Mapping[str, Any]]
) -> tuple[StoryLine, ...]:
    """What was said in reports that belong to no known orthosis, with what they led to."""
    return tuple(_reports(connection, practice, rows, people.staff_names(connection)))


def _reports(
    connection: Connection,
    practice: Practice,
    rows: Iterable[Mapping[str, Any]],
    names: Mapping[int, str],
    limit_minutes: int | None = None,
) -> Iterator[StoryLine]:
    for row in rows:
        contact = people.contact_of(connection, row["contact_id"]) if row["contact_id"] else None
        who = contact.name if contact else "somebody else"
        writer = names.get(row["staff_id"])
        who += f", written down by {writer}" if writer else ""
        result = reports.newest_result(connection, row["id"])
        yield StoryLine(
            row["begun_at"], f"{CHANNELS[row['channel']]}, {who}: {_said(practice, row, result, limit_minutes)}"
        )
        if result:
            urgency = practice.rules.urgency_words[result["urgency"]]["en"]["staff"]
            wear = WearInstruction(result["instruction"]).value.replace("_", " ")
            because = "; ".join(fired["label"] for fired in result["fired"][:2])
            yield StoryLine(result["at"], f"Result: {urgency}; {wear}." + (f" Because: {because}." if because else ""))


def _said(
    practice: Practice, row: Mapping[str, Any], result: Mapping[str, Any] | None, limit_minutes: int | None
) -> str:
    rules = practice.rules
    worse = [
        say_finding(rules, id, value, limit_minutes)
        for id, value in row["findings"].items()
        if id in rules.findings and (value == CANT_SAY or value != rules.findings[id].best)
    ]
    if row["place"] and row["place"] != CANT_SAY:
        place = next((each.words["en"] for each in practice.places if each.id == row["place"]), row["place"])
        worse.append(f"{place[:1].lower()}{place[1:]}")
    quoted = f"“{row['text']}” " if row["text"] else ""
    whole = result is not None and result["urgency"] == result["floor"]
    if not whole:
        worse.append("not finished yet" if row["state"] == "open" else NOT_ALL_ANSWERED)
    return f"{quoted}{'; '.join(worse) or 'nothing amiss'}."


def _changes(practice: Practice, record: PlanRecord, since: datetime, names: Mapping[int, str]) -> Iterator[StoryLine]:
    for event in record.events:
        words = say_change(event.data, names, practice.protocols)
        if words and event.recorded_at >= since:
            yield StoryLine(event.recorded_at, words)


def _messages(connection: Connection, record: PlanRecord, since: datetime) -> Iterator[StoryLine]:
    for row in outbox.messages_of(connection, record.orthosis_id, since):
        what = KINDS.get(row["kind"], row["kind"])
        yield StoryLine(row["settled_at"], f"We sent {what}; {STATES[row['state']]}.")


def _calls(
    connection: Connection, record: PlanRecord, since: datetime, names: Mapping[int, str]
) -> Iterator[StoryLine]:
    for row in callbacks.closed_of(connection, record.orthosis_id, since):
        by = names.get(row["closed_by"], "A clinician")
        yield StoryLine(row["closed_at"], f"{by} closed the call ({row['outcome'].replace('_', ' ')}): {row['note']}")
