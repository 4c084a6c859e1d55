from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.core.message import DueMessage, MessageKind, Recipient
from followup.core.outbox import (
    FIRST_BACKOFF,
    LEASE,
    LONGEST_BACKOFF,
    AttemptResult,
    OutboxState,
    Phase,
    backoff,
    message_id,
    message_key,
)
from tests.builders import day, utc

DUE = utc("2026-03-02 08:00")
MAJ = Recipient(1, "email", "maj@phones.example", "en", "Europe/London", True, True, True, False)
TIMES = DueMessage(MAJ, MessageKind.TIMES, "times", day("2026-03-02"), DUE, DUE + timedelta(hours=9), {})


@pytest.mark.parametrize(
    ("phase", "code", "state"),
    [
        (Phase.FINAL_DOT, 250, OutboxState.ACCEPTED),
        (Phase.FINAL_DOT, None, OutboxState.IN_DOUBT),
        (Phase.FINAL_DOT, 451, OutboxState.PLANNED),
        (Phase.FINAL_DOT, 554, OutboxState.REFUSED),
        (Phase.RCPT, None, OutboxState.PLANNED),
        (Phase.RCPT, 450, OutboxState.PLANNED),
        (Phase.RCPT, 550, OutboxState.REFUSED),
        (Phase.RCPT, 250, OutboxState.PLANNED),
        (Phase.CONNECT, None, OutboxState.PLANNED),
        (Phase.DATA, 354, OutboxState.PLANNED),
    ],
)
def test_what_an_answer_leads_to(phase: Phase, code: int | None, state: OutboxState) -> None:
    assert AttemptResult(phase, code, "").state is state


@given(st.sampled_from(Phase), st.one_of(st.none(), st.integers(200, 599)))
def test_only_silence_after_the_final_dot_is_doubt(phase: Phase, code: int | None) -> None:
    doubt = AttemptResult(phase, code, "").state is OutboxState.IN_DOUBT
    assert doubt == (phase is Phase.FINAL_DOT and code is None)


@given(st.sampled_from([each for each in Phase if each is not Phase.FINAL_DOT]), st.integers(200, 599))
def test_nothing_is_accepted_before_the_final_dot(phase: Phase, code: int) -> None:
    assert AttemptResult(phase, code, "").state is not OutboxState.ACCEPTED


def test_only_a_refused_recipient_counts_against_the_address() -> None:
    assert AttemptResult(Phase.RCPT, 550, "").against_address
    assert not AttemptResult(Phase.FINAL_DOT, 554, "").against_address


@given(st.integers(1, 500), st.text(max_size=20))
def test_backoff_stays_within_its_bounds(attempt: int, key: str) -> None:
    assert FIRST_BACKOFF <= backoff(attempt, key) <= LONGEST_BACKOFF * 1.2


def test_backoff_doubles() -> None:
    assert backoff(3, "k") >= FIRST_BACKOFF * 4
    assert backoff(1, "k") <= FIRST_BACKOFF * 1.2


def test_backoff_spreads_messages_that_failed_together() -> None:
    assert len({backoff(2, f"key {each}") for each in range(20)}) > 15


@pytest.mark.parametrize(
    "other",
    [
        replace(TIMES, recipient=replace(MAJ, contact_id=2)),
        replace(TIMES, recipient=replace(MAJ, channel="text")),
        replace(TIMES, kind=MessageKind.SAME_TIME),
        replace(TIMES, slot="question"),
        replace(TIMES, plan_on=day("2026-03-03")),
    ],
)
def test_each_part_of_the_key_tells_messages_apart(other: DueMessage) -> None:
    assert message_key(other, 1, 1) != message_key(TIMES, 1, 1)


def test_another_orthosis_or_revision_is_another_message() -> None:
    assert len({message_key(TIMES, *pair) for pair in ((1, 1), (2, 1), (1, 2))}) == 3


def test_words_and_hour_are_no_part_of_the_key() -> None:
    later = replace(TIMES, due_at=DUE + timedelta(hours=1), payload={"day": 2})
    assert message_key(later, 1, 1) == message_key(TIMES, 1, 1)


def test_a_message_id_is_always_the_same_and_says_nothing() -> None:
    made = message_id("1:1:times", b"secret", "quillmere.example")
    assert made == message_id("1:1:times", b"secret", "quillmere.example")
    assert "times" not in made


def test_a_message_id_cannot_be_guessed_without_the_secret() -> None:
    assert message_id("k", b"one", "q.example") != message_id("k", b"two", "q.example")


def test_a_lease_outlives_the_ten_minutes_of_the_final_answer() -> None:
    assert timedelta(minutes=10) < LEASE
