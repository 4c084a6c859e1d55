"""The program at work looks nothing up by going through all that was ever stored."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path

import pytest
from sqlalchemy import event, text

from followup.core.plan_event import PlanAction
from followup.services.work_callbacks import CallOutcome, Closing, close_callback, see_queue
from followup.storage.engine import open_store
from tests.builders import MAJ, Clinic, Letters, clinic_on, day

GROWS = {"attempt", "audit", "callback", "callback_report", "consent", "desk_item", "inbound", "outbox", "plan_event"}
GROWS |= {"report", "triage_result"}
SCAN = re.compile(r"SCAN (\w+)\b(?! USING (?:COVERING )?INDEX ix_)")


@pytest.fixture
def clinic(migrated_file: Path, tmp_path: Path) -> Iterator[Clinic]:
    store = open_store(f"sqlite:///{shutil.copy(migrated_file, tmp_path / 'followup.db')}")
    yield clinic_on(store)
    store.close()


def work(clinic: Clinic) -> None:
    """A day of ticks, a clear look, a mark, a call, and a last reply that stops the messages."""
    orthosis_id = clinic.start()
    clinic.run_until("2026-03-02 19:00")
    clinic.clear(orthosis_id)
    clinic.run_until("2026-03-03 12:00")
    clinic.report(orthosis_id, {"mark_minutes": 90})
    entry = see_queue(clinic.practice, clinic.now)[0]
    closing = Closing(CallOutcome.SPOKEN, "Spoken.", PlanAction.RESUME, day("2026-03-04"), 1)
    close_callback(clinic.practice, entry.callback_id, clinic.runa, entry.version, closing, clinic.now)
    letter = EmailMessage()
    letter["From"] = MAJ["contact1_address"]
    letter.set_content("stop")
    clinic.tick(Letters({"a": letter.as_string()}))


def scanned(clinic: Clinic, statements: dict[str, object]) -> set[str]:
    """The tables that some statement reads from end to end, without an index made for it."""
    with clinic.practice.store.engine.connect() as connection:
        plans = [
            connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", given).all()
            for statement, given in statements.items()
        ]
    return {found[1] for plan in plans for row in plan if (found := SCAN.match(row.detail))}


def test_no_table_that_grows_is_read_from_end_to_end(clinic: Clinic) -> None:
    statements: dict[str, object] = {}

    @event.listens_for(clinic.practice.store.engine, "before_cursor_execute")
    def keep(_connection, _cursor, statement, given, _context, _many):
        if statement.startswith(("SELECT", "UPDATE", "DELETE")):
            statements[statement] = given

    work(clinic)
    assert len(statements) > 40
    assert scanned(clinic, statements) & GROWS == set()


def test_a_look_up_without_an_index_would_be_noticed(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        connection.execute(text("DROP INDEX ix_callback_report_report_id"))
    assert scanned(clinic, {"SELECT callback_id FROM callback_report WHERE report_id = 1": ()}) == {"callback_report"}
