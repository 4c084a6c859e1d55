"""What a channel is to the rest of the program: it takes composed messages and says how each attempt went."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from followup.core.outbox import AttemptResult


@dataclass(frozen=True, slots=True)
class Outgoing:
    """A message ready for the wire: one recipient, the envelope and the bytes of RFC 5322.

    `by_itself` asks for a connection of its own by the standard library: so are e-mail-to-SMS gateways served.
    """

    row_id: int
    attempt: int
    sender: str
    recipient: str
    content: bytes
    by_itself: bool = False


class Transport(Protocol):
    """Sends a batch; one result for each message, in order. Never raises for what a server did."""

    async def send_all(self, batch: Sequence[Outgoing]) -> list[AttemptResult]:
        """Try each message once."""
        ...


class Composer(Protocol):
    """Makes the bytes of an outbox row. Raises `InvalidInput` for a row that must not or cannot be sent."""

    def __call__(self, row: Mapping[str, Any], sent_at: datetime) -> Outgoing:
        """The message of the row as it goes on the wire at `sent_at`."""
        ...


class Inbox(Protocol):
    """Where replies arrive. An item is handed over again until it is marked as taken."""

    def waiting(self, limit: int) -> list[tuple[str, str]]:
        """Pairs of source id and raw text."""
        ...

    def taken(self, source_id: str) -> None:
        """The item is safely kept and need not be handed over again."""
        ...
