"""Counting what was done, for people who look at the whole: the demo, and whoever asks how much work there is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from followup.services.practice import Practice
from followup.storage import callbacks, outbox, reports


@dataclass(frozen=True, slots=True)
class Work:
    """How many reports came in, and how many callbacks were opened and closed, ever."""

    reports: int
    callbacks_opened: int
    callbacks_closed: int


def count_work(practice: Practice) -> Work:
    """How much there was to do."""
    with practice.store.read() as connection:
        states = callbacks.count_states(connection)
        return Work(reports.count_reports(connection), sum(states.values()), states.get("closed", 0))


def list_outbox(practice: Practice) -> tuple[Mapping[str, Any], ...]:
    """Every message ever planned, in that order, without its words and without its address."""
    with practice.store.read() as connection:
        return tuple(outbox.every_message(connection))
