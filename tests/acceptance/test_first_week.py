"""One wearer's first week over a real SMTP server, told by what arrived in the mailbox.

Aldo's delivery is on Monday 2 March 2026 at eight, by the schedule S01: 30 minutes, 60, 60, 120. Monday and Tuesday go
well; on Wednesday a mark outlasts the limit. On Thursday a clinician rings, and on Friday he begins again at step 2.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from followup.core.callback import Part
from followup.core.plan_event import PlanAction
from followup.core.urgency import Urgency, WearInstruction
from followup.services.deliver import ImportSummary, import_deliveries
from followup.services.desk import count_messages
from followup.services.sign_in import Role
from followup.services.work_callbacks import CallOutcome, Closing, QueueEntry, see_queue
from followup.storage.engine import migrate
from tests.acceptance.week import Week, words_of
from tests.builders import ALDO, as_csv, day, utc


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Week]:
    """The week as it happened, up to Sunday evening."""
    played = Week(tmp_path_factory.mktemp("week"), utc("2026-03-02 08:00"))
    try:
        migrate(played.app.practice.store)
        deliver(played)
        wear_well(played)
        mark_outlasts(played)
        begin_again(played)
        yield played
    finally:
        played.close()


def deliver(week: Week) -> None:
    imports = [import_deliveries(week.app.practice, as_csv(ALDO), "staff", week.now) for _ in range(2)]
    assert imports == [ImportSummary(1, 0, 0, ()), ImportSummary(0, 1, 0, ())]
    week.test_message()
    week.until("2026-03-02 08:10")
    week.write("1")
    week.until("2026-03-02 08:30")
    week.confirm_checks(week.signed_in("odd", Role.DESK))


def wear_well(week: Week) -> None:
    week.until("2026-03-02 19:00")
    week.tell("monday", week.app.practice.replies[1], {})
    week.until("2026-03-03 19:00")
    week.write("1")


def mark_outlasts(week: Week) -> None:
    week.until("2026-03-04 11:00")
    week.tell("wednesday", {}, {"mark_minutes": "50", "place": "shin_lower", "worn_minutes": "60"})
    week.until("2026-03-04 12:00")
    week.look("wednesday")


def begin_again(week: Week) -> None:
    week.until("2026-03-05 10:00")
    clinician = week.signed_in("runa", Role.CLINICIAN)
    note = "The strap sat too tight. One hole looser; begins again tomorrow."
    week.call_back(clinician, Closing(CallOutcome.SPOKEN, note, PlanAction.RESUME, day("2026-03-06"), 2))
    week.until("2026-03-06 19:00")
    week.tell("friday", week.app.practice.replies[1], {})
    week.until("2026-03-08 20:00")
    week.look("sunday")


def queue_at_noon(week: Week) -> list[QueueEntry]:
    return [entry for entry in week.queues["wednesday"] if entry.wearer_name == "Aldo Torvenn"]


def test_each_day_brings_its_messages_at_their_times(week: Week) -> None:
    question = ("18:30", "One question about today")
    times = ("08:00", "Your times for today")
    assert [week.arrived(each) for each in range(2, 9)] == [
        [("08:10", "A test message"), ("08:40", "Your first day"), question],
        [times, question],
        [times, ("11:10", "Leave it off until we speak")],
        [("10:10", "You can start again"), question],
        [times, question],
        [times, question],
        [("08:00", "The same time again"), question],
    ]


def test_all_that_was_accepted_has_arrived(week: Week) -> None:
    assert count_messages(week.app.practice)["accepted"] == len(week.mailbox.received) == len(week.mails()) + 1


def test_the_call_nobody_took_by_its_time_went_to_the_person_on_call(week: Week) -> None:
    (alert,) = week.mailbox.at_address("oncall@quillmere.example")
    assert utc("2026-03-04 17:30") <= alert.at <= utc("2026-03-04 17:40")


@pytest.mark.parametrize("kind", ["plain", "html"])
@pytest.mark.parametrize(
    ("day_of_march", "clock", "words"),
    [
        (2, "08:40", "from 9:00 to 9:30. That is 30 minutes in all."),
        (3, "08:00", "Today is day 2. Put it on from 9:00 to 10:00. That is 1 h in all."),
        (4, "11:10", "A clinician rings you by 17:30."),
        (5, "10:10", "Tomorrow is day 5."),
        (5, "10:10", "Put it on from 9:00 to 10:00. That is 1 h in all."),
        (6, "08:00", "Today is day 5. Put it on from 9:00 to 10:00."),
        (8, "08:00", "It has the same time as the day before."),
    ],
)
def test_both_bodies_say_the_times(week: Week, day_of_march: int, clock: str, words: str, kind: str) -> None:
    assert words in words_of(week.mail(day_of_march, clock), kind)


def test_the_off_message_begins_with_taking_it_off_and_gives_no_times(week: Week) -> None:
    words = words_of(week.mail(4, "11:10"), "plain")
    assert words.startswith("Sit down, take it off, and leave it off until we speak.")
    assert "Put it on" not in words


def test_no_body_names_anybody_or_what_is_worn(week: Week) -> None:
    said = " ".join(words_of(mail, kind) for mail in week.mails() for kind in ("plain", "html"))
    assert re.findall(r"Torvenn|Aldo|Maj\b|[Oo]rthos\w*|[Bb]race|AFO|50 min", said) == []


def test_every_mail_has_its_own_id_and_a_way_back(week: Week) -> None:
    assert len({mail["Message-ID"] for mail in week.mails()}) == len(week.mails())
    assert all(mail["From"].addresses[0].addr_spec == "follow@quillmere.example" for mail in week.mails())


def test_two_clear_looks_brought_the_ladder_up(week: Week) -> None:
    assert [day.target_minutes for day in week.pages["wednesday"].days[:3]] == [30, 60, 60]


def test_the_mark_ended_the_day_and_asked_for_a_clinician_today(week: Week) -> None:
    told, page = week.told["wednesday"], week.pages["wednesday"]
    assert (told.result.urgency, told.result.instruction) == (
        Urgency.CLINICIAN_TODAY,
        WearInstruction.OFF_UNTIL_WE_SPEAK,
    )
    assert page.off
    assert page.callback_due_at == utc("2026-03-04 17:30")


def test_the_queue_named_the_reason_and_the_deadline(week: Week) -> None:
    (entry,) = queue_at_noon(week)
    assert entry.reason == "the mark lasted 50 minutes (lower part of the shin)"
    assert (entry.part, entry.due_at) == (Part.TODAY, utc("2026-03-04 17:30"))


def test_the_clinicians_word_moved_the_plan_and_nothing_else_did(week: Week) -> None:
    days = week.pages["sunday"].days[:7]
    assert [day.target_minutes for day in days] == [30, 60, 60, 0, 60, 60, 60]
    assert [day.step for day in days[4:]] == [2, 3, 3]
    assert see_queue(week.app.practice, week.now) == ()
