"""Short names for the values that tests are made of."""

from __future__ import annotations

import csv
import email
import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from email.message import EmailMessage
from email.policy import default as default_policy
from functools import cache, cached_property
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import create_engine

from followup.app import MailComposer, make_practice
from followup.channels.mail_gateway import Gateways
from followup.channels.recording import RecordingTransport
from followup.core.channel import Inbox
from followup.core.delivery import COLUMNS, OPTIONAL_COLUMNS, parse_delivery
from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.core.precaution import Precaution
from followup.services.advance import tick
from followup.services.check_delivery import record_checks
from followup.services.deliver import take_delivery
from followup.services.practice import Practice
from followup.services.sign_in import Role, Session
from followup.services.take_report import Progress, ReportSource, begin_report, finish_report
from followup.settings import read_settings
from followup.storage import people
from followup.storage.engine import Store
from followup.words.render import MessageTemplates, template_root

ZONE = "America/Chicago"


def utc(text: str) -> datetime:
    """An instant from its UTC wall time, such as ``2026-03-02 14:00``."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def local(text: str, zone: str = ZONE) -> datetime:
    """The UTC instant of a local wall time, such as ``2026-03-02 09:00``."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def day(text: str) -> date:
    """A local date, such as ``2026-03-02``."""
    return date.fromisoformat(text)


# The practice is Quillmere, in London, open on weekdays from 08:30 to 17:30. Everyone in it is invented.
QUILLMERE = {
    "FOLLOWUP_SECRET": "a secret for tests only, forty letters",
    "FOLLOWUP_EMERGENCY_NUMBER": "112",
    "FOLLOWUP_PRACTICE_NAME": "Quillmere",
    "FOLLOWUP_PRACTICE_PHONE": "01632 960114",
    "FOLLOWUP_PRACTICE_ZONE": "Europe/London",
    "FOLLOWUP_CLINIC_HOURS": "mon-fri 08:30-17:30",
    "FOLLOWUP_ON_CALL_ADDRESS": "oncall@quillmere.example",
    "FOLLOWUP_MAIL_SENDER": "follow@quillmere.example",
}
MAJ = {
    "contact1_name": "Maj Torvenn",
    "contact1_relation": "child",
    "contact1_channel": "email",
    "contact1_address": "maj@phones.example",
    "contact1_phone": "01632 960157",
    "contact1_language": "en",
    "contact1_zone": "Europe/London",
    "contact1_may_be_told": "yes",
    "contact1_consent": "yes",
    "contact1_on_duty": "yes",
}
ALDO = {
    **dict.fromkeys(COLUMNS, ""),
    **MAJ,
    "wearer_reference": "W1",
    "wearer_name": "Aldo Torvenn",
    "walking_aid": "none",
    "without_orthosis": "walks",
    "one_handed": "no",
    "shin_bears_pressure": "yes",
    "side": "left",
    "shell": "front",
    "strut": "stiff",
    "strut_position": "outer",
    "material": "carbon",
    "footplate": "full",
    "heel": "open",
    "fastening": "two_hands",
    "protective": "no",
    "precautions_absent": ";".join(sorted({str(each) for each in Precaution} - {Precaution.PROTECTIVE})),
    "identifier": "Q-1",
    "lot": "L1",
    "protocol": "s01",
    "full_wear_minutes": "480",
    "window": "07:30-21:30",
    "range_end": "low",
    "zone": "Europe/London",
    "delivered_on": "2026-03-02",
}
"""A walker without any precaution, delivered on Monday 2 March 2026; his daughter Maj is on duty."""


def without_feeling(row: Mapping[str, str]) -> dict[str, str]:
    """The same wearer with reduced sensation."""
    absent = row["precautions_absent"].replace("reduced_sensation", "").replace(";;", ";")
    return {**row, "precautions_present": "reduced_sensation", "precautions_absent": absent}


BRANKA = {**ALDO, "wearer_reference": "W2", "wearer_name": "Branka Oost", "identifier": "Q-2", "protective": "yes"}
"""Her orthosis is protective, and she must not stand without it."""
BRANKA |= {"without_orthosis": "must_not_stand", "contact1_name": "Ivo Oost", "contact1_address": "ivo@phones.example"}


def as_csv(*rows: Mapping[str, str]) -> str:
    """The CSV file that holds these rows."""
    file = io.StringIO()
    extra = [name for name in OPTIONAL_COLUMNS if any(name in row for row in rows)]
    writer = csv.DictWriter(file, [*COLUMNS, *extra])
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue()


CHECKED = {each: CheckAnswer(each, Outcome.CONFIRMED) for each in DeliveryCheck} | {
    DeliveryCheck.TEST_MESSAGE: CheckAnswer(DeliveryCheck.TEST_MESSAGE, Outcome.EXCEPTION, "phone only today")
}
"""Every check is so but the test message, which was not sent."""


@cache
def _contents() -> Practice:
    """What stays the same between tests: rules, protocols, places, replies. Its store is never used."""
    return make_practice(read_settings(QUILLMERE), Store(create_engine("sqlite://")))


@dataclass
class Clinic:
    """Quillmere at work: its practice on a store, a clock that a test sets, a server that keeps what it is given."""

    practice: Practice
    now: datetime = field(default_factory=lambda: local("2026-03-02 10:00", "Europe/London"))
    server: RecordingTransport = field(default_factory=RecordingTransport)
    compose: MailComposer = field(default_factory=lambda: _composer())

    def clock(self) -> datetime:
        return self.now

    def at(self, text: str) -> datetime:
        """Set the clock to a local time in London, such as ``2026-03-02 19:00``."""
        self.now = local(text, "Europe/London")
        return self.now

    def tick(self, inbox: Inbox | None = None) -> Mapping[str, int]:
        """Do everything that is due now."""
        return tick(self.practice, self.server, self.compose, [inbox] if inbox else [], self.clock)

    def run_until(self, text: str, step: timedelta = timedelta(hours=1)) -> None:
        """Tick every `step` up to a local time in London."""
        end = local(text, "Europe/London")
        while self.now < end:
            self.now = min(self.now + step, end)
            self.tick()

    def staff(self, name: str, role: Role) -> Session:
        """Somebody signed in; no password is tried, for that takes time on purpose."""
        with self.practice.store.write() as connection:
            staff_id = people.add_staff(connection, name.lower(), name, role, "no password")
        return Session(staff_id, name, role, "csrf")

    def deliver(self, row: Mapping[str, str] = ALDO) -> int:
        """Take a delivery in; the orthosis id."""
        delivery = parse_delivery(row, frozenset(self.practice.protocols))
        return take_delivery(self.practice, delivery, "program", self.now)[0]

    def start(self, row: Mapping[str, str] = ALDO) -> int:
        """Take a delivery in and record every check, so that its plan begins; the orthosis id."""
        orthosis_id = self.deliver(row)
        record_checks(self.practice, orthosis_id, CHECKED, self._somebody, self.now)
        return orthosis_id

    @cached_property
    def _somebody(self) -> int:
        return self.staff("Tilde", Role.DESK).staff_id

    @cached_property
    def runa(self) -> Session:
        """The clinician."""
        return self.staff("Runa", Role.CLINICIAN)

    @cached_property
    def odd(self) -> Session:
        """The one at the front desk."""
        return self.staff("Odd", Role.DESK)

    def report(self, orthosis_id: int, stated: Mapping[str, object], channel: str = "link") -> Progress:
        """Say something about an orthosis and finish the report."""
        begun = begin_report(self.practice, ReportSource(channel, orthosis_id), stated, self.now)
        return finish_report(self.practice, begun.report_id, self.now)

    def clear(self, orthosis_id: int) -> Progress:
        """Report that the skin was looked at and all is well."""
        return self.report(orthosis_id, self.practice.replies[1])

    def rows(self, query: Any) -> list[dict[str, Any]]:
        """The rows of a table or query."""
        with self.practice.store.read() as connection:
            return [dict(row) for row in connection.execute(query).mappings()]

    def sent(self) -> list[str]:
        """The text of every message handed to the server, one string each."""
        return [text_of(each.content) for each in self.server.tried]


def clinic_on(store: Store) -> Clinic:
    """Quillmere on that store."""
    return Clinic(replace(_contents(), store=store))


@dataclass
class Letters:
    """An inbox that hands its letters over until they are taken."""

    waiting_ones: dict[str, str] = field(default_factory=dict)

    def waiting(self, limit: int) -> list[tuple[str, str]]:
        return list(self.waiting_ones.items())[:limit]

    def taken(self, source_id: str) -> None:
        self.waiting_ones.pop(source_id, None)


def letter(text: str, sender: str = "Maj <maj@phones.example>", **headers: str) -> str:
    """A mail as it arrives; `_` in a header's name stands for a hyphen."""
    mail = EmailMessage()
    mail["From"], mail["To"], mail["Subject"] = sender, "follow@quillmere.example", "Re: Your times"
    for name, value in headers.items():
        mail[name.replace("_", "-")] = value
    mail.set_content(text)
    return mail.as_string()


def text_of(content: bytes) -> str:
    """The plain text of a mail."""
    mail = email.message_from_bytes(content, policy=default_policy)
    part = mail.get_body(preferencelist=("plain",))
    assert part is not None
    return str(part.get_content())


def _composer() -> MailComposer:
    templates = MessageTemplates(template_root() / "messages")
    return MailComposer(templates, Gateways({}), "follow@quillmere.example", "Quillmere")
