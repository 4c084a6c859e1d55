"""Reports: one engine for the caregiver's page, the phone log and a text reply. Every answer is kept at once.

A report is begun with what was said first, answered question by question, and finished by its reporter or, if left
alone, by the tick as it stands: what was never answered stays unknown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from followup.core.derived_findings import (
    DAYS_WORN_TOO_LITTLE,
    DERIVED,
    REPEAT_PLACE,
    EarlierMark,
    days_worn_too_little,
    repeats_at,
)
from followup.core.finding import CANT_SAY, Answer
from followup.core.interview import (
    Question,
    QuestionKind,
    apply_answer,
    next_question,
    question_called,
    state_findings,
)
from followup.core.precaution import Precaution
from followup.core.skin_report import found_mark
from followup.core.triage import Facts, TriageResult, triage
from followup.core.urgency import Urgency
from followup.core.wear_day import WearDay
from followup.errors import InvalidInput, UnknownId
from followup.services.follow_plan import PlanRecord, day_reported_on, load_plan
from followup.services.follow_up import follow_up
from followup.services.practice import Practice
from followup.storage import callbacks, orthoses, reports
from followup.storage.audit import write_entry

TWICE_WITHIN = timedelta(minutes=2)
LEFT_ALONE = timedelta(minutes=30)
ACTED_ON_AT_ONCE = Urgency.CLINICIAN_NEXT_DAY
ENOUGH_DOUBT = 3
"""After so many "not sure" to urgent questions a family is asked no more: a person rings them."""
RECENT = timedelta(days=3)
PLACE, WORN, TOUCH = "place", "worn_minutes", "by_touch"
YES_NO = {"yes": True, "no": False, CANT_SAY: None}
MOST_MINUTES = 24 * 60


@dataclass(frozen=True, slots=True)
class ReportSource:
    """Where a report comes from. Without an orthosis it is an unknown caller's; anyone may report.

    `by_touch` is True where the words answered to say that the skin was felt as well as looked at.
    """

    channel: str
    orthosis_id: int | None = None
    contact_id: int | None = None
    staff_id: int | None = None
    text: str = ""
    by_touch: bool | None = None

    @property
    def actor(self) -> str:
        """The source as the audit trail names it."""
        if self.staff_id is not None:
            return f"staff:{self.staff_id}"
        return f"contact:{self.contact_id}" if self.contact_id is not None else "unknown"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a report has come. `question` is None when nothing more can change the result."""

    report_id: int
    orthosis_id: int | None
    contact_id: int | None
    channel: str
    text: str
    state: str
    facts: Facts
    question: Question | None
    asked: int
    at_most: int
    result: TriageResult
    callback_id: int | None
    callback_due_at: datetime | None
    history: tuple[tuple[str, str], ...]
    begun_at: datetime


def begin_report(practice: Practice, source: ReportSource, stated: Mapping[str, object], now: datetime) -> Progress:
    """Keep what was said first and see what to ask. `UnknownId` or `InvalidInput` for what cannot be said."""
    with practice.store.write() as connection:
        if source.orthosis_id is not None:
            orthoses.hold(connection, source.orthosis_id)
        report_id, facts = _pressed_twice(connection, practice, source, stated, now) or _begin(
            connection, practice, source, stated, now
        )
        return _progress(connection, practice, report_id, facts)


def take_whole_report(
    connection: Connection, practice: Practice, source: ReportSource, stated: Mapping[str, object], now: datetime
) -> int:
    """Keep and settle a report that says everything in one go, inside a transaction; the report's id."""
    report_id, _ = _begin(connection, practice, source, stated, now)
    _finish(connection, practice, report_id, now)
    return report_id


def answer_report(practice: Practice, report_id: int, question_id: str, answer: str, now: datetime) -> Progress:
    """Keep one answer and see what comes next; a finished report takes no more (`UnknownId` ``report_finished``)."""
    with practice.store.write() as connection:
        row = _open_row(connection, report_id)
        record = _record(connection, practice, row, now)
        facts = facts_of(connection, practice, row, record, now)
        kept = _keep_answer(practice, row, facts, question_id, answer)
        history = [*row["history"], [question_id, answer]]
        reports.change_report(connection, report_id, {**kept, "history": history})
        facts = facts_of(connection, practice, {**row, **kept}, record, now)
        _act_on_danger(connection, practice, report_id, facts, record, now)
        return _progress(connection, practice, report_id, facts)


def finish_report(practice: Practice, report_id: int, now: datetime) -> Progress:
    """Settle a report as it stands; finishing it again changes nothing."""
    with practice.store.write() as connection:
        return _progress(connection, practice, report_id, _finish(connection, practice, report_id, now))


def see_report(practice: Practice, report_id: int, now: datetime) -> Progress:
    """A report as it stands; `UnknownId` if there is none of that id."""
    with practice.store.read() as connection:
        row = _row(connection, report_id)
        facts = facts_of(connection, practice, row, _record(connection, practice, row, now), now)
        return _progress(connection, practice, report_id, facts)


def finish_left_alone(practice: Practice, now: datetime, limit: int = 200) -> int:
    """Finish reports nobody came back to within half an hour; how many."""
    with practice.store.read() as connection:
        waiting = reports.left_open(connection, now - LEFT_ALONE, limit)
    for report_id in waiting:
        finish_report(practice, report_id, now)
    return len(waiting)


def facts_of(
    connection: Connection, practice: Practice, row: Mapping[str, Any], record: PlanRecord | None, now: datetime
) -> Facts:
    """What is known for a report: its answers, what the records add, and what is derived from earlier reports."""
    said: dict[str, Answer] = dict(row["findings"])
    if record is None:
        return Facts(said, opened=frozenset(row["opened"]))
    days = record.days(row["begun_at"], ahead=1) if record.started_at and row["plan_on"] is not None else ()
    target = next((day.target_minutes for day in days if day.on == row["plan_on"]), None)
    derived = {
        REPEAT_PLACE: repeats_at(row.get("place"), _earlier_marks(connection, record, row), row["begun_at"]),
        DAYS_WORN_TOO_LITTLE: _days_worn_too_little(record, row, said.get(WORN), days),
    }
    return Facts(
        {**said, **{id: count for id, count in derived.items() if count}},
        dict(record.recorded_precautions),
        str(record.without),
        max((record.on(now) - record.orthosis["delivered_on"]).days, 0),
        record.limit_minutes,
        target,
        frozenset(row["opened"]),
    )


def _pressed_twice(
    connection: Connection, practice: Practice, source: ReportSource, stated: Mapping[str, object], now: datetime
) -> tuple[int, Facts] | None:
    """The report the same button began a moment ago on the same page, where nothing was answered since."""
    if source.channel != "link" or source.orthosis_id is None:
        return None
    for row in reports.reports_of(connection, source.orthosis_id, now - TWICE_WITHIN):
        fresh = row["state"] == "open" and row["contact_id"] == source.contact_id and not row["history"]
        if fresh:
            facts = facts_of(connection, practice, row, _record(connection, practice, row, now), now)
            if _kept(state_findings(practice.rules, facts, stated)) == row["findings"]:
                return row["id"], facts
    return None


def _begin(
    connection: Connection, practice: Practice, source: ReportSource, stated: Mapping[str, object], now: datetime
) -> tuple[int, Facts]:
    record = load_plan(connection, practice, source.orthosis_id, now) if source.orthosis_id is not None else None
    day = day_reported_on(record, now) if record and record.started_at else None
    row: dict[str, Any] = {
        "orthosis_id": source.orthosis_id,
        "contact_id": source.contact_id,
        "staff_id": source.staff_id,
        "channel": source.channel,
        "text": source.text,
        "plan_on": day.on if day else None,
        "by_touch": source.by_touch,
        "day_over": day is not None and all(period.off_at <= now for period in day.periods),
        "findings": {},
        "opened": [],
        "history": [],
        "begun_at": now,
    }
    facts = state_findings(practice.rules, facts_of(connection, practice, row, record, now), stated)
    row |= {"findings": _kept(facts), "at_most": _at_most(practice, facts), "state": "open"}
    report_id = reports.add_report(connection, row)
    write_entry(connection, now, source.actor, "report_begun", f"report:{report_id}")
    _act_on_danger(connection, practice, report_id, facts, record, now)
    return report_id, facts


def _finish(connection: Connection, practice: Practice, report_id: int, now: datetime) -> Facts:
    row = _row(connection, report_id, lock=True)
    record = _record(connection, practice, row, now)
    facts = facts_of(connection, practice, row, record, now)
    if row["state"] == "open":
        result = triage(practice.rules, facts)
        reports.change_report(connection, report_id, {"state": "done", "finished_at": now})
        follow_up(connection, practice, {**row, "id": report_id}, facts, result, record, now, final=True)
        write_entry(connection, now, "program", "report_triaged", f"report:{report_id}", {"urgency": result.urgency.id})
    return facts


def _keep_answer(
    practice: Practice, row: Mapping[str, Any], facts: Facts, question_id: str, answer: str
) -> dict[str, Any]:
    """The columns of the report one answer changes; `InvalidInput` says what to choose."""
    if question_id == PLACE:
        known = {place.id for place in practice.places}
        if answer not in known and answer != CANT_SAY:
            raise InvalidInput("bad_answer", f"{answer!r} is no place on the leg; choose one of the list.", PLACE)
        return {"place": answer}
    if question_id == TOUCH:
        if answer not in YES_NO:
            raise InvalidInput("bad_answer", f"Choose one of: {', '.join(YES_NO)}.", TOUCH)
        return {"by_touch": YES_NO[answer]}
    if question_id == WORN:
        return {"findings": {**row["findings"], WORN: _minutes(answer)}}
    question = next_question(practice.rules, facts)
    if question is None or question.id != question_id:
        question = question_called(practice.rules, facts, question_id)
    told = apply_answer(practice.rules, facts, question, answer)
    return {"findings": _kept(told), "opened": sorted(told.opened)}


def _minutes(answer: str) -> int | str:
    if answer == CANT_SAY:
        return CANT_SAY
    if not answer.isascii() or not answer.isdigit() or int(answer) > MOST_MINUTES:
        raise InvalidInput("bad_answer", f"{answer!r} is not minutes; write a whole number such as 60.", WORN)
    return int(answer)


def _earlier_marks(connection: Connection, record: PlanRecord, row: Mapping[str, Any]) -> list[EarlierMark]:
    if not row.get("place") or row["place"] == CANT_SAY:
        return []
    earlier = reports.reports_of(connection, record.orthosis_id, row["begun_at"] - RECENT)
    return [EarlierMark(each["begun_at"], each["place"]) for each in earlier if each["place"]]


def _days_worn_too_little(record: PlanRecord, row: Mapping[str, Any], worn: object, days: Sequence[WearDay]) -> int:
    if not isinstance(worn, int) or not row["day_over"]:
        return 0
    return days_worn_too_little(days, record.events, row["plan_on"], worn)


def _ask_next(practice: Practice, row: Mapping[str, Any], facts: Facts) -> Question | None:
    """What can still change the result comes first; then the place of a mark and how long the orthosis was on.

    Where feeling is reduced, whether clear skin was felt by hand as well (S15: look and touch).
    """
    if row["state"] != "open" or (row["channel"] == "link" and _in_doubt(practice, facts)):
        return None
    question = next_question(practice.rules, facts)
    if question is not None:
        return question
    answered = {question_id for question_id, _ in row["history"]}
    wanted = {PLACE: (*(place.id for place in practice.places), CANT_SAY), WORN: (CANT_SAY,)}
    if facts.protective or not row["day_over"]:
        del wanted[WORN]
    if not found_mark(facts.findings):
        needs_touch = facts.precautions.get(Precaution.REDUCED_SENSATION) and "mark_minutes" in facts.findings
        wanted = {TOUCH: tuple(YES_NO)} if needs_touch and row["by_touch"] is None else {}
    for id, answers in wanted.items():
        if id not in answered:
            return Question(QuestionKind.FINDING, id, (id,), answers)
    return None


def _in_doubt(practice: Practice, facts: Facts) -> bool:
    unsure = [id for id, value in facts.findings.items() if value == CANT_SAY and practice.rules.findings[id].urgent]
    return len(unsure) >= ENOUGH_DOUBT


def _act_on_danger(
    connection: Connection,
    practice: Practice,
    report_id: int,
    facts: Facts,
    record: PlanRecord | None,
    now: datetime,
) -> None:
    result = triage(practice.rules, facts)
    if result.floor >= ACTED_ON_AT_ONCE:
        row = reports.report_row(connection, report_id)
        assert row is not None
        sure = replace(result, urgency=result.floor)
        follow_up(connection, practice, row, facts, sure, record, now, final=False)


def _at_most(practice: Practice, facts: Facts) -> int:
    """The most questions still to come, were each answered in the way that opens most."""
    count = 0
    while (question := next_question(practice.rules, facts)) is not None and count < len(practice.rules.findings):
        worst = "not_sure" if len(question.findings) > 1 else CANT_SAY
        facts = apply_answer(practice.rules, facts, question, worst)
        count += 1
    return count


def _progress(connection: Connection, practice: Practice, report_id: int, facts: Facts) -> Progress:
    row = _row(connection, report_id)
    joined = callbacks.of_report(connection, report_id)
    return Progress(
        report_id,
        row["orthosis_id"],
        row["contact_id"],
        row["channel"],
        row["text"],
        row["state"],
        facts,
        _ask_next(practice, row, facts),
        len(row["history"]),
        row["at_most"],
        triage(practice.rules, facts),
        joined["id"] if joined else None,
        joined["due_at"] if joined else None,
        tuple((str(question), str(answer)) for question, answer in row["history"]),
        row["begun_at"],
    )


def _kept(facts: Facts) -> dict[str, Answer]:
    return {id: value for id, value in facts.findings.items() if id not in DERIVED}


def _record(connection: Connection, practice: Practice, row: Mapping[str, Any], now: datetime) -> PlanRecord | None:
    known = row["orthosis_id"] is not None
    return load_plan(connection, practice, row["orthosis_id"], now) if known else None


def _row(connection: Connection, report_id: int, *, lock: bool = False) -> Mapping[str, Any]:
    row = reports.report_row(connection, report_id, lock=lock)
    if row is None:
        raise UnknownId("unknown_report", f"There is no report {report_id}.")
    return row


def _open_row(connection: Connection, report_id: int) -> Mapping[str, Any]:
    row = _row(connection, report_id, lock=True)
    if row["state"] != "open":
        raise UnknownId("report_finished", "This report is finished; begin a new one to say more.")
    return row
