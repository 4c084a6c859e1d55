"""The one place that knows every concrete part and puts them together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from followup.channels.mail_gateway import Gateways, load_gateways
from followup.channels.maildir import make_maildir
from followup.channels.smtp import SmtpServer, SmtpTransport
from followup.clinical.load_protocols import load_protocol_history, load_protocols
from followup.clinical.load_rules import load_places, load_replies, load_rule_set
from followup.clock import system_clock
from followup.core.channel import Inbox, Outgoing
from followup.core.clinic_hours import parse_hours
from followup.services.practice import Practice, PracticeFacts
from followup.settings import Settings
from followup.storage.engine import Store, open_store
from followup.words.mail import build_mail, build_text_mail
from followup.words.render import MessageTemplates, template_root


@dataclass(frozen=True)
class App:
    """Everything an entry point needs."""

    settings: Settings
    practice: Practice
    transport: SmtpTransport
    compose: MailComposer
    inboxes: Sequence[Inbox]
    clock: Callable[[], datetime]

    def close(self) -> None:
        """Let go of the database."""
        self.practice.store.close()


@dataclass(frozen=True)
class MailComposer:
    """Renders an outbox row and makes the mail of it. The envelope sender carries the row, so bounces find it."""

    templates: MessageTemplates
    gateways: Gateways
    sender: str
    practice_name: str

    def __call__(self, row: Mapping[str, Any], sent_at: datetime) -> Outgoing:
        """The bytes of one row; `InvalidInput` if its channel or words do not allow it."""
        rendered = self.templates.render(row["kind"], row["language"], row["payload"])
        envelope = _bounces_to(self.sender, row["id"])
        if row["channel"] == "text":
            recipient = self.gateways.address_of(row["address"], sent_at.astimezone(UTC).date())
            content = build_text_mail(
                rendered.short_no_reply,
                sender=self.sender,
                recipient=recipient,
                message_id=row["message_id"],
                sent_at=sent_at,
            )
        else:
            recipient = row["address"]
            content = build_mail(
                rendered,
                sender=f"{self.practice_name} <{self.sender}>",
                recipient=recipient,
                message_id=row["message_id"],
                sent_at=sent_at,
                reply_to=self.sender,
            )
        by_itself = row["channel"] == "text"
        return Outgoing(row["id"], row["attempt"], envelope, recipient, content, by_itself)


def make_app(settings: Settings, clock: Callable[[], datetime] = system_clock, store: Store | None = None) -> App:
    """The program put together from its settings; raises `InvalidInput` for a setting that cannot work."""
    practice = make_practice(settings, store or open_store(settings.database_url))
    compose = MailComposer(
        MessageTemplates(template_root() / "messages"),
        load_gateways(settings.mail_gateways_file),
        settings.mail_sender,
        settings.practice_name,
    )
    inboxes = [make_maildir(Path(settings.maildir))] if settings.maildir else []
    transport = SmtpTransport(smtp_server(settings), practice.mail_domain)
    return App(settings, practice, transport, compose, inboxes, clock)


def make_practice(settings: Settings, store: Store) -> Practice:
    """What the use cases are handed."""
    facts = PracticeFacts(
        settings.practice_name,
        settings.practice_phone,
        settings.out_of_hours_phone,
        settings.emergency_number,
        settings.on_call_address,
        settings.public_address,
        parse_hours(settings.clinic_hours, settings.practice_zone, settings.closed_days),
    )
    return Practice(
        store,
        load_rule_set(),
        load_protocols(),
        load_protocol_history(),
        load_places(),
        load_replies(),
        facts,
        settings.secret.get_secret_value().encode(),
        settings.mail_sender.rpartition("@")[2],
    )


def smtp_server(settings: Settings) -> SmtpServer:
    """Where mail is handed over."""
    return SmtpServer(
        settings.smtp_host,
        settings.smtp_port,
        settings.smtp_security.value,
        settings.smtp_user,
        settings.smtp_password.get_secret_value(),
    )


def _bounces_to(sender: str, row_id: int) -> str:
    local, _, domain = sender.rpartition("@")
    return f"{local}+m{row_id}@{domain}"
