"""The life of one message from planned to settled: states, keys, what an attempt's outcome leads to, and backoff.

planned -> claimed -> sending -> accepted
   ^          |          |-> planned    numeric 4xx, or the line was lost before the final dot
   |          |          |-> refused    numeric 5xx
   +----------+          +-> in_doubt   no numeric answer after the final dot, or a crash while sending
withdrawn, expired
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from followup.core.message import DueMessage

LEASE = timedelta(seconds=900)
"""How long a worker may hold a message: longer than the ten minutes RFC 5321 4.5.3.2.6 allows the final answer."""
MICRO_BATCH = 16
FIRST_BACKOFF = timedelta(minutes=1)
LONGEST_BACKOFF = timedelta(minutes=30)


class OutboxState(StrEnum):
    """Where a message stands."""

    PLANNED = "planned"
    CLAIMED = "claimed"
    SENDING = "sending"
    ACCEPTED = "accepted"
    REFUSED = "refused"
    IN_DOUBT = "in_doubt"
    WITHDRAWN = "withdrawn"
    EXPIRED = "expired"


class Phase(StrEnum):
    """How far an SMTP conversation came."""

    CONNECT = "connect"
    EHLO = "ehlo"
    MAIL = "mail"
    RCPT = "rcpt"
    DATA = "data"
    FINAL_DOT = "final_dot"


@dataclass(frozen=True, slots=True)
class AttemptResult:
    """What one attempt told us. `code` is the SMTP reply code, None when there was no numeric answer."""

    phase: Phase
    code: int | None
    answer: str

    @property
    def state(self) -> OutboxState:
        """The state the message goes to. Only silence after the final dot is doubt."""
        if self.code is None:
            return OutboxState.IN_DOUBT if self.phase is Phase.FINAL_DOT else OutboxState.PLANNED
        if 200 <= self.code < 300 and self.phase is Phase.FINAL_DOT:
            return OutboxState.ACCEPTED
        return OutboxState.REFUSED if self.code >= 500 else OutboxState.PLANNED

    @property
    def against_address(self) -> bool:
        """True when the server refused this recipient, rather than us or the text."""
        return self.state is OutboxState.REFUSED and self.phase is Phase.RCPT


def message_key(message: DueMessage, orthosis_id: int, revision: int) -> str:
    """What makes a message the same message; unique among rows not withdrawn."""
    who = message.recipient
    return f"{orthosis_id}:{who.contact_id}:{message.plan_on}:{message.kind}:{message.slot}:{who.channel}:{revision}"


def message_id(key: str, secret: bytes, domain: str) -> str:
    """The Message-ID of a key: always the same one, so that a second copy is recognised as a copy (RFC 5322 3.6.4)."""
    return f"<{hmac.new(secret, key.encode(), hashlib.sha256).hexdigest()[:32]}@{domain}>"


def backoff(attempt: int, key: str) -> timedelta:
    """How long to wait after the `attempt`-th failure: doubling, capped, spread by up to a fifth by the key."""
    doublings = min(max(attempt - 1, 0), 10)
    base = min(FIRST_BACKOFF * float(2**doublings), LONGEST_BACKOFF)
    share = int(hashlib.sha256(f"{key}:{attempt}".encode()).hexdigest()[:4], 16) / 0xFFFF
    return base * (1 + share / 5)
