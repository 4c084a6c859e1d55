"""A transport that keeps what it is given: for tests and previews. It can be told how a server would answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from followup.core.channel import Outgoing
from followup.core.outbox import AttemptResult, Phase


def accept(_: Outgoing) -> AttemptResult:
    """A server that takes everything."""
    return AttemptResult(Phase.FINAL_DOT, 250, "taken")


@dataclass
class RecordingTransport:
    """Keeps every message tried; `answer` decides how each attempt goes."""

    answer: Callable[[Outgoing], AttemptResult] = accept
    tried: list[Outgoing] = field(default_factory=list)

    async def send_all(self, batch: Sequence[Outgoing]) -> list[AttemptResult]:
        """Keep the batch and answer each message."""
        self.tried.extend(batch)
        return [self.answer(outgoing) for outgoing in batch]
