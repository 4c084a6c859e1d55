"""The demo played through without a page: what must hold for everybody in it, and what its named events lead to."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from followup.core.plan_event import CheckResult, EventType
from followup.core.urgency import Urgency, WearInstruction
from followup.core.wear_day import PlanState, WearDay
from followup.demo.headless import play_story, played
from followup.demo.outcome import export, outcome
from followup.demo.play import Play
from followup.services.see_wearers import see_wearer
from followup.storage.tables import callback, contact, desk_item, orthosis, outbox, plan_event, report, wearer

pytestmark = pytest.mark.slow
DAYS = 7


@pytest.fixture(scope="module")
def play() -> Iterator[Play]:
    """The first week of the story; on its last day the clocks change in Europe."""
    with played(DAYS, 1, lambda line: None) as played_out:
        yield played_out


def rows(play: Play, table: Any, who: str | None = None) -> list[dict[str, Any]]:
    query = select(table)
    if who is not None:
        query = query.where(table.c.orthosis_id == play.stage.household_of(who).orthosis_id)
    with play.stage.practice.store.read() as connection:
        return [dict(row) for row in connection.execute(query).mappings()]


def plan_of(play: Play, orthosis_id: int) -> list[WearDay]:
    view = see_wearer(play.stage.practice, orthosis_id, play.stage.now)
    return [day for day in view.plan if day.issued_at <= play.stage.now]


def days_of(play: Play, who: str) -> list[WearDay]:
    return plan_of(play, play.stage.household_of(who).orthosis_id)


def arrived(play: Play, address: str) -> list[datetime]:
    return [each.at for each in play.stage.receiver.at_address(address)]


def may_raise(event: dict[str, Any], day: WearDay, since: datetime) -> bool:
    """A clear check of an earlier day, or a clinician's word, recorded after the last day was issued."""
    if not since <= event["recorded_at"] < day.issued_at:
        return event["type"] == EventType.PLAN_INSTRUCTION and event["data"]["from_on"] == str(day.on)
    if event["type"] == EventType.PLAN_INSTRUCTION:
        return True
    return event["type"] == EventType.SKIN_CHECK and event["data"]["result"] == CheckResult.CLEAR


def raised_without_cause(days: Sequence[WearDay], events: Sequence[dict[str, Any]]) -> list[int]:
    """The plan days with more time than the day before that nothing allowed."""
    pairs = pairwise(days)
    return [
        day.day
        for last, day in pairs
        if day.target_minutes > last.target_minutes
        and not any(may_raise(event, day, last.issued_at) for event in events)
    ]


def test_what_the_program_counts_as_accepted_is_what_arrived(play: Play) -> None:
    counts = outcome(play.stage, DAYS)
    assert counts["messages_accepted"] == counts["messages_received"] > 300


def test_nobody_was_given_more_time_without_a_clear_check_or_a_clinician(play: Play) -> None:
    events = rows(play, plan_event)
    for orthosis_id in play.stage.households:
        mine = [each for each in events if each["orthosis_id"] == orthosis_id]
        assert raised_without_cause(plan_of(play, orthosis_id), mine) == []


def test_a_rise_without_its_check_would_be_noticed(play: Play) -> None:
    days = days_of(play, "W01")
    assert raised_without_cause(days, []) == [2, 4, 5, 6, 7]


def test_every_callback_was_opened_by_something_that_needs_a_clinician(play: Play) -> None:
    assert {row["urgency"] for row in rows(play, callback)} >= {2, 3, 4}


def test_nothing_for_the_desk_was_due_before_it_was_there(play: Play) -> None:
    assert [row for row in rows(play, desk_item) if row["due_at"] < row["opened_at"]] == []


def test_no_message_names_anybody_or_says_what_is_worn(play: Play) -> None:
    names = "|".join({row["name"].split()[-1] for table in (wearer, contact) for row in rows(play, table)})
    forbidden = re.compile(rf"\b({names}|[Oo]rthos\w*|[Óó]rtesis|[Bb]race|AFO|[Ss]plint|[Dd]iabet\w*)\b")
    for each in play.stage.receiver.received:
        bodies = [part.get_content() for part in each.mail().walk() if part.get_content_maintype() == "text"]
        assert forbidden.findall(" ".join([*bodies, str(each.mail()["Subject"])])) == []


def test_a_look_told_after_the_day_was_issued_moves_only_the_next_one(play: Play) -> None:
    days = days_of(play, "W26")
    assert [day.state for day in days[2:4]] == [PlanState.SAME_TIME, PlanState.WEARING]


def test_a_refused_address_goes_to_the_desk_and_is_not_tried_again(play: Play) -> None:
    assert arrived(play, "kester@families.example") == []
    assert [row["state"] for row in rows(play, outbox, "W11")] == ["refused"]
    assert "undelivered" in {row["kind"] for row in rows(play, desk_item, "W11")}


def test_stop_it_hurts_ends_the_messages_and_is_a_report(play: Play) -> None:
    (words,) = [row for row in rows(play, report, "W12") if row["text"].startswith("Stop")]
    assert rows(play, callback, "W12")[-1]["urgency"] == Urgency.CLINICIAN_TODAY
    stopped = [at for at in arrived(play, "lumi@families.example") if at >= words["begun_at"]]
    assert len(stopped) == 1
    assert "opt_out" in {row["kind"] for row in rows(play, desk_item, "W12")}


def test_a_reply_nobody_can_read_reaches_a_person_in_its_own_words(play: Play) -> None:
    (item,) = [row for row in rows(play, desk_item, "W13") if row["kind"] == "unreadable"]
    assert "creo que sí, pero luego le cuento mejor" in item["text"]


def test_broken_skin_takes_it_off_until_a_clinician_says_so(play: Play) -> None:
    assert [day.target_minutes for day in days_of(play, "W14")[4:]] == [0, 0, 0]
    (call,) = [row for row in rows(play, callback, "W14") if "broken skin" in row["reason"]]
    assert call["instruction"] == WearInstruction.OFF_UNTIL_WE_SPEAK


def test_the_bare_plate_told_by_phone_opens_a_call(play: Play) -> None:
    (call,) = [row for row in rows(play, callback, "W15") if "bare plate" in row["reason"]]
    assert call["urgency"] >= Urgency.CLINICIAN_NEXT_DAY
    assert "phone" in {row["channel"] for row in rows(play, report, "W15")}


def test_a_red_flag_on_a_saturday_evening_reaches_the_person_on_call_within_a_tick(play: Play) -> None:
    (call,) = [row for row in rows(play, callback, "W16") if row["urgency"] == Urgency.MEDICAL_TODAY]
    alerts = [at for at in arrived(play, "on-call@quillmere.example") if at >= call["opened_at"]]
    assert (alerts[0] - call["opened_at"]).total_seconds() <= 30 * 60


def test_silence_holds_the_time_and_then_takes_it_off(play: Play) -> None:
    states = [day.state for day in days_of(play, "W17")]
    assert states[2:4] == [PlanState.SAME_TIME, PlanState.OFF]
    assert "no look at the skin" in rows(play, callback, "W17")[0]["reason"]


def test_overhanging_toes_start_no_plan_before_the_release(play: Play) -> None:
    (mine,) = [row for row in rows(play, orthosis) if row["id"] == play.stage.household_of("W18").orthosis_id]
    assert mine["started_at"] == datetime(2026, 3, 25, 11, tzinfo=UTC)
    early = [row["kind"] for row in rows(play, outbox, "W18") if row["due_at"] < mine["started_at"]]
    assert early == ["test"]


def test_a_protective_one_stays_on_as_ordered(play: Play) -> None:
    days = days_of(play, "W09")
    assert days[4].instruction is WearInstruction.LEAVE_ON_AS_ORDERED
    assert days[4].target_minutes >= days[3].target_minutes > 0


def test_a_mark_that_outlasts_the_limit_stops_the_day_and_waits_for_a_clinician(play: Play) -> None:
    day = days_of(play, "W19")[2]
    assert day.stopped_at == datetime(2026, 3, 25, 18, 50, tzinfo=UTC)
    assert any("45 minutes" in row["reason"] and row["action"] == "resume" for row in rows(play, callback, "W19"))


def test_a_neighbour_who_may_not_be_told_may_still_tell(play: Play) -> None:
    assert arrived(play, "bram@families.example") == []
    assert "I help next door" in " ".join(row["text"] for row in rows(play, report, "W20"))


def test_the_morning_message_keeps_to_local_time_when_the_clocks_change(play: Play) -> None:
    mornings = [row for row in rows(play, outbox, "W01") if row["kind"] == "times"]
    due = {str(row["plan_on"]): f"{row['due_at']:%H:%M}" for row in mornings}
    assert (due["2026-03-28"], due["2026-03-29"]) == ("08:00", "07:00")


def test_the_export_holds_every_message_that_arrived(play: Play, tmp_path: Path) -> None:
    export(play.stage, tmp_path)
    assert len(list(tmp_path.rglob("*.eml"))) == len(play.stage.receiver.received)
    states = [json.loads(line)["state"] for line in (tmp_path / "outbox.jsonl").read_text().splitlines()]
    assert states.count("accepted") == len(play.stage.receiver.received)


def test_the_same_seed_comes_to_the_same_and_another_does_not() -> None:
    once, again, other = (play_story(3, seed, None, lambda line: None) for seed in (5, 5, 6))
    assert once == again != other
