"""What must always hold of the program at work; each plays a short story and raises AssertionError if it does not."""

from __future__ import annotations

import dataclasses
import logging
from contextlib import suppress
from datetime import timedelta
from io import StringIO
from typing import Any

from tests.builders import ALDO, BRANKA, as_csv, day, letter, text_of
from tests.invariants.service_copies import Played

MAJ = "Maj Torvenn"
SAID = ("Aldo", "Torvenn", "Maj", "phones.example", "01632 960157")


def only_a_clear_check_raises(played: Played) -> None:
    played.start()
    played.at("2026-03-02 19:00")
    played.report({"mark_minutes": "cant_say"})
    played.at("2026-03-03 06:30")
    assert played.days()["03"].target_minutes <= played.days()["02"].target_minutes


def only_a_clinician_gives_an_instruction(played: Played) -> None:
    played.start()
    played.report({"mark_minutes": 50})
    work, events = played.of("services.work_callbacks"), played.of("core.plan_event")
    resume = work.Closing(work.CallOutcome.SPOKEN, "go on", events.PlanAction.RESUME, day("2026-03-03"), 3)
    with suppress(played.of("errors").InvalidInput):
        work.close_callback(played.practice, 1, played.staff("desk"), played.queue()[0].version, resume, played.now)
    assert played.days()["03"].target_minutes == 0


def only_a_clinician_starts_a_plan_on_a_bare_plate(played: Played) -> None:
    checks, service = played.of("core.delivery_check"), played.of("services.check_delivery")
    desk = played.staff("desk")
    answers = played.checked()
    insole = checks.DeliveryCheck.INSOLE
    answers[insole] = checks.CheckAnswer(insole, checks.Outcome.EXCEPTION, "ordered")
    played.of("services.deliver").import_deliveries(played.practice, as_csv(ALDO), "program", played.now)
    service.record_checks(played.practice, 1, answers, desk.staff_id, played.now)
    with suppress(played.of("errors").InvalidInput):
        service.release_check(played.practice, 1, insole, desk, "fine by me", played.now)
    assert service.see_checks(played.practice, 1).started_at is None


def a_protective_orthosis_stays_on_and_a_clinician_rings_today(played: Played) -> None:
    played.start(BRANKA)
    result = played.report({"skin_open": True}).result
    played.at("2026-03-03 06:30")
    assert result.instruction == "leave_on_as_ordered"
    assert played.days()["03"].target_minutes > 0
    assert played.queue()[0].urgency >= 3


def who_cannot_stand_is_told_not_to(played: Played) -> None:
    played.start({**BRANKA, "protective": "no"})
    played.report({"skin_open": True})
    played.tick()
    assert "do not stand" in text_of(played.server.tried[-1].content).lower()


def today_is_not_after_the_weekend(played: Played) -> None:
    played.start()
    played.at("2026-03-06 18:30")
    played.report({"skin_open": True})
    assert played.queue()[0].due_at - played.now <= timedelta(hours=1)
    assert "on_call" in kinds(played)


def a_further_report_never_postpones(played: Played) -> None:
    played.start()
    played.report({"skin_open": True})
    before = played.queue()[0]
    played.now += timedelta(hours=3)
    played.report({**played.practice.replies[1], "wants_call": True})
    after = played.queue()[0]
    assert (after.urgency, after.due_at) == (before.urgency, before.due_at)


def every_letter_reaches_a_person_or_the_plan(played: Played) -> None:
    played.start()
    for number, raw in enumerate((letter("a wet place?", sender="who@else.example"), letter("hmm"), "\x00")):
        played.letters[f"letter {number}"] = raw
        before = len(played.desk()) + len(played.queue())
        played.tick()
        assert len(played.desk()) + len(played.queue()) == before + 1


def stop_it_hurts_is_a_report_too(played: Played) -> None:
    played.start()
    played.letters["letter"] = letter("stop, it hurts")
    played.tick()
    assert len(played.queue()) == 1
    assert [each["given"] for each in played.rows("consent")] == [True, False]


def silence_is_heard(played: Played) -> None:
    played.start()
    played.run_until("2026-03-03 07:00")
    assert played.desk()
    played.run_until("2026-03-04 07:00")
    assert played.queue()


def every_answer_is_kept_at_once(played: Played) -> None:
    played.start()
    begun = played.begin({"mark_minutes": 0})
    asked = begun.question.id
    played.of("services.take_report").answer_report(played.practice, begun.report_id, asked, "none", played.now)
    assert played.rows("report")[0]["findings"].get("chest_pain") is False


def danger_is_acted_on_at_once(played: Played) -> None:
    played.start()
    played.begin({"chest_pain": True})
    assert played.queue()


def a_report_left_alone_is_acted_on(played: Played) -> None:
    """A worn strap alone is for the desk; the danger signs nobody was asked about are for a clinician."""
    played.start()
    played.begin({"strap_worn": True})
    assert not played.queue()
    played.now += timedelta(hours=1)
    played.tick()
    assert played.queue()


def no_slot_is_sent_twice(played: Played) -> None:
    played.start()
    played.run_until("2026-03-02 19:00")
    played.report({"wants_call": True})
    played.run_until("2026-03-02 21:00")
    sent = [(row["plan_on"], row["slot"]) for row in played.rows("outbox") if row["state"] == "accepted"]
    assert (day("2026-03-02"), "question") in sent
    assert len(sent) == len(set(sent))


def doubt_is_never_repeated(played: Played) -> None:
    outbox = played.of("core.outbox")
    played.server.answer = lambda _: outbox.AttemptResult(outbox.Phase.FINAL_DOT, None, "")
    played.start()
    for _ in range(4):
        played.now += timedelta(minutes=10)
        played.tick()
    assert len(played.server.tried) == 1
    assert [each.kind for each in played.desk()] == ["in_doubt"]


def a_crash_while_sending_is_doubt(played: Played) -> None:
    def crash(_: Any) -> Any:
        raise KeyboardInterrupt

    played.server.answer = crash
    with suppress(KeyboardInterrupt):
        played.start()
    played.server = played.of("channels.recording").RecordingTransport()
    played.now += timedelta(minutes=16)
    played.tick()
    assert played.server.tried == []
    assert [each.kind for each in played.desk()] == ["in_doubt"]


def nothing_stale_is_sent(played: Played) -> None:
    outbox = played.of("core.outbox")
    played.start()
    played.server.answer = lambda _: outbox.AttemptResult(outbox.Phase.CONNECT, None, "")
    played.run_until("2026-03-03 08:00")
    played.server = played.of("channels.recording").RecordingTransport()
    played.at("2026-03-03 13:00")
    played.tick()
    assert not any("Put it on" in text_of(each.content) for each in played.server.tried)


def a_changed_plan_is_never_contradicted(played: Played) -> None:
    outbox = played.of("core.outbox")
    played.start()
    played.server.answer = lambda _: outbox.AttemptResult(outbox.Phase.CONNECT, None, "")
    played.run_until("2026-03-03 08:00")
    played.report({"mark_minutes": 50})
    played.server = played.of("channels.recording").RecordingTransport()
    played.at("2026-03-03 08:40")
    played.tick()
    said = [text_of(each.content) for each in played.server.tried]
    assert any("leave it off" in each for each in said)
    assert not any("Put it on" in each for each in said)


def a_refused_address_is_told_to_a_person(played: Played) -> None:
    outbox = played.of("core.outbox")
    played.server.answer = lambda _: outbox.AttemptResult(outbox.Phase.RCPT, 550, "")
    played.start()
    assert [each.kind for each in played.desk()] == ["undelivered"]


def logs_and_audit_carry_ids_only(played: Played) -> None:
    log = StringIO()
    handler = logging.StreamHandler(log)
    logging.getLogger().addHandler(handler)
    try:
        a_practice_at_work(played)
    finally:
        logging.getLogger().removeHandler(handler)
    written = log.getvalue() + "".join(str(row) for row in played.rows("audit"))
    assert played.rows("audit")
    assert "IntegrityError" in written
    assert not [each for each in SAID if each in written]


def a_practice_at_work(played: Played) -> None:
    """A plan begins, a tick fails in the database, and a reply comes in."""

    def fail(_: Any) -> Any:
        for _ in range(2):
            with played.practice.store.write() as connection:
                played.of("storage.people").add_staff(connection, "maj", MAJ, "desk", "hash")

    played.start()
    usual, played.server.answer = played.server.answer, fail
    played.at("2026-03-02 18:30")
    app = dataclasses.replace(played.app, transport=played.server, inboxes=[])
    played.of("scheduler.run").safe_tick(app)()
    played.server.answer = usual
    played.letters["letter"] = letter("stop, it hurts")
    played.tick()


def messages_carry_no_name_and_no_answer(played: Played) -> None:
    played.start()
    played.at("2026-03-02 19:00")
    played.report({"mark_minutes": 37, "skin_open": True})
    played.tick()
    said = "".join(text_of(each.content) for each in played.server.tried)
    assert "Quillmere" in said
    assert not [each for each in ("Aldo", "Torvenn", "orthosis", "brace", "37") if each in said]


def kinds(played: Played) -> list[str]:
    return [row["kind"] for row in played.rows("outbox")]
