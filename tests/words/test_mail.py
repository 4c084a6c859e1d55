from __future__ import annotations

from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.core.sentences import LANGUAGES
from followup.errors import InvalidInput
from followup.words.mail import build_mail, build_text_mail
from followup.words.preview import example
from followup.words.render import KINDS, Rendered, render

SENT_AT = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
FIELDS: dict[str, Any] = {
    "sender": "Quillmere Rooms <rooms@q.example.org>",
    "recipient": "someone@mail.example.org",
    "message_id": "<abc.1@q.example.org>",
    "sent_at": SENT_AT,
}
UNSUBSCRIBE = {"List-Unsubscribe": "<mailto:stop@q.example.org>, <https://q.example.org/s/1>"}


def mail(rendered: Rendered, **more: Any) -> bytes:
    return build_mail(rendered, **{**FIELDS, **more})


def read_back(raw: bytes) -> EmailMessage:
    parsed = message_from_bytes(raw, policy=policy.default)
    assert isinstance(parsed, EmailMessage)
    assert [part.defects for part in parsed.walk() if part.defects] == []
    return parsed


def contents(parsed: EmailMessage) -> list[tuple[str, str]]:
    return [(part.get_content_type(), part.get_content().replace("\r\n", "\n")) for part in parsed.iter_parts()]


@pytest.mark.parametrize(("kind", "language"), list(product(KINDS, LANGUAGES)))
def test_every_message_comes_back_as_it_was_written(kind: str, language: str) -> None:
    message = render(kind, language, example())
    parsed = read_back(mail(message))
    assert parsed["Subject"] == message.subject
    got = [(kind, text.rstrip("\n")) for kind, text in contents(parsed)]
    assert got == [("text/plain", message.text.rstrip("\n")), ("text/html", message.html.rstrip("\n"))]


def test_headers_say_who_when_and_that_a_program_wrote_it() -> None:
    parsed = read_back(mail(render("times", "en", example()), reply_to="in@q.example.org", headers=UNSUBSCRIBE))
    assert parsed["From"].addresses[0].display_name == "Quillmere Rooms"
    assert parsed["To"] == "someone@mail.example.org"
    assert parsed["Reply-To"] == "in@q.example.org"
    assert parsed["Date"].datetime == SENT_AT
    assert parsed["Message-ID"] == "<abc.1@q.example.org>"
    assert parsed["Auto-Submitted"] == "auto-generated"
    assert parsed["List-Unsubscribe"] == UNSUBSCRIBE["List-Unsubscribe"]


def test_the_mail_is_seven_bit_with_short_lines() -> None:
    raw = mail(render("question", "es", example()))
    assert raw.isascii()
    assert max(len(line) for line in raw.split(b"\r\n")) <= 998
    assert b"\n" not in raw.replace(b"\r\n", b"")


def test_the_same_input_gives_the_same_bytes() -> None:
    message = render("times", "es", example())
    assert mail(message) == mail(message)


@given(st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=3000))
def test_any_body_comes_back(text: str) -> None:
    parsed = read_back(mail(Rendered("Ämne", text, f"<p>{text}</p>", "", "")))
    assert [body.rstrip("\n") for _, body in contents(parsed)] == [text, f"<p>{text}</p>"]


@pytest.mark.parametrize("bad", ["a\r\nBcc: x@example.org", "a\nX: 1", "a\rb", "a\x00b", "a\u2028b"])
@pytest.mark.parametrize("field", ["sender", "recipient", "reply_to", "message_id", "subject", "header"])
def test_a_line_break_in_any_header_is_refused(bad: str, field: str) -> None:
    message = render("times", "en", example())
    more: dict[str, Any] = {field: bad}
    if field == "subject":
        message, more = Rendered(bad, "text", "<p>text</p>", "", ""), {}
    elif field == "header":
        more = {"headers": {"X-Note": bad}}
    with pytest.raises(InvalidInput):
        mail(message, **more)


@pytest.mark.parametrize("name", ["Bcc", "Subject", "X Note", "X:Note", "", "Content-Type"])
def test_a_header_set_here_or_misnamed_is_refused(name: str) -> None:
    with pytest.raises(InvalidInput, match="cannot be added"):
        mail(render("times", "en", example()), headers={name: "x"})


@pytest.mark.parametrize("address", ["", "someone", "a@b, c@d", "a@b c@d", "Ann <a@b.org>", "å@b.org", "a@@b.org"])
def test_anything_but_one_bare_address_is_refused_as_recipient(address: str) -> None:
    with pytest.raises(InvalidInput, match="one mail address"):
        mail(render("times", "en", example()), recipient=address)


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(InvalidInput, match="time zone"):
        mail(render("times", "en", example()), sent_at=datetime(2026, 3, 2, 14, 0))


def test_a_display_name_may_carry_accents() -> None:
    parsed = read_back(mail(render("times", "es", example()), sender="Clínica Quillmere <c@q.example.org>"))
    assert parsed["From"].addresses[0].display_name == "Clínica Quillmere"


def test_a_text_for_a_gateway_is_one_plain_part_without_subject() -> None:
    short = render("times", "es", example()).short_no_reply
    parsed = read_back(build_text_mail(short, **FIELDS))
    assert (parsed.get_content_type(), parsed["Subject"]) == ("text/plain", None)
    assert parsed.get_content().strip() == short
