from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from followup.core.channel import Outgoing
from followup.core.outbox import OutboxState
from followup.services.send_outbox import send_outbox
from followup.storage.tables import outbox
from tests.builders import Clinic


def test_a_message_is_taken_back_if_the_plan_changes_while_it_is_written(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    clinic.at("2026-03-02 16:00")
    clinic.tick()
    clinic.at("2026-03-02 18:30")

    def compose(row: Mapping[str, Any], now: datetime) -> Outgoing:
        if row["kind"] == "question":
            clinic.report(1, {"mark_minutes": 50})
        return clinic.compose(row, now)

    send_outbox(clinic.practice, clinic.server, compose, clinic.clock)
    asked = [row["state"] for row in clinic.rows(outbox.select()) if row["kind"] == "question"]
    assert asked == [OutboxState.WITHDRAWN]
    assert "leave it off" in clinic.sent()[-1]
