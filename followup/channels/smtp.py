"""Mail out by aiosmtplib, command by command, so that "not sent" and "perhaps sent" are told apart."""

from __future__ import annotations

import asyncio
import re
import smtplib
import ssl
from collections.abc import Sequence
from dataclasses import dataclass, field

import aiosmtplib
from aiosmtplib.errors import SMTPDataError, SMTPException, SMTPResponseException

from followup.core.channel import Outgoing
from followup.core.outbox import AttemptResult, Phase

COMMAND_SECONDS = 60
START_OF_CONTENT = 354
FINAL_SECONDS = 600
"""The reply to the final dot may take ten minutes (RFC 5321 4.5.3.2.6)."""


@dataclass(frozen=True, slots=True)
class SmtpServer:
    """Where mail is handed over. `security` is ``none``, ``starttls`` or ``tls``."""

    host: str
    port: int
    security: str
    user: str = ""
    password: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class SmtpTransport:
    """Sends a batch over one connection, opened anew when the server drops it."""

    server: SmtpServer
    hostname: str = "localhost"

    async def send_all(self, batch: Sequence[Outgoing]) -> list[AttemptResult]:
        """Try each message once; what the server did is in the results."""
        results: list[AttemptResult] = []
        client: aiosmtplib.SMTP | None = None
        for outgoing in batch:
            if outgoing.by_itself:
                results.append(await asyncio.to_thread(send_at_once, self.server, outgoing))
                continue
            if client is None or not client.is_connected:
                client, failed = await self._open()
                if failed is not None:
                    results.append(failed)
                    continue
            results.append(await _converse(client, outgoing))
        if client is not None:
            await _leave(client)
        return results

    async def try_connection(self) -> tuple[str, str | None]:
        """The server's place, and what went wrong there, None if it answers."""
        place = f"{self.server.host}:{self.server.port}"
        client, failed = await self._open()
        await _leave(client)
        return place, f"{failed.code or 'no answer'} {failed.answer}" if failed else None

    async def _open(self) -> tuple[aiosmtplib.SMTP, AttemptResult | None]:
        server = self.server
        client = aiosmtplib.SMTP(
            hostname=server.host,
            port=server.port,
            use_tls=server.security == "tls",
            start_tls=server.security == "starttls",
            timeout=COMMAND_SECONDS,
            local_hostname=self.hostname,
        )
        try:
            await client.connect()
            if server.user:
                await client.login(server.user, server.password)
            await client.ehlo()
        except SMTPResponseException as error:
            return client, AttemptResult(Phase.CONNECT, _not_about_us(error.code), error.message)
        except (SMTPException, OSError) as error:
            return client, AttemptResult(Phase.CONNECT, None, str(error))
        return client, None


async def _converse(client: aiosmtplib.SMTP, outgoing: Outgoing) -> AttemptResult:
    phase = Phase.MAIL
    try:
        await client.mail(outgoing.sender)
        phase = Phase.RCPT
        await client.rcpt(outgoing.recipient)
        phase = Phase.DATA
        begun = await client.execute_command(b"DATA")
        if begun.code != START_OF_CONTENT or client.protocol is None:
            raise SMTPDataError(begun.code, begun.message)
        client.protocol.write(as_data(outgoing.content))
        phase = Phase.FINAL_DOT
        answer = await client.protocol.read_response(timeout=FINAL_SECONDS)
    except SMTPResponseException as error:
        await _reset(client)
        return AttemptResult(phase, error.code, error.message)
    except (SMTPException, OSError, EOFError) as error:
        client.close()
        return AttemptResult(phase, None, str(error))
    return AttemptResult(phase, answer.code, answer.message)


def as_data(content: bytes) -> bytes:
    """The content as it follows DATA: lines end in CRLF, a leading dot is doubled, a lone dot ends it (RFC 5321 4.5.2).

    DATA and content are sent in two steps, for a line lost between them is known to be lost before the message.
    """
    lines = re.sub(rb"\r\n|\r|\n", b"\r\n", content)
    whole = lines if lines.endswith(b"\r\n") else lines + b"\r\n"
    return re.sub(rb"(?m)^\.", b"..", whole) + b".\r\n"


def _not_about_us(code: int) -> int:
    """A server that will not have us at all says nothing about the recipient: try again later."""
    return 400 + code % 100 if code >= 500 else code


async def _reset(client: aiosmtplib.SMTP) -> None:
    try:
        await client.rset()
    except (SMTPException, OSError):
        client.close()


async def _leave(client: aiosmtplib.SMTP) -> None:
    try:
        if client.is_connected:
            await client.quit()
    except (SMTPException, OSError):
        client.close()


def send_at_once(server: SmtpServer, outgoing: Outgoing) -> AttemptResult:
    """One message by the standard library, for `doctor` and where the event loop is not wanted."""
    phase = Phase.CONNECT
    try:
        with _connect(server) as client:
            phase = Phase.EHLO
            client.ehlo()
            phase = Phase.MAIL
            code, answer = client.mail(outgoing.sender)
            if code < 300:
                phase = Phase.RCPT
                code, answer = client.rcpt(outgoing.recipient)
            if code < 300:
                phase = Phase.DATA
                code, answer = client.docmd("DATA")
            if code == START_OF_CONTENT:
                phase = Phase.FINAL_DOT
                client.send(as_data(outgoing.content))
                code, answer = client.getreply()
            return AttemptResult(phase, code, answer.decode("utf-8", "replace"))
    except smtplib.SMTPResponseException as error:
        said = error.smtp_error.decode("utf-8", "replace") if isinstance(error.smtp_error, bytes) else error.smtp_error
        return AttemptResult(phase, error.smtp_code, said)
    except (smtplib.SMTPException, OSError) as error:
        return AttemptResult(phase, None, str(error))


def _connect(server: SmtpServer) -> smtplib.SMTP:
    context = ssl.create_default_context()
    if server.security == "tls":
        client: smtplib.SMTP = smtplib.SMTP_SSL(server.host, server.port, timeout=COMMAND_SECONDS, context=context)
    else:
        client = smtplib.SMTP(server.host, server.port, timeout=COMMAND_SECONDS)
    if server.security == "starttls":
        client.starttls(context=context)
    if server.user:
        client.login(server.user, server.password)
    return client
