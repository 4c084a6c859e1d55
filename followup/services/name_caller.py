"""Who is on the line: one of the wearer's contacts, or somebody else with a name and a number."""

from __future__ import annotations

from datetime import datetime

from followup.errors import InvalidInput, UnknownId
from followup.services.follow_plan import load_plan
from followup.services.practice import Practice
from followup.services.sign_in import Session
from followup.storage import callbacks, people, reports
from followup.storage.audit import write_entry

PHONE = "phone"


def name_caller(
    practice: Practice, report_id: int, contact_id: int | None, words: str, by: Session, now: datetime
) -> None:
    """Keep who rang: a contact of the wearer, or for somebody else `words` such as ``Ola Brun, 01632 960222``.

    `UnknownId` for a report that is no call about a known wearer, `InvalidInput` for a contact of another wearer or
    for nobody at all; then nothing is changed.
    """
    with practice.store.write() as connection:
        row = reports.report_row(connection, report_id, lock=True)
        if row is None or row["channel"] != PHONE or row["orthosis_id"] is None:
            raise UnknownId("unknown_report", "There is no call of that number about a wearer we know.")
        wearer_id = load_plan(connection, practice, row["orthosis_id"]).wearer["id"]
        known = {each.id for each in people.contacts_of(connection, [wearer_id])[wearer_id]}
        if contact_id is None and not words.strip():
            raise InvalidInput("no_caller", "Write who is on the line; if they do not say, write that.", "caller_name")
        if contact_id is not None and contact_id not in known:
            raise InvalidInput("not_a_contact", "Choose a contact of this wearer, or somebody else.", "caller")
        said = "" if contact_id is not None else words.strip()
        reports.change_report(connection, report_id, {"contact_id": contact_id, "text": said})
        whom = f"contact:{contact_id}" if contact_id is not None else "somebody else"
        write_entry(connection, now, f"staff:{by.staff_id}", "caller_named", f"report:{report_id}", {"caller": whom})


def callers_of(practice: Practice, callback_id: int) -> tuple[str, ...]:
    """What was written down of callers who are no contacts, in their words, newest first."""
    with practice.store.read() as connection:
        rows = callbacks.reports_of_callback(connection, callback_id)
    said = [row["text"] for row in reversed(rows) if row["channel"] == PHONE and row["contact_id"] is None]
    return tuple(dict.fromkeys(filter(None, said)))
