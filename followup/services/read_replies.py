"""Replies: kept first under their source id, then read. What cannot be read goes to a person with its text.

Matched by the token in the address, then the Message-ID answered, then the sender. "Stop, it hurts" is both.
"""

from __future__ import annotations

import email
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.policy import default
from email.utils import parseaddr
from typing import Any

from sqlalchemy import Connection

from followup.core.callback import due_at
from followup.core.channel import Inbox
from followup.core.message import MessageKind
from followup.core.reply import Reply, ReplyKind, read_reply
from followup.core.urgency import Urgency
from followup.services.practice import Practice
from followup.services.queue_messages import queue_answer
from followup.services.sent_test import note_answered
from followup.services.take_report import ReportSource, take_whole_report
from followup.storage import callbacks, orthoses, outbox, people, reports
from followup.storage.audit import write_entry
from followup.storage.people import Contact

LONGEST_TEXT = 2000
_QUOTED = re.compile(r"^(>|On .{5,120} wrote:|El .{5,120} escribió:|-{2,}\s*$|_{5,}\s*$)")
_IDS = re.compile(r"<[^<>\s]+>")


@dataclass(frozen=True, slots=True)
class Letter:
    """What is read of a mail: who sent it, the Message-IDs it answers, and what the person wrote."""

    automatic: bool
    sender: str
    answered: list[str]
    text: str


def take_in(practice: Practice, inbox: Inbox, now: datetime, limit: int = 100) -> int:
    """Keep every waiting item, each once whatever is handed over again, then say so to the inbox; how many were new."""
    new = 0
    for source_id, raw in inbox.waiting(limit):
        with practice.store.write() as connection:
            new += reports.take_in(connection, source_id, _storable(raw), now) is not None
        inbox.taken(source_id)
    return new


def read_replies(practice: Practice, now: datetime, limit: int = 100) -> int:
    """Read the items kept and not read yet; how many.

    Each is read in one transaction, once however many read at the same time, and a crash leaves it to be read again.
    """
    with practice.store.read() as connection:
        items = reports.raw_items(connection, limit)
    for item in items:
        _read_item(practice, item, now)
    return len(items)


def _read_item(practice: Practice, item: Mapping[str, Any], now: datetime) -> None:
    letter = _open_letter(item["raw"])
    with practice.store.write() as connection:
        if not reports.settle_raw_item(connection, item["id"], "read"):
            return
        if letter is None:
            _for_a_person(
                connection, practice, item, None, None, item["raw"], "an e-mail that could not be opened", now
            )
            return
        if letter.automatic:
            reports.settle_item(connection, item["id"], "automatic", None)
            return
        contact, orthosis_id = _whose(connection, letter)
        if contact is None or orthosis_id is None:
            why = _hear_stop(connection, practice, item, letter, now)
            _for_a_person(connection, practice, item, None, None, letter.text, why, now)
            return
        _read_reply(connection, practice, item, contact, orthosis_id, letter.text, now)


def _hear_stop(
    connection: Connection, practice: Practice, item: Mapping[str, Any], letter: Letter, now: datetime
) -> str:
    """A stop counts for everyone at that address, whatever it is about; why a person is to read the mail."""
    known = people.contacts_at(connection, letter.sender) if letter.sender else []
    if not known:
        return "an e-mail from an address nobody has given us"
    for contact in known:
        reply = read_reply(letter.text, contact.language)
        if reply.kind is ReplyKind.STOP:
            _answer(connection, practice, item, contact, None, reply, now)
    return f"a reply from {known[0].address}, which is given for several orthoses: ask which one"


def _read_reply(
    connection: Connection,
    practice: Practice,
    item: Mapping[str, Any],
    contact: Contact,
    orthosis_id: int,
    text: str,
    now: datetime,
) -> None:
    reply = read_reply(text, contact.language)
    if reply.number == 1 and not reply.hurts and not _has_started(connection, orthosis_id):
        note_answered(connection, orthosis_id, contact.id, now)
        reports.settle_item(connection, item["id"], "test_answered", None)
        return
    report_id = _take_report(connection, practice, contact, orthosis_id, reply, text, now)
    _answer(connection, practice, item, contact, orthosis_id, reply, now)
    if (report_id is None and reply.kind is ReplyKind.UNREADABLE) or reply.says_more:
        why = "a reply that could not be read whole"
        _for_a_person(connection, practice, item, orthosis_id, contact, text, why, now)
    else:
        reports.settle_item(connection, item["id"], "read", report_id)


def _has_started(connection: Connection, orthosis_id: int) -> bool:
    """Before the plan starts a 1 answers the test message; it is no skin check."""
    row = orthoses.orthosis_row(connection, orthosis_id)
    return row is not None and row["started_at"] is not None


def _take_report(
    connection: Connection,
    practice: Practice,
    contact: Contact,
    orthosis_id: int,
    reply: Reply,
    text: str,
    now: datetime,
) -> int | None:
    """A numbered answer is a report; so are words of pain, whatever else they ask for."""
    if reply.kind is ReplyKind.ANSWER and reply.number is not None:
        stated = practice.replies[reply.number]
    elif reply.hurts:
        stated = practice.replies[3]
    else:
        return None
    felt = True if reply.number == 1 else None
    source = ReportSource("text", orthosis_id, contact.id, text=text, by_touch=felt)
    return take_whole_report(connection, practice, source, stated, now)


def _answer(
    connection: Connection,
    practice: Practice,
    item: Mapping[str, Any],
    contact: Contact,
    orthosis_id: int | None,
    reply: Reply,
    now: datetime,
) -> None:
    if reply.kind not in {ReplyKind.STOP, ReplyKind.START, ReplyKind.HELP}:
        return
    if reply.kind is ReplyKind.HELP:
        queue_answer(connection, practice, contact.as_recipient(), MessageKind.HELP, item["source_id"], now)
        return
    wants = reply.kind is ReplyKind.START
    people.record_consent(connection, contact.id, wants, "reply", now)
    who = f"contact:{contact.id}"
    write_entry(connection, now, who, "consented" if wants else "opted_out", who)
    if not wants:
        outbox.withdraw_of_contact(connection, contact.id, now)
        queue_answer(connection, practice, contact.as_recipient(), MessageKind.STOPPED, item["source_id"], now)
        _phone_instead(connection, practice, contact, orthosis_id, now)


def _phone_instead(
    connection: Connection, practice: Practice, contact: Contact, orthosis_id: int | None, now: datetime
) -> None:
    """Stopping messages never stops follow-up: the desk rings within one working day."""
    hours = practice.facts.hours
    due = hours.closing(hours.next_working_day(now.astimezone(hours.zone).date()))
    text = "they want no more messages: agree how to follow up by phone"
    values = {"key": f"opt-out:{contact.id}:{now:%Y%m%d%H%M%S}", "kind": "opt_out", "text": text}
    who = {"orthosis_id": orthosis_id, "contact_id": contact.id}
    callbacks.add_desk_item(connection, {**values, **who, "from_at": now, "due_at": due, "opened_at": now})


def _for_a_person(
    connection: Connection,
    practice: Practice,
    item: Mapping[str, Any],
    orthosis_id: int | None,
    contact: Contact | None,
    text: str,
    why: str,
    now: datetime,
) -> None:
    callbacks.add_desk_item(
        connection,
        {
            "key": f"unreadable:{item['id']}",
            "orthosis_id": orthosis_id,
            "contact_id": contact.id if contact else None,
            "kind": "unreadable",
            "text": f"{why}: “{text[:LONGEST_TEXT]}”",
            "from_at": now,
            "due_at": due_at(Urgency.CLINICIAN_TODAY, now, practice.facts.hours),
            "opened_at": now,
        },
    )
    reports.settle_item(connection, item["id"], "for_person", None)


def _whose(connection: Connection, letter: Letter) -> tuple[Contact | None, int | None]:
    sent = outbox.by_message_id(connection, letter.answered) if letter.answered else None
    if sent and sent["contact_id"] is not None:
        contact = people.contact_of(connection, sent["contact_id"])
        if contact is not None and _same_sender(contact, sent["address"], letter.sender):
            return contact, sent["orthosis_id"] or _newest(connection, contact)
    known = people.contacts_at(connection, letter.sender) if letter.sender else []
    if len(known) == 1:
        return known[0], _newest(connection, known[0])
    return None, None


def _same_sender(contact: Contact, address: str, sender: str) -> bool:
    return sender.lower() in {contact.address.lower(), address.lower()}


def _newest(connection: Connection, contact: Contact) -> int | None:
    """The one orthosis of the contact's wearer; with two it is not for a program to guess which."""
    ids = orthoses.of_wearer(connection, contact.wearer_id)
    return ids[0] if len(ids) == 1 else None


def _open_letter(raw: str) -> Letter | None:
    """The mail taken apart; None where the parser itself breaks on what a stranger wrote."""
    try:
        mail = email.message_from_bytes(raw.encode(), policy=default)
        assert isinstance(mail, EmailMessage)
        answered = _IDS.findall(f"{mail.get('In-Reply-To', '')} {mail.get('References', '')}")
        sender = parseaddr(str(mail.get("From", "")))[1]
        return Letter(_is_automatic(mail), sender, answered, _storable(_said(mail)))
    except Exception:
        return None


def _is_automatic(mail: EmailMessage) -> bool:
    """Machines are never answered and never taken for a person (RFC 3834)."""
    submitted = str(mail.get("Auto-Submitted", "no")).split(";")[0].strip().lower()
    bulk = str(mail.get("Precedence", "")).strip().lower() in {"bulk", "junk", "list"}
    return submitted != "no" or bulk or mail.get_content_type() == "multipart/report"


def _said(mail: EmailMessage) -> str:
    """What the person wrote, without what they answered to."""
    part = mail.get_body(preferencelist=("plain", "html"))
    try:
        whole = part.get_content() if part is not None else ""
    except (LookupError, ValueError, KeyError):
        whole = str(part.get_payload()) if part is not None else ""
    if part is not None and part.get_content_type() == "text/html":
        whole = re.sub(r"<[^>]+>", " ", whole)
    kept: list[str] = []
    for line in str(whole).splitlines():
        if _QUOTED.match(line.strip()):
            break
        kept.append(line)
    return "\n".join(kept).strip()


def _storable(raw: str) -> str:
    """Text a database takes: no NUL and no lone surrogate."""
    return raw.replace("\x00", "\ufffd").encode("utf-8", "replace").decode()
