"""Turns a rendered message into the bytes of a mail (RFC 5322, MIME), fast and without letting a header be injected."""

from __future__ import annotations

import binascii
import hashlib
import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from email.header import Header
from email.utils import format_datetime, formataddr, parseaddr

from followup.errors import InvalidInput
from followup.words.render import Rendered

_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")
_HEADER_NAME = re.compile(r"[A-Za-z][A-Za-z0-9-]*")
_ADDRESS = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)*")
_MESSAGE_ID = re.compile(r"<[^\s<>@]+@[^\s<>@]+>")
_SET_HERE = frozenset(
    {
        *("date", "from", "to", "reply-to", "subject", "message-id", "auto-submitted", "mime-version"),
        *("content-type", "content-transfer-encoding", "sender", "cc", "bcc", "return-path"),
    }
)
_LONGEST_LINE = 998  # RFC 5322, 2.1.1


def build_mail(
    rendered: Rendered,
    *,
    sender: str,
    recipient: str,
    message_id: str,
    sent_at: datetime,
    reply_to: str | None = None,
    headers: Mapping[str, str] | None = None,
) -> bytes:
    """A multipart/alternative mail: text first, HTML second.

    `sender` and `reply_to` may carry a display name; `recipient` is one bare ASCII address; `sent_at` is aware.
    `headers` adds such as ``List-Unsubscribe``. Raises ``InvalidInput`` for anything that cannot stand in a header.
    """
    fixed = _fixed_headers(rendered.subject, sender, recipient, message_id, sent_at, reply_to)
    boundary = "=_" + hashlib.sha256(message_id.encode()).hexdigest()[:32]
    lines = [
        *fixed,
        *_extra_headers(headers or {}),
        f'Content-Type: multipart/alternative; boundary="{boundary}"',
        "",
        f"--{boundary}",
        *_part("text/plain", rendered.text),
        f"--{boundary}",
        *_part("text/html", rendered.html),
        f"--{boundary}--",
        "",
    ]
    return "\r\n".join(lines).encode("ascii")


def build_text_mail(
    text: str,
    *,
    sender: str,
    recipient: str,
    message_id: str,
    sent_at: datetime,
    subject: str = "",
    headers: Mapping[str, str] | None = None,
) -> bytes:
    """A mail of one plain part for an e-mail-to-SMS address, whose gateway passes on the body and often the subject."""
    fixed = _fixed_headers(subject, sender, recipient, message_id, sent_at, None)
    lines = [*fixed, *_extra_headers(headers or {}), *_part("text/plain", text), ""]
    return "\r\n".join(lines).encode("ascii")


def _fixed_headers(
    subject: str, sender: str, recipient: str, message_id: str, sent_at: datetime, reply_to: str | None
) -> Iterable[str]:
    if not _MESSAGE_ID.fullmatch(message_id) or not message_id.isascii() or _CONTROL.search(message_id):
        raise InvalidInput("bad_header", "Give a message id such as <id@example.org>.", "message_id")
    if sent_at.tzinfo is None:
        raise InvalidInput("bad_header", "Give an instant with its time zone.", "sent_at")
    yield f"Date: {format_datetime(sent_at)}"
    yield f"From: {_mailbox(sender, 'sender')}"
    yield f"To: {_bare_address(recipient, 'recipient')}"
    if reply_to is not None:
        yield f"Reply-To: {_mailbox(reply_to, 'reply_to')}"
    if subject:
        yield f"Subject: {_encoded('Subject', subject)}"
    yield f"Message-ID: {message_id}"
    yield "Auto-Submitted: auto-generated"  # RFC 3834: no vacation notice answers this
    yield "MIME-Version: 1.0"


def _extra_headers(headers: Mapping[str, str]) -> Iterable[str]:
    for name, value in headers.items():
        if not _HEADER_NAME.fullmatch(name) or name.lower() in _SET_HERE:
            raise InvalidInput("bad_header", f"This header cannot be added: {name[:40]!r}.", "headers")
        yield f"{name}: {_encoded(name, value)}"


def _part(content_type: str, text: str) -> Iterable[str]:
    yield f"Content-Type: {content_type}; charset=utf-8"
    yield "Content-Transfer-Encoding: quoted-printable"
    yield ""
    yield from _quoted_printable(text)


def _quoted_printable(text: str) -> list[str]:
    plain = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n")
    coded = binascii.b2a_qp(plain.encode("utf-8"), istext=True).decode("ascii")
    return coded.split("\n")


def _encoded(name: str, value: str) -> str:
    """`value` as it stands where it is ASCII, else as RFC 2047 encoded words; no control character passes."""
    if _CONTROL.search(value):
        raise InvalidInput("bad_header", f"Take line breaks and control characters out of {name}.", name)
    if not value.isascii():
        return Header(value, "utf-8", header_name=name).encode(linesep="\r\n")
    if len(name) + 2 + len(value) > _LONGEST_LINE:
        raise InvalidInput("bad_header", f"Shorten {name}: a header line holds {_LONGEST_LINE} characters.", name)
    return value


def _mailbox(value: str, path: str) -> str:
    """``Name <address>`` or a bare address, with the name coded."""
    if _CONTROL.search(value):
        raise InvalidInput("bad_header", "Take line breaks and control characters out of the address.", path)
    name, address = parseaddr(value)
    return formataddr((name, _bare_address(address, path)))


def _bare_address(value: str, path: str) -> str:
    if not _ADDRESS.fullmatch(value) or len(value) > 254:
        raise InvalidInput("bad_address", "Give one mail address such as someone@example.org.", path)
    return value
