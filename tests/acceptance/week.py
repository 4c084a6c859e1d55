"""A wearer's first week over a real SMTP server: the program, the mailbox, and the people who use both."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from email.message import EmailMessage
from pathlib import Path

from followup.app import App, make_app
from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.demo.receiver import Receiver
from followup.services.advance import tick
from followup.services.check_delivery import record_checks, send_test_message
from followup.services.links import open_link
from followup.services.see_today import Today, see_today
from followup.services.sign_in import Role, Session, add_staff, see_session, sign_in
from followup.services.take_report import Progress, ReportSource, answer_report, begin_report, finish_report
from followup.services.work_callbacks import Closing, QueueEntry, close_callback, see_queue, take_callback
from followup.settings import read_settings
from tests.builders import QUILLMERE, utc

MAJ = "maj@phones.example"
ONE_ORTHOSIS = 1


@dataclass
class Week:
    """The clock is London's, which is UTC until the end of March. Every step is taken as its user takes it."""

    folder: Path
    now: datetime
    told: dict[str, Progress] = field(default_factory=dict)
    pages: dict[str, Today] = field(default_factory=dict)
    queues: dict[str, tuple[QueueEntry, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.mailbox = Receiver(lambda: self.now)
        self.mailbox.start()
        given = {
            "FOLLOWUP_DATABASE_URL": f"sqlite:///{self.folder / 'followup.db'}",
            "FOLLOWUP_SMTP_PORT": str(self.mailbox.port),
            "FOLLOWUP_MAILDIR": str(self.folder / "replies"),
        }
        self.app: App = make_app(read_settings({**QUILLMERE, **given}), lambda: self.now)

    def close(self) -> None:
        self.mailbox.stop()
        self.app.close()

    def until(self, text: str) -> None:
        """Tick every ten minutes up to a time."""
        end = utc(text)
        while self.now < end:
            self.now = min(self.now + timedelta(minutes=10), end)
            tick(self.app.practice, self.app.transport, self.app.compose, self.app.inboxes, self.app.clock)

    def signed_in(self, user: str, role: Role) -> Session:
        practice = self.app.practice
        add_staff(practice, user, user.title(), role, "long enough a word")
        session = see_session(practice, sign_in(practice, user, "long enough a word", self.now), self.now)
        assert session is not None
        return session

    def test_message(self) -> None:
        send_test_message(self.app.practice, ONE_ORTHOSIS, self.now)

    def confirm_checks(self, desk: Session) -> None:
        answers = {each: CheckAnswer(each, Outcome.CONFIRMED) for each in DeliveryCheck}
        record_checks(self.app.practice, ONE_ORTHOSIS, answers, desk.staff_id, self.now)

    def look(self, name: str) -> None:
        """Open the page behind the newest link, and the queue, and keep what they show."""
        self.queues[name] = see_queue(self.app.practice, self.now)
        self.pages[name] = see_today(self.app.practice, open_link(self.app.practice, self._token(), self.now), self.now)

    def tell(self, name: str, first: Mapping[str, object], answers: Mapping[str, str]) -> None:
        """Report on the page; a question that is not in `answers` is answered with nothing amiss."""
        practice, link = self.app.practice, open_link(self.app.practice, self._token(), self.now)
        progress = begin_report(practice, ReportSource("link", link.orthosis_id, link.contact_id), first, self.now)
        while (question := progress.question) is not None:
            said = answers.get(question.id, "none" if "none" in question.answers else question.answers[0])
            progress = answer_report(practice, progress.report_id, question.id, said, self.now)
        self.told[name] = finish_report(practice, progress.report_id, self.now)

    def write(self, words: str) -> None:
        """Reply to the newest message; the practice's mail server delivers into the Maildir."""
        mail = EmailMessage()
        mail["From"], mail["In-Reply-To"] = MAJ, self.mails()[-1]["Message-ID"]
        mail.set_content(words)
        (self.folder / "replies" / "new" / f"{self.now:%d%H%M}.letter").write_bytes(mail.as_bytes())

    def call_back(self, clinician: Session, closing: Closing) -> None:
        """Take the first call of the queue and close it."""
        practice = self.app.practice
        take_callback(practice, see_queue(practice, self.now)[0].callback_id, clinician, self.now)
        entry = see_queue(practice, self.now)[0]
        close_callback(practice, entry.callback_id, clinician, entry.version, closing, self.now)

    def mails(self) -> list[EmailMessage]:
        return [each.mail() for each in self.mailbox.at_address(MAJ)]

    def arrived(self, day: int) -> list[tuple[str, str]]:
        """Time and subject of what arrived on a day of March."""
        received = [each for each in self.mailbox.at_address(MAJ) if each.at.day == day]
        return [(f"{each.at:%H:%M}", str(each.mail()["Subject"])) for each in received]

    def mail(self, day: int, clock: str) -> EmailMessage:
        """The one message that arrived at that time."""
        found = [each for each in self.mailbox.at_address(MAJ) if (each.at.day, f"{each.at:%H:%M}") == (day, clock)]
        assert len(found) == 1, [str(each.mail()["Subject"]) for each in found]
        return found[0].mail()

    def _token(self) -> str:
        return next(token for each in reversed(self.mailbox.at_address(MAJ)) if (token := each.token()))


def words_of(mail: EmailMessage, kind: str) -> str:
    """The words of one body, ``plain`` or ``html`` without its tags, in one line."""
    part = mail.get_body(preferencelist=(kind,))
    assert part is not None
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", str(part.get_content())))
