"""The delivery checks: what staff confirm before a wear plan starts, and a clinician's release of an exception."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from followup.core.contact import Relation
from followup.core.delivery_check import LABELS, NEEDS_RELEASE, CheckAnswer, DeliveryCheck, Outcome, what_blocks
from followup.core.goal_in_force import waits_for_start
from followup.core.orthosis import (
    Construction,
    Fastening,
    Footplate,
    Heel,
    Material,
    Shell,
    Side,
    Strut,
    StrutPosition,
    WalkingAid,
    WearingCase,
    suitability_notes,
)
from followup.errors import InvalidInput
from followup.services.end_plan import end_replaced
from followup.services.follow_plan import PlanRecord, load_plan, project
from followup.services.practice import Practice
from followup.services.queue_messages import queue_test
from followup.services.sent_test import SentTest, TestStanding, see_sent_test
from followup.services.sign_in import Role, Session
from followup.services.start_step import ask_for_start_step
from followup.storage import callbacks, orthoses, people
from followup.storage.audit import write_entry
from followup.storage.people import Contact

NOT_ANSWERED = (
    "No answer to a test message of this orthosis has come. "
    "Send it and wait for the answer, or choose “Not so” and write how the family is reached, such as: phone only."
)


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One delivery check as a page shows it."""

    check: DeliveryCheck
    label: str
    outcome: Outcome | None
    reason: str
    needs_release: bool
    released_by: str


@dataclass(frozen=True, slots=True)
class ChecksView:
    """The delivery checks of one orthosis, the notes that inform, and what keeps the plan from starting.

    `checker` is who looks at the skin. `again` is True where the checks are made again after a change of the orthosis.
    """

    orthosis_id: int
    wearer_name: str
    orthosis: Construction
    checks: tuple[CheckLine, ...]
    notes: tuple[str, ...]
    blocked_by: tuple[DeliveryCheck, ...]
    started_at: datetime | None
    sent_test: SentTest
    checker: str
    needs_checker: bool
    again: bool

    @property
    def lacks_checker(self) -> bool:
        """True where somebody must be named who looks at the skin, and nobody is."""
        return self.needs_checker and not self.checker


def see_checks(practice: Practice, orthosis_id: int) -> ChecksView:
    """Where the delivery checks of an orthosis stand."""
    with practice.store.read() as connection:
        record = load_plan(connection, practice, orthosis_id)
        answers = {answer.check: answer for answer in orthoses.checks_of(connection, orthosis_id)}
        releases = orthoses.releases_of(connection, orthosis_id)
        names = people.staff_names(connection)
        everyone = people.contacts_of(connection, [record.wearer["id"]])[record.wearer["id"]]
        sent_test = see_sent_test(connection, orthosis_id, everyone)
        two = orthoses.count_of_wearer(connection, record.wearer["id"]) > 1
    lines = tuple(
        _line(check, answers.get(check), names.get(releases[check]["staff_id"], "") if check in releases else "")
        for check in DeliveryCheck
    )
    return ChecksView(
        orthosis_id,
        record.wearer["name"],
        construction_of(record),
        lines,
        suitability_notes(_case(record, wears_two=two)),
        what_blocks(answers.values()),
        record.started_at,
        sent_test,
        checker_of(record, everyone),
        record.terms.needs_named_checker,
        record.started_at is not None and waits_for_start(record.events) is not None,
    )


def checker_of(record: PlanRecord, contacts: Sequence[Contact]) -> str:
    """Who looks at the skin: whoever is named, else the contact on duty who is not the wearer; empty for nobody."""
    named: str = record.orthosis["checker"]
    return named or next((each.name for each in contacts if each.on_duty and each.relation != Relation.SELF), "")


def name_checker(practice: Practice, orthosis_id: int, checker: str, staff_id: int, now: datetime) -> None:
    """Write down who looks at the skin; a plan that waited for it alone begins."""
    if not checker.strip() or len(checker.strip()) > 60:
        raise InvalidInput("no_checker", "Write who looks at the skin, in at most 60 letters.", "checker")
    with practice.store.write() as connection:
        orthoses.hold(connection, orthosis_id)
        load_plan(connection, practice, orthosis_id, now)
        orthoses.name_checker(connection, orthosis_id, checker.strip())
        write_entry(connection, now, f"staff:{staff_id}", "checker_named", f"orthosis:{orthosis_id}")
        _start_if_clear(connection, practice, orthosis_id, now)


def record_checks(
    practice: Practice, orthosis_id: int, answers: Mapping[DeliveryCheck, CheckAnswer], staff_id: int, now: datetime
) -> tuple[DeliveryCheck, ...]:
    """Record checks, all or none; the plan starts by itself once nothing blocks it. What still blocks it.

    `InvalidInput` for an exception without a reason, and for a test message said to be answered that was not.
    """
    for answer in answers.values():
        if answer.outcome is Outcome.EXCEPTION and not answer.reason.strip():
            raise InvalidInput("no_reason", "Write why this could not be confirmed.", answer.check)
    with practice.store.write() as connection:
        record = load_plan(connection, practice, orthosis_id, now)
        test = answers.get(DeliveryCheck.TEST_MESSAGE)
        if test is not None and test.outcome is Outcome.CONFIRMED:
            _check_answered(connection, record)
        for answer in answers.values():
            orthoses.record_check(connection, orthosis_id, answer, staff_id, now)
        write_entry(connection, now, f"staff:{staff_id}", "checks_recorded", f"orthosis:{orthosis_id}")
        return _start_if_clear(connection, practice, orthosis_id, now)


def _check_answered(connection: Connection, record: PlanRecord) -> None:
    everyone = people.contacts_of(connection, [record.wearer["id"]])[record.wearer["id"]]
    if see_sent_test(connection, record.orthosis_id, everyone).standing is not TestStanding.ANSWERED:
        raise InvalidInput("not_answered", NOT_ANSWERED, DeliveryCheck.TEST_MESSAGE)


def release_check(
    practice: Practice, orthosis_id: int, check: DeliveryCheck, by: Session, note: str, now: datetime
) -> tuple[DeliveryCheck, ...]:
    """A clinician lets a plan start in spite of an exception. What still blocks it."""
    if by.role is not Role.CLINICIAN:
        raise InvalidInput("not_a_clinician", "Only a clinician can release this; ask one to sign in.", "release")
    if not note.strip():
        raise InvalidInput("no_reason", "Write why the plan may start all the same.", "note")
    with practice.store.write() as connection:
        answers = {answer.check: answer for answer in orthoses.checks_of(connection, orthosis_id)}
        if check not in answers or not answers[check].blocks:
            raise InvalidInput("nothing_to_release", "There is no open exception for this check.", check)
        orthoses.record_release(connection, orthosis_id, check, note, by.staff_id, now)
        write_entry(connection, now, f"staff:{by.staff_id}", "check_released", f"orthosis:{orthosis_id}")
        return _start_if_clear(connection, practice, orthosis_id, now)


def send_test_message(practice: Practice, orthosis_id: int, now: datetime) -> None:
    """Send everyone on duty the test message whose answer is the last of the checks."""
    with practice.store.write() as connection:
        record = load_plan(connection, practice, orthosis_id, now)
        for contact in people.contacts_of(connection, [record.wearer["id"]])[record.wearer["id"]]:
            queue_test(connection, practice, record, contact.id, now)


def construction_of(record: PlanRecord) -> Construction:
    """How the orthosis is built."""
    row = record.orthosis
    return Construction(
        Side(row["side"]),
        Shell(row["shell"]),
        Strut(row["strut"]),
        StrutPosition(row["strut_position"]),
        Material(row["material"]),
        Footplate(row["footplate"]),
        Heel(row["heel"]),
        Fastening(row["fastening"]),
        row["identifier"],
        row["lot"],
    )


def _start_if_clear(
    connection: Connection, practice: Practice, orthosis_id: int, now: datetime
) -> tuple[DeliveryCheck, ...]:
    blocked = what_blocks(orthoses.checks_of(connection, orthosis_id))
    record = load_plan(connection, practice, orthosis_id, now)
    if blocked or record.ended_at is not None:
        return blocked
    if record.started_at is None and not _lacks_checker(connection, record):
        orthoses.start(connection, orthosis_id, now)
        started = load_plan(connection, practice, orthosis_id, now)
        project(connection, started, now, next_due_at=now, changed=1)
        end_replaced(connection, practice, started, now)
        _list_for_calls(connection, started, now)
        write_entry(connection, now, "program", "plan_started", f"orthosis:{orthosis_id}")
    elif record.started_at is not None and waits_for_start(record.events) is not None:
        ask_for_start_step(connection, practice, record, now)
    return blocked


def _lacks_checker(connection: Connection, record: PlanRecord) -> bool:
    wearer_id = record.wearer["id"]
    everyone = people.contacts_of(connection, [wearer_id])[wearer_id]
    return record.terms.needs_named_checker and not checker_of(record, everyone)


def _list_for_calls(connection: Connection, record: PlanRecord, now: datetime) -> None:
    wearer_id = record.wearer["id"]
    everyone = people.contacts_of(connection, [wearer_id])[wearer_id]
    if any(contact.as_recipient().reachable for contact in everyone):
        return
    callbacks.add_desk_item(
        connection,
        {
            "key": f"call-list:{record.orthosis_id}",
            "orthosis_id": record.orthosis_id,
            "kind": "call_list",
            "text": "no message reaches this family: ring them each day with the times, and ask about the skin",
            "from_at": now,
            "due_at": now,
            "opened_at": now,
        },
    )


def _line(check: DeliveryCheck, answer: CheckAnswer | None, released_by: str) -> CheckLine:
    return CheckLine(
        check,
        LABELS[check],
        answer.outcome if answer else None,
        answer.reason if answer else "",
        check in NEEDS_RELEASE,
        released_by if answer and answer.released else "",
    )


def _case(record: PlanRecord, *, wears_two: bool) -> WearingCase:
    return WearingCase(
        construction_of(record),
        WalkingAid(record.wearer["walking_aid"]),
        record.without,
        record.precautions,
        wears_two,
        record.wearer["one_handed"],
        record.wearer["shin_bears_pressure"],
    )
