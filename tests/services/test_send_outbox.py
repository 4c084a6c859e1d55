from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta

import pytest

from followup.channels.recording import RecordingTransport
from followup.core.channel import Outgoing
from followup.core.outbox import LEASE, AttemptResult, OutboxState, Phase
from followup.services.check_delivery import send_test_message
from followup.services.desk import see_desk
from followup.services.send_outbox import send_outbox
from followup.storage.tables import attempt, contact, outbox
from tests.builders import ALDO, Clinic


def answering(phase: Phase, code: int | None) -> Callable[[Outgoing], AttemptResult]:
    return lambda _: AttemptResult(phase, code, "said")


def started(clinic: Clinic, phase: Phase = Phase.FINAL_DOT, code: int | None = 250) -> Clinic:
    """A plan has begun, and the server answers every message like this."""
    clinic.start()
    clinic.server.answer = answering(phase, code)
    clinic.tick()
    return clinic


def states(clinic: Clinic) -> list[str]:
    return [row["state"] for row in clinic.rows(outbox.select().order_by(outbox.c.id))]


def desk(clinic: Clinic) -> list[str]:
    return [each.kind for each in see_desk(clinic.practice, clinic.now)]


class Crash(RecordingTransport):
    """A worker that dies while it talks to the server."""

    async def send_all(self, batch: Sequence[Outgoing]) -> list[AttemptResult]:
        self.tried.extend(batch)
        raise KeyboardInterrupt


def test_an_accepted_message_is_sent_once(clinic: Clinic) -> None:
    started(clinic)
    clinic.tick()
    assert (states(clinic), len(clinic.server.tried)) == ([OutboxState.ACCEPTED], 1)


def test_each_attempt_is_recorded_with_what_the_server_said(clinic: Clinic) -> None:
    started(clinic)
    (row,) = clinic.rows(attempt.select())
    assert (row["number"], row["phase"], row["code"], row["answer"]) == (1, "final_dot", 250, "said")


@pytest.mark.parametrize(
    ("phase", "code"), [(Phase.RCPT, 450), (Phase.FINAL_DOT, 451), (Phase.CONNECT, None), (Phase.MAIL, None)]
)
def test_not_now_is_tried_again_later_with_the_same_message_id(clinic: Clinic, phase: Phase, code: int | None) -> None:
    started(clinic, phase, code)
    clinic.tick()
    assert len(clinic.server.tried) == 1
    clinic.server.answer = answering(Phase.FINAL_DOT, 250)
    clinic.now += timedelta(minutes=2)
    clinic.tick()
    assert states(clinic) == [OutboxState.ACCEPTED]
    assert len({each.content.split(b"Message-ID: ")[1].split(b"\n")[0] for each in clinic.server.tried}) == 1


def test_a_refused_address_is_suspended_and_the_desk_is_told(clinic: Clinic) -> None:
    started(clinic, Phase.RCPT, 550)
    assert clinic.rows(contact.select())[0]["suspended_at"] == clinic.now
    assert (states(clinic), desk(clinic)) == ([OutboxState.REFUSED], ["undelivered"])


def test_nothing_more_is_sent_to_a_suspended_address(clinic: Clinic) -> None:
    started(clinic, Phase.RCPT, 550)
    clinic.run_until("2026-03-03 20:00")
    assert len(clinic.server.tried) == 1


def test_what_was_planned_for_a_refused_address_is_taken_back(clinic: Clinic) -> None:
    started(clinic)
    clinic.at("2026-03-02 17:00")
    clinic.server.answer = answering(Phase.RCPT, 550)
    send_test_message(clinic.practice, 1, clinic.now)
    clinic.tick()
    clinic.at("2026-03-02 18:30")
    clinic.tick()
    assert [row["kind"] for row in clinic.rows(outbox.select()) if row["state"] == "refused"] == ["test"]
    assert len(clinic.server.tried) == 2


def test_a_refused_text_is_no_fault_of_the_address(clinic: Clinic) -> None:
    started(clinic, Phase.FINAL_DOT, 554)
    assert clinic.rows(contact.select())[0]["suspended_at"] is None
    assert desk(clinic) == ["undelivered"]


def test_silence_after_the_final_dot_is_doubt_never_repeated_and_told(clinic: Clinic) -> None:
    started(clinic, Phase.FINAL_DOT, None)
    clinic.now += timedelta(hours=1)
    clinic.tick()
    assert (states(clinic)[0], desk(clinic), len(clinic.server.tried)) == (OutboxState.IN_DOUBT, ["in_doubt"], 1)


def test_a_crash_while_sending_is_doubt_once_the_lease_ran_out(clinic: Clinic) -> None:
    clinic.start()
    clinic.server = Crash()
    with pytest.raises(KeyboardInterrupt):
        clinic.tick()
    assert states(clinic) == [OutboxState.SENDING]
    clinic.server = RecordingTransport()
    clinic.now += LEASE
    clinic.tick()
    assert (states(clinic)[0], desk(clinic), clinic.server.tried) == (OutboxState.IN_DOUBT, ["in_doubt"], [])


def test_a_changed_plan_takes_back_what_was_not_sent(clinic: Clinic) -> None:
    started(clinic)
    clinic.at("2026-03-02 16:00")
    clinic.tick()
    assert states(clinic)[1:] == [OutboxState.PLANNED]
    clinic.report(1, {"mark_minutes": 50})
    assert states(clinic)[1] == OutboxState.WITHDRAWN


def test_a_change_message_goes_though_the_plan_changed(clinic: Clinic) -> None:
    started(clinic)
    clinic.report(1, {"mark_minutes": 50})
    clinic.clear(1)
    clinic.tick()
    assert "leave it off" in clinic.sent()[-1]


def test_a_newer_change_replaces_one_that_was_not_sent(clinic: Clinic) -> None:
    started(clinic)
    clinic.report(1, {"mark_minutes": 50})
    clinic.report(1, {"skin_open": True})
    clinic.tick()
    assert sum("leave it off" in each for each in clinic.sent()) == 1


def test_a_stale_message_expires_and_the_desk_hears(clinic: Clinic) -> None:
    started(clinic, Phase.CONNECT, None)
    clinic.run_until("2026-03-03 00:00")
    assert set(states(clinic)) == {OutboxState.EXPIRED}
    assert "undelivered" in desk(clinic)


def test_times_are_not_sent_once_they_have_begun(clinic: Clinic) -> None:
    started(clinic)
    clinic.at("2026-03-03 06:30")
    clinic.tick()
    clinic.at("2026-03-03 09:30")
    clinic.tick()
    assert not any("Put it on" in each for each in clinic.sent()[1:])


def test_a_text_contact_without_a_gateway_is_for_the_desk(clinic: Clinic) -> None:
    clinic.start({**ALDO, "contact1_channel": "text", "contact1_address": "01632 960157"})
    clinic.tick()
    assert (states(clinic)[0], clinic.server.tried) == (OutboxState.REFUSED, [])
    assert "undelivered" in desk(clinic)


def test_the_envelope_carries_the_row_so_that_bounces_find_it(clinic: Clinic) -> None:
    started(clinic)
    assert clinic.server.tried[0].sender == "follow+m1@quillmere.example"


def test_more_than_one_batch_is_sent_in_one_go(clinic: Clinic) -> None:
    for number in range(20):
        row = {"wearer_reference": f"W{number}", "identifier": f"Q{number}"}
        clinic.start({**ALDO, **row, "contact1_address": f"maj{number}@phones.example"})
    clinic.tick()
    assert len({each.recipient for each in clinic.server.tried}) == 20


def test_no_more_than_asked_for_is_begun(clinic: Clinic) -> None:
    started(clinic)
    assert sum(send_outbox(clinic.practice, clinic.server, clinic.compose, clinic.clock, most=0).values()) == 0
