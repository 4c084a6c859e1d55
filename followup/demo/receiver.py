"""A local SMTP receiver that keeps every message it takes: the telephones of the demo."""

from __future__ import annotations

import re
import socket
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any

from followup.errors import FollowupError

try:
    from aiosmtpd import controller
except ImportError:  # the demo is an extra; the rest of the program works without it
    controller = None  # type: ignore[assignment]

LINK = re.compile(r"/c/([A-Za-z0-9_-]{16})")


@dataclass(frozen=True, slots=True)
class Received:
    """One message as it arrived. `number` counts from 1 in the order of arrival."""

    number: int
    at: datetime
    recipient: str
    content: bytes

    def mail(self) -> EmailMessage:
        """The message parsed."""
        parsed = message_from_bytes(self.content, policy=default)
        assert isinstance(parsed, EmailMessage)
        return parsed

    def words(self) -> str:
        """Its plain text."""
        part = self.mail().get_body(preferencelist=("plain",))
        return str(part.get_content()).strip() if part is not None else ""

    def token(self) -> str | None:
        """The token of the private page it links to, if any."""
        found = LINK.search(self.words())
        return found[1] if found else None


class Receiver:
    """Takes mail on a free loopback port and keeps it; answers 550 at RCPT for the addresses it refuses."""

    def __init__(self, clock: Callable[[], datetime], refuses: frozenset[str] = frozenset()) -> None:
        if controller is None:
            raise FollowupError("no_receiver", "The demo needs the extra: pip install 'followup[demo]'.")
        self.received: list[Received] = []
        self.refused = 0
        self._clock = clock
        self._refuses = refuses
        self.port = _free_port()
        self._controller = controller.Controller(self, hostname="127.0.0.1", port=self.port, decode_data=False)

    def use_clock(self, clock: Callable[[], datetime]) -> None:
        """Stamp what arrives from now on by another clock."""
        self._clock = clock

    def start(self) -> None:
        """Begin to take mail, in a thread of its own."""
        self._controller.start()

    def stop(self) -> None:
        """Take no more mail."""
        self._controller.stop()

    def at_address(self, address: str) -> list[Received]:
        """What arrived for one address, oldest first."""
        return [each for each in self.received if each.recipient == address]

    async def handle_RCPT(  # noqa: N802 (the name aiosmtpd calls)
        self, _server: Any, _session: Any, envelope: Any, address: str, _options: list[str]
    ) -> str:
        """Take or refuse one recipient."""
        if address.lower() in self._refuses:
            self.refused += 1
            return "550 5.1.1 no such mailbox here"
        envelope.rcpt_tos.append(address)
        return "250 2.1.5 taken"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        """Keep one message for each of its recipients."""
        for recipient in envelope.rcpt_tos:
            self.received.append(Received(len(self.received) + 1, self._clock(), recipient, envelope.content))
        return "250 2.0.0 kept"


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])
