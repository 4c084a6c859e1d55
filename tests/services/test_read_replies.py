from __future__ import annotations

import pytest

from followup.core.urgency import Urgency
from followup.services.desk import see_desk
from followup.services.work_callbacks import see_queue
from followup.storage.tables import consent, inbound, outbox, report
from tests.builders import ALDO, BRANKA, Clinic, Letters, letter


def arrive(clinic: Clinic, *raw: str) -> Clinic:
    """A plan under way; that evening these letters arrive and are read."""
    clinic.start()
    clinic.tick()
    clinic.at("2026-03-02 19:00")
    clinic.tick(Letters({f"letter {number}": each for number, each in enumerate(raw)}))
    return clinic


def desk(clinic: Clinic) -> list[str]:
    return [each.kind for each in see_desk(clinic.practice, clinic.now)]


def urgencies(clinic: Clinic) -> list[Urgency]:
    return [each.urgency for each in see_queue(clinic.practice, clinic.now)]


def read_as(clinic: Clinic) -> list[str]:
    return [each["state"] for each in clinic.rows(inbound.select())]


def kinds(clinic: Clinic) -> list[str]:
    return [each["kind"] for each in clinic.rows(outbox.select())]


def test_1_is_a_clear_check(clinic: Clinic) -> None:
    arrive(clinic, letter("1"))
    assert (read_as(clinic), urgencies(clinic), desk(clinic)) == (["read"], [], [])
    assert clinic.rows(report.select())[0]["channel"] == "text"


def test_a_clear_reply_raises_tomorrow(clinic: Clinic) -> None:
    arrive(clinic, letter("1"))
    clinic.at("2026-03-03 08:00")
    clinic.tick()
    assert "1 h in all" in clinic.sent()[-1]


def test_2_is_a_mark_nobody_has_timed(clinic: Clinic) -> None:
    arrive(clinic, letter("2"))
    assert urgencies(clinic) == [Urgency.CLINICIAN_TODAY]


def test_3_is_sore_and_takes_it_off(clinic: Clinic) -> None:
    arrive(clinic, letter("3"))
    assert urgencies(clinic) == [Urgency.CLINICIAN_TODAY]
    assert "leave it off" in clinic.sent()[-1] or "off_until_we_speak" in kinds(clinic)


def test_4_asks_for_a_call(clinic: Clinic) -> None:
    arrive(clinic, letter("4"))
    assert urgencies(clinic)[0] >= Urgency.CLINICIAN_NEXT_DAY


def test_what_was_answered_to_is_not_read(clinic: Clinic) -> None:
    arrive(clinic, letter("1\n\nOn Mon, 2 Mar 2026 Quillmere <follow@quillmere.example> wrote:\n> it hurts 3 4\n"))
    assert urgencies(clinic) == []


def test_stop_ends_messages_and_follow_up_goes_on_by_phone(clinic: Clinic) -> None:
    arrive(clinic, letter("STOP"))
    assert [each["given"] for each in clinic.rows(consent.select())] == [True, False]
    assert desk(clinic) == ["opt_out"]


def test_after_stop_one_last_message_says_so_and_no_more_come(clinic: Clinic) -> None:
    arrive(clinic, letter("STOP"))
    before = len(clinic.server.tried)
    clinic.run_until("2026-03-03 20:00")
    assert kinds(clinic)[-1] == "stopped"
    assert len(clinic.server.tried) == before


def test_stop_it_hurts_is_both(clinic: Clinic) -> None:
    arrive(clinic, letter("Stop, it hurts"))
    assert [each["given"] for each in clinic.rows(consent.select())] == [True, False]
    assert urgencies(clinic) == [Urgency.CLINICIAN_TODAY]


def test_start_sends_messages_again(clinic: Clinic) -> None:
    arrive(clinic, letter("STOP"), letter("start"))
    clinic.run_until("2026-03-03 09:00")
    assert [row["slot"] for row in clinic.rows(outbox.select())][-1] == "times"


def test_help_is_answered(clinic: Clinic) -> None:
    arrive(clinic, letter("help"))
    assert "help" in kinds(clinic)


def test_a_machine_is_neither_answered_nor_read(clinic: Clinic) -> None:
    arrive(clinic, letter("3", Auto_Submitted="auto-replied"), letter("STOP", Precedence="bulk"))
    assert (read_as(clinic), clinic.rows(report.select())) == (["automatic", "automatic"], [])
    assert len(clinic.rows(consent.select())) == 1


def test_a_person_who_says_so_is_no_machine(clinic: Clinic) -> None:
    arrive(clinic, letter("1", Auto_Submitted="no"))
    assert read_as(clinic) == ["read"]


@pytest.mark.parametrize("text", ["the shoe is wet, what now?", "1 but it looks odd", "5", "", "1 2"])
def test_what_cannot_be_read_goes_to_a_person_in_its_own_words(clinic: Clinic, text: str) -> None:
    arrive(clinic, letter(text))
    (item,) = see_desk(clinic.practice, clinic.now)
    assert item.kind == "unreadable"
    assert text in item.text


def test_an_unknown_sender_goes_to_a_person(clinic: Clinic) -> None:
    arrive(clinic, letter("my mother has a blister", sender="someone@else.example"))
    (item,) = see_desk(clinic.practice, clinic.now)
    assert (item.kind, "blister" in item.text) == ("unreadable", True)


def test_an_address_two_families_gave_is_not_guessed(clinic: Clinic) -> None:
    clinic.start({**BRANKA, "contact1_address": "maj@phones.example"})
    arrive(clinic, letter("1"))
    assert (clinic.rows(report.select()), desk(clinic)) == ([], ["unreadable"])


def test_the_message_answered_tells_two_orthoses_apart(clinic: Clinic) -> None:
    clinic.start({**ALDO, "identifier": "Q-8", "side": "right"})
    clinic.start()
    clinic.tick()
    answered = next(row for row in clinic.rows(outbox.select()) if row["orthosis_id"] == 2)["message_id"]
    clinic.tick(Letters({"letter": letter("4", In_Reply_To=answered)}))
    assert [each["orthosis_id"] for each in clinic.rows(report.select())] == [2]


def test_a_stranger_who_knows_a_message_id_is_still_a_stranger(clinic: Clinic) -> None:
    clinic.start()
    clinic.tick()
    answered = clinic.rows(outbox.select())[0]["message_id"]
    clinic.tick(Letters({"letter": letter("1", sender="else@where.example", In_Reply_To=answered)}))
    assert (clinic.rows(report.select()), desk(clinic)) == ([], ["unreadable"])


def test_the_same_item_twice_is_taken_once(clinic: Clinic) -> None:
    arrive(clinic, letter("4"))
    clinic.tick(Letters({"letter 0": letter("4")}))
    assert len(clinic.rows(report.select())) == 1


def test_a_1_before_the_plan_starts_answers_the_test_message(clinic: Clinic) -> None:
    clinic.deliver()
    clinic.tick(Letters({"letter": letter("1")}))
    assert (read_as(clinic), clinic.rows(report.select())) == (["test_answered"], [])


@pytest.mark.parametrize(
    "raw",
    [
        "",
        "\x00\x00",
        "no headers at all",
        "From: \ud800\udcff\n\n1",
        "From: maj@phones.example\nContent-Type: text/plain; charset=nonsense\n\n1",
        "From: maj@phones.example\nContent-Transfer-Encoding: base64\n\n%%%",
        "From: maj@phones.example\nContent-Type: multipart/mixed; boundary=x\n\n--x\n",
        "From: a@b@c, <<>>\nSubject: =?utf-8?q?=ff?=\n\n1",
    ],
)
def test_malformed_bytes_stop_nothing_and_are_kept(clinic: Clinic, raw: str) -> None:
    arrive(clinic, raw, letter("4"))
    assert len(clinic.rows(inbound.select())) == 2
    assert "raw" not in read_as(clinic)
    assert len(urgencies(clinic)) == 1


@pytest.mark.parametrize(
    "broken",
    ['From: "\n\n3', "From: maj@[1.2.3\n\n3", "Content-Type: text/plain; charset=idna\n\n\udcff3", "From: (\n\n3"],
)
def test_a_mail_that_breaks_the_parser_goes_to_a_person_and_stops_nobody_else(clinic: Clinic, broken: str) -> None:
    arrive(clinic, broken, letter("3"))
    assert (read_as(clinic), desk(clinic)[-1]) == (["for_person", "read"], "unreadable")
    assert urgencies(clinic) == [Urgency.CLINICIAN_TODAY]


def test_half_a_character_is_kept_for_a_person(clinic: Clinic) -> None:
    arrive(clinic, "From: maj@phones.example\nContent-Type: text/plain; charset=unicode_escape\n\nred \\ud800 skin")
    assert desk(clinic) == ["unreadable"]


@pytest.mark.parametrize(
    "second", [{**ALDO, "identifier": "Q-7"}, {**BRANKA, "contact1_address": "maj@phones.example"}]
)
def test_stop_counts_whoever_else_shares_the_address(clinic: Clinic, second: dict[str, str]) -> None:
    clinic.start(second)
    arrive(clinic, letter("STOP"))
    before = len(clinic.server.tried)
    clinic.run_until("2026-03-03 20:00")
    assert {row["kind"] for row in clinic.rows(outbox.select()) if row["state"] == "planned"} == set()
    assert len(clinic.server.tried) - before == 0
    assert "unreadable" in desk(clinic)
