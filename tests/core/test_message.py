from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.clinical.load_protocols import load_protocols
from followup.core.message import (
    DueMessage,
    MessageKind,
    PlanForMessages,
    Recipient,
    change_message,
    daily_messages,
    first_after,
    local_instant,
    not_in_quiet_hours,
)
from followup.core.plan_terms import PlanTerms
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wear_day import PlanState
from followup.core.wear_plan import replay
from followup.core.wearing_goal import WearingGoal
from tests.builders import day, local

LONDON = "Europe/London"
DELIVERED = day("2026-03-02")
STARTED = local("2026-03-02 10:00", LONDON)
MAJ = Recipient(1, "email", "maj@phones.example", "en", LONDON, True, True, True, False)


def plan(precautions: frozenset[Precaution] = frozenset(), days: int = 21) -> PlanForMessages:
    goal = WearingGoal(ZoneInfo(LONDON))
    without = WithoutOrthosis.WALKS
    protocol = load_protocols()["s01"]
    made = replay(protocol, goal, precautions, without, DELIVERED, [], STARTED, days)
    return PlanForMessages(made, LONDON, PlanTerms.of(protocol, goal, precautions, without), STARTED, {})


def on(messages: Sequence[DueMessage], number: int) -> list[DueMessage]:
    return [each for each in messages if each.plan_on == DELIVERED + timedelta(days=number - 1)]


def local_times(messages: Sequence[DueMessage], zone: str = LONDON) -> list[str]:
    return [f"{each.due_at.astimezone(ZoneInfo(zone)):%H:%M}" for each in messages]


def test_the_first_day_is_told_when_the_plan_starts() -> None:
    first = on(daily_messages(plan(), MAJ), 1)[0]
    assert (first.kind, first.due_at) == (MessageKind.DELIVERY_DAY, STARTED)


def test_times_come_at_eight_in_the_morning() -> None:
    assert local_times([each for each in daily_messages(plan(), MAJ) if each.slot == "times"])[:5] == ["08:00"] * 5


def test_at_most_three_messages_a_day_without_precautions() -> None:
    assert max(Counter(each.plan_on for each in daily_messages(plan(), MAJ)).values()) <= 3


def test_reduced_sensation_is_asked_at_every_removal() -> None:
    careful = on(daily_messages(plan(frozenset({Precaution.REDUCED_SENSATION})), MAJ), 7)
    assert [each.slot for each in careful if each.kind is MessageKind.CHECK_PROMPT] == ["check-1", "check-2"]


def slots_at_full_wear(facts: PlanForMessages, slot: str) -> list[date]:
    full = [each.on for each in facts.days if each.state is PlanState.FULL_WEAR]
    return [each.plan_on for each in daily_messages(facts, MAJ) if each.slot == slot and each.plan_on in full]


def test_once_full_wear_was_looked_at_times_come_on_mondays_only() -> None:
    first, *later = [each for each in plan().days if each.state is PlanState.FULL_WEAR]
    looked = replace(plan(), looked_at={first.on: first.checks[-1].at})
    assert slots_at_full_wear(looked, "times") == [first.on, *(each.on for each in later if each.on.weekday() == 0)]


@pytest.mark.parametrize("slot", ["times", "question"])
def test_full_wear_nobody_has_looked_at_is_asked_about_every_day(slot: str) -> None:
    full = [each.on for each in plan().days if each.state is PlanState.FULL_WEAR]
    assert slots_at_full_wear(plan(), slot) == full


@pytest.mark.parametrize(
    "refusal",
    [
        {"consents": False},
        {"may_be_told": False},
        {"suspended": True},
        {"on_duty": False},
        {"channel": "phone"},
    ],
)
def test_nobody_is_sent_messages_who_did_not_agree_or_is_not_on_duty(refusal: dict[str, object]) -> None:
    assert daily_messages(plan(), replace(MAJ, **refusal)) == ()  # type: ignore[arg-type]


def test_quiet_hours_are_those_of_who_is_told() -> None:
    far = replace(MAJ, zone="America/Chicago")
    messages = daily_messages(plan(), far)
    assert all("08:00" <= each < "20:00" for each in local_times(messages, "America/Chicago"))


@given(st.integers(0, 60 * 24 * 365), st.sampled_from([LONDON, "America/Chicago", "Asia/Kolkata", "Pacific/Apia"]))
def test_nothing_lands_in_quiet_hours(minutes: int, zone: str) -> None:
    at = STARTED + timedelta(minutes=minutes)
    moved = not_in_quiet_hours(at, zone)
    assert time(8) <= moved.astimezone(ZoneInfo(zone)).time() < time(20)
    assert timedelta(0) <= moved - at <= timedelta(hours=13)


def test_a_time_that_does_not_exist_moves_forward() -> None:
    assert local_instant(date(2026, 3, 29), time(1, 30), LONDON) == local("2026-03-29 02:30", LONDON)


def test_a_time_that_happens_twice_happens_once() -> None:
    assert local_instant(date(2026, 10, 25), time(1, 30), LONDON).hour == 0


def test_every_message_expires_after_it_is_due() -> None:
    assert all(each.due_at <= each.expires_at for each in daily_messages(plan(), MAJ))


def test_times_are_stale_once_the_first_period_begins() -> None:
    times = next(each for each in daily_messages(plan(), MAJ) if each.slot == "times")
    assert times.expires_at == plan().days[1].periods[0].on_at


def test_a_stopped_day_is_told_no_times_and_still_asked_about() -> None:
    made = plan(days=2)
    stopped = made.days[1]._replace(stopped_at=local("2026-03-03 07:30", LONDON))
    told = daily_messages(replace(made, days=(made.days[0], stopped)), MAJ)
    assert [each.kind for each in on(told, 2)] == [MessageKind.QUESTION]


def test_whoever_has_answered_after_the_last_look_is_not_asked_again() -> None:
    made = plan(days=3)
    answered = replace(made, looked_at={day("2026-03-03"): made.days[1].checks[-1].at})
    asked = {each.plan_on for each in daily_messages(answered, MAJ) if each.kind is MessageKind.QUESTION}
    assert asked == {day("2026-03-02"), day("2026-03-04")}


def test_each_slot_of_a_day_is_used_once() -> None:
    slots = [(each.plan_on, each.slot) for each in daily_messages(plan(), MAJ)]
    assert len(slots) == len(set(slots))


def test_a_change_waits_for_the_end_of_quiet_hours() -> None:
    at_night = local("2026-03-03 23:00", LONDON)
    made = plan()
    change = change_message(MessageKind.OFF_UNTIL_WE_SPEAK, made, made.days[1], MAJ, "7", at_night)
    assert (change.due_at, change.slot) == (local("2026-03-04 08:00", LONDON), "event-7")


def test_what_comes_next_is_the_earliest_that_is_still_to_come() -> None:
    messages = daily_messages(plan(days=2), MAJ)
    assert first_after(messages, STARTED) == min(each.due_at for each in messages if each.due_at > STARTED)
    assert first_after(messages, STARTED + timedelta(days=30)) is None
