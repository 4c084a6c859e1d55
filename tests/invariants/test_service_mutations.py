"""Each guard of the program at work, broken on purpose in a copy of it: the invariant it serves must notice."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.invariants import service_invariants as always
from tests.invariants.service_copies import NAME, Edit, Played, compiled_copy, copy_with, forget

NUMBERS = itertools.count()
Invariant = Callable[[Played], None]


@dataclass(frozen=True)
class Mutation:
    """One or more guards broken together, and the invariant that must fail then."""

    name: str
    noticed_by: Invariant
    edits: tuple[Edit, ...]


def mutation(name: str, noticed_by: Invariant, *edits: tuple[str, str, str]) -> Mutation:
    return Mutation(name, noticed_by, tuple(Edit(*each) for each in edits))


MUTATIONS = (
    mutation(
        "takes a mark nobody timed for clear",
        always.only_a_clear_check_raises,
        ("core/skin_report.py", "return CheckResult.CANNOT_SAY", "return CheckResult.CLEAR"),
        ("services/follow_up.py", "TriageOutcome(result.instruction,", "TriageOutcome(WearInstruction.AS_PLANNED,"),
    ),
    mutation(
        "lets the desk close a callback",
        always.only_a_clinician_gives_an_instruction,
        ("services/work_callbacks.py", "if by.role is not Role.CLINICIAN:", "if False:"),
    ),
    mutation(
        "lets the desk release a bare plate",
        always.only_a_clinician_starts_a_plan_on_a_bare_plate,
        ("services/check_delivery.py", "if by.role is not Role.CLINICIAN:", "if False:"),
    ),
    mutation(
        "lets an exception start the plan",
        always.only_a_clinician_starts_a_plan_on_a_bare_plate,
        ("core/delivery_check.py", "and not self.released", "and self.released"),
    ),
    mutation(
        "forgets that an orthosis is protective",
        always.a_protective_orthosis_stays_on_and_a_clinician_rings_today,
        ("services/follow_plan.py", "in self.recorded_precautions.items() if present)", "in ())"),
        (
            "services/follow_up.py",
            "TriageOutcome(result.instruction,",
            'TriageOutcome(WearInstruction("off_until_we_speak"),',
        ),
    ),
    mutation(
        "does not say to stay seated",
        always.who_cannot_stand_is_told_not_to,
        ("core/message.py", '"cannot_stand": plan.terms.cannot_stand_alone', '"cannot_stand": False'),
    ),
    mutation(
        "puts today off to the next working day",
        always.today_is_not_after_the_weekend,
        (
            "core/callback.py",
            "hours.closes_on_same_day(reported_at) or reported_at + MEDICAL_WITHIN",
            "hours.closing(hours.next_working_day(reported_at.date()))",
        ),
    ),
    mutation(
        "tells nobody on call",
        always.today_is_not_after_the_weekend,
        ("services/follow_up.py", "if needs_on_call(urgency, now, hours):", "if False:"),
    ),
    mutation(
        "postpones when a report joins",
        always.a_further_report_never_postpones,
        ("core/callback.py", "min(self.due_at, other.due_at)", "max(self.due_at, other.due_at)"),
    ),
    mutation(
        "lowers when a milder report joins",
        always.a_further_report_never_postpones,
        ("core/callback.py", "max(self.urgency, other.urgency)", "other.urgency"),
    ),
    mutation(
        "drops letters of strangers",
        always.every_letter_reaches_a_person_or_the_plan,
        (
            "services/read_replies.py",
            "_for_a_person(connection, practice, item, None, None, letter.text, why, now)",
            'reports.settle_item(connection, item["id"], "read", None)',
        ),
    ),
    mutation(
        "drops what it cannot read",
        always.every_letter_reaches_a_person_or_the_plan,
        (
            "services/read_replies.py",
            "(report_id is None and reply.kind is ReplyKind.UNREADABLE) or reply.says_more",
            "False",
        ),
    ),
    mutation(
        "hears only the stop of stop, it hurts",
        always.stop_it_hurts_is_a_report_too,
        ("services/read_replies.py", "elif reply.hurts:", "elif False:"),
    ),
    mutation(
        "never minds silence",
        always.silence_is_heard,
        ("services/advance.py", "if found.silent_days and asked", "if False and asked"),
    ),
    mutation(
        "keeps answers only in memory",
        always.every_answer_is_kept_at_once,
        ("services/take_report.py", '{**kept, "history": history}', '{"history": history}'),
    ),
    mutation(
        "waits for the end of a report in danger",
        always.danger_is_acted_on_at_once,
        ("services/take_report.py", "if result.floor >= ACTED_ON_AT_ONCE:", "if False:"),
    ),
    mutation(
        "leaves a report alone for ever",
        always.a_report_left_alone_is_acted_on,
        ("services/take_report.py", "LEFT_ALONE = timedelta(minutes=30)", "LEFT_ALONE = timedelta(days=30)"),
    ),
    mutation(
        "plans a slot again after every change",
        always.no_slot_is_sent_twice,
        ("services/queue_messages.py", "and slot not in taken", ""),
    ),
    mutation(
        "sends again after silence at the final dot",
        always.doubt_is_never_repeated,
        ("core/outbox.py", "OutboxState.IN_DOUBT if self.phase is Phase.FINAL_DOT else", ""),
    ),
    mutation(
        "tells nobody of doubt",
        always.doubt_is_never_repeated,
        ("services/send_outbox.py", "if result.state is OutboxState.IN_DOUBT:", "if False:"),
    ),
    mutation(
        "sends again after a crash",
        always.a_crash_while_sending_is_doubt,
        ("storage/outbox.py", "state=OutboxState.IN_DOUBT, settled_at=now", "state=OutboxState.PLANNED"),
    ),
    mutation(
        "commits sending after the socket",
        always.a_crash_while_sending_is_doubt,
        (
            "services/send_outbox.py",
            "OutboxState.CLAIMED, OutboxState.SENDING, {}):",
            "OutboxState.CLAIMED, OutboxState.CLAIMED, {}):",
        ),
    ),
    mutation(
        "sends stale words",
        always.nothing_stale_is_sent,
        (
            "storage/outbox.py",
            "outbox.c.not_before_at <= now, outbox.c.expires_at > now",
            "outbox.c.not_before_at <= now",
        ),
        ("services/send_outbox.py", "for row in outbox.expire(connection, now):", "for row in ():"),
    ),
    mutation(
        "sends what a changed plan contradicts",
        always.a_changed_plan_is_never_contradicted,
        ("services/follow_plan.py", "    outbox.withdraw_unsent(connection, orthosis_id, now)\n", ""),
        ("services/send_outbox.py", "if not _still_true(connection, practice, row, now):", "if False:"),
    ),
    mutation(
        "tells nobody of a refused address",
        always.a_refused_address_is_told_to_a_person,
        ("services/send_outbox.py", "if result.state is OutboxState.REFUSED:", "if False:"),
    ),
    mutation(
        "names the wearer in the audit trail",
        always.logs_and_audit_carry_ids_only,
        ("services/deliver.py", 'f"orthosis:{orthosis_id}")', 'f"orthosis:{delivery.wearer_name}")'),
    ),
    mutation(
        "repeats rows in the log",
        always.logs_and_audit_carry_ids_only,
        ("scheduler/run.py", "type(fault).__name__, whose, place)", "f'IntegrityError {fault}', whose, place)"),
        (
            "storage/engine.py",
            'connect_args={"check_same_thread": False}, hide_parameters=True',
            'connect_args={"check_same_thread": False}',
        ),
    ),
    mutation(
        "says in a message what was reported",
        always.messages_carry_no_name_and_no_answer,
        ("core/message.py", '"limit": plan.terms.mark_limit_minutes,', '"limit": 37,'),
    ),
)


@contextmanager
def played(name: str, empty: Path, folder: Path) -> Iterator[Played]:
    practice = Played(name, Path(shutil.copy(empty, folder / f"{next(NUMBERS)}.db")))
    try:
        yield practice
    finally:
        practice.app.close()


@pytest.fixture(scope="module")
def unbroken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return compiled_copy(tmp_path_factory.mktemp("unbroken"))


@pytest.mark.parametrize("broken", MUTATIONS, ids=lambda each: each.name.replace(" ", "-"))
def test_a_broken_guard_is_noticed(
    broken: Mutation, unbroken: Path, migrated_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy_with(broken.edits, unbroken, tmp_path)
    monkeypatch.syspath_prepend(tmp_path)
    forget()
    with played(NAME, migrated_file, tmp_path) as practice, pytest.raises(AssertionError):
        broken.noticed_by(practice)


def test_the_copy_itself_breaks_nothing(
    unbroken: Path, migrated_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(unbroken.parent)
    forget()
    with played(NAME, migrated_file, tmp_path) as practice:
        always.silence_is_heard(practice)


@pytest.mark.parametrize("invariant", sorted({each.noticed_by for each in MUTATIONS}, key=lambda each: each.__name__))
def test_the_program_as_it_is_keeps(invariant: Invariant, migrated_file: Path, tmp_path: Path) -> None:
    with played("followup", migrated_file, tmp_path) as practice:
        invariant(practice)
