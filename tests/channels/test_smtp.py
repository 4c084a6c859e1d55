from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable, Iterator
from dataclasses import replace
from email import message_from_bytes
from typing import Any

import pytest
from aiosmtpd.controller import Controller

from followup.channels.smtp import SmtpServer, SmtpTransport, as_data, send_at_once
from followup.core.channel import Outgoing
from followup.core.outbox import AttemptResult, OutboxState, Phase
from tests.channels.scripted_server import DROP, scripted

CONTENT = b"From: follow@quillmere.example\r\nTo: maj@phones.example\r\nMessage-ID: <1@q>\r\n\r\n.one dot first\r\n"
Send = Callable[[SmtpServer, list[Outgoing]], list[AttemptResult]]


def outgoing(number: int = 1, recipient: str = "maj@phones.example") -> Outgoing:
    return Outgoing(number, 1, f"follow+m{number}@quillmere.example", recipient, CONTENT)


def by_batch(server: SmtpServer, batch: list[Outgoing]) -> list[AttemptResult]:
    return asyncio.run(SmtpTransport(server, "quillmere.example").send_all(batch))


def one_by_one(server: SmtpServer, batch: list[Outgoing]) -> list[AttemptResult]:
    return [send_at_once(server, each) for each in batch]


BOTH = pytest.mark.parametrize("send", [by_batch, one_by_one])


class Mailbox:
    """Keeps what a real SMTP server hands over."""

    def __init__(self) -> None:
        self.envelopes: list[Any] = []
        self.peers: list[Any] = []

    async def handle_DATA(self, _server: Any, session: Any, envelope: Any) -> str:  # noqa: N802 -- the server's name
        self.peers.append(session.peer)
        self.envelopes.append(envelope)
        return "250 taken"


@pytest.fixture(scope="module")
def mail_server() -> Iterator[tuple[SmtpServer, Mailbox]]:
    mailbox = Mailbox()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(mailbox, hostname="127.0.0.1", port=port)
    controller.start()
    yield SmtpServer("127.0.0.1", port, "none"), mailbox
    controller.stop()


def at(server: Any) -> SmtpServer:
    return SmtpServer("127.0.0.1", server.port, "none")


@BOTH
def test_a_real_server_gets_the_message_whole(mail_server: tuple[SmtpServer, Mailbox], send: Send) -> None:
    server, mailbox = mail_server
    (result,) = send(server, [outgoing()])
    assert result.state is OutboxState.ACCEPTED
    assert message_from_bytes(mailbox.envelopes[-1].content).get_payload().strip() == ".one dot first"


@BOTH
def test_the_envelope_is_the_rows_own(mail_server: tuple[SmtpServer, Mailbox], send: Send) -> None:
    server, mailbox = mail_server
    send(server, [outgoing(7)])
    envelope = mailbox.envelopes[-1]
    assert (envelope.mail_from, envelope.rcpt_tos) == ("follow+m7@quillmere.example", ["maj@phones.example"])


@BOTH
@pytest.mark.parametrize(
    ("word", "answer", "phase", "state"),
    [
        ("CONNECT", "421 not now", Phase.CONNECT, OutboxState.PLANNED),
        ("MAIL", "451 not now", Phase.MAIL, OutboxState.PLANNED),
        ("RCPT", "450 not now", Phase.RCPT, OutboxState.PLANNED),
        ("RCPT", "550 nobody", Phase.RCPT, OutboxState.REFUSED),
        ("DATA", "451 not now", Phase.DATA, OutboxState.PLANNED),
        ("DATA", "554 no", Phase.DATA, OutboxState.REFUSED),
        ("DOT", "451 not now", Phase.FINAL_DOT, OutboxState.PLANNED),
        ("DOT", "554 no", Phase.FINAL_DOT, OutboxState.REFUSED),
    ],
)
def test_a_numeric_answer_settles_it(send: Send, word: str, answer: str, phase: Phase, state: OutboxState) -> None:
    with scripted(**{word: answer}) as server:
        (result,) = send(at(server), [outgoing()])
    assert (result.phase, result.state) == (phase, state)


@BOTH
@pytest.mark.parametrize("word", ["CONNECT", "EHLO", "MAIL", "RCPT"])
def test_a_line_lost_before_the_message_is_tried_again(send: Send, word: str) -> None:
    also = {"HELO": DROP} if word == "EHLO" else {}
    with scripted(**{word: DROP, **also}) as server:
        (result,) = send(at(server), [outgoing()])
    assert (result.code, result.state) == (None, OutboxState.PLANNED)


@BOTH
def test_a_line_lost_before_the_server_asked_for_the_message_is_tried_again(send: Send) -> None:
    with scripted(DATA=DROP) as server:
        (result,) = send(at(server), [outgoing()])
    assert (result.state, server.taken) == (OutboxState.PLANNED, [])


@BOTH
def test_silence_after_the_final_dot_is_doubt(send: Send) -> None:
    with scripted(DOT=DROP) as server:
        (result,) = send(at(server), [outgoing()])
    assert (result.state, len(server.taken)) == (OutboxState.IN_DOUBT, 1)


@BOTH
def test_where_nobody_listens_it_is_tried_again(send: Send) -> None:
    with scripted() as server:
        closed = at(server)
    (result,) = send(closed, [outgoing()])
    assert (result.phase, result.state) == (Phase.CONNECT, OutboxState.PLANNED)


@pytest.mark.parametrize(
    ("content", "sent"),
    [
        (b"one\ntwo", b"one\r\ntwo\r\n.\r\n"),
        (b".\r\n..\r\n", b"..\r\n...\r\n.\r\n"),
        (b"a.b\r\n", b"a.b\r\n.\r\n"),
        (b"\r\n", b"\r\n.\r\n"),
    ],
)
def test_no_line_of_a_message_can_end_it(content: bytes, sent: bytes) -> None:
    assert as_data(content) == sent


def test_a_server_that_will_not_have_us_says_nothing_about_the_address() -> None:
    with scripted(CONNECT="554 go away") as server:
        (result,) = by_batch(at(server), [outgoing()])
    assert result.state is OutboxState.PLANNED
    assert not result.against_address


def test_a_batch_goes_over_one_connection() -> None:
    with scripted() as server:
        results = by_batch(at(server), [outgoing(number) for number in range(5)])
    assert [each.state for each in results] == [OutboxState.ACCEPTED] * 5
    assert (server.connections, len(server.taken)) == (1, 5)


def test_one_refused_recipient_does_not_stop_the_others() -> None:
    with scripted(RCPT="550 nobody") as server:
        results = by_batch(at(server), [outgoing(1), outgoing(2)])
    assert [each.against_address for each in results] == [True, True]
    assert server.connections == 1


def test_a_dropped_line_is_opened_anew_for_the_next_message() -> None:
    with scripted(DOT=DROP) as server:
        results = by_batch(at(server), [outgoing(1), outgoing(2)])
    assert [each.state for each in results] == [OutboxState.IN_DOUBT] * 2
    assert server.connections == 2


def test_the_connection_can_be_tried_without_sending() -> None:
    with scripted() as server:
        place, wrong = asyncio.run(SmtpTransport(at(server)).try_connection())
    assert (place, wrong, server.taken) == (f"127.0.0.1:{server.port}", None, [])


def test_what_is_wrong_with_a_connection_is_said() -> None:
    with scripted(CONNECT="421 not now") as server:
        _, wrong = asyncio.run(SmtpTransport(at(server)).try_connection())
    assert "421" in str(wrong)


def test_a_password_is_not_shown() -> None:
    assert "hush" not in repr(SmtpServer("mail.example", 25, "tls", "q", "hush"))


def test_a_gateway_is_served_by_itself_amid_a_batch(mail_server: tuple[SmtpServer, Mailbox]) -> None:
    server, mailbox = mail_server
    mailbox.peers.clear()
    batch = [outgoing(1), replace(outgoing(2, "15550100@texts.example"), by_itself=True), outgoing(3)]
    assert [each.state for each in by_batch(server, batch)] == [OutboxState.ACCEPTED] * 3
    first, alone, third = mailbox.peers
    assert first == third != alone
