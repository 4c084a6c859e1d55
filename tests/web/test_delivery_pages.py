from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from followup.core.delivery_check import DeliveryCheck
from followup.services.check_delivery import see_checks
from followup.services.see_wearers import list_wearers
from followup.services.sent_test import SentTest, TestStanding
from followup.web.check_view import say_test, send_button
from tests.web.a_practice import MAJ, PracticeAtWork

ALL_SO = {check.value: "confirmed" for check in DeliveryCheck}
ALL_SEEN = ALL_SO | {"test_message": "exception", "test_message_reason": "phone only"}


def as_form(**changed: str) -> dict[str, str]:
    """MAJ's father's delivery as the form sends it."""
    row = {**MAJ, **changed}
    known = {name: "yes" for name in row.pop("precautions_present").split(";") if name}
    known |= {name: "no" for name in row.pop("precautions_absent").split(";") if name}
    return row | {f"precaution_{name}": value for name, value in known.items()}


def test_a_delivery_written_down_leads_to_its_checks(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    answer = rooms.send("/deliveries/new", **as_form())
    assert answer.headers["location"] == "/deliveries/1/checks"
    assert [line.wearer_name for line in list_wearers(rooms.practice)] == ["Aldo Torvenn"]


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("protocol", "s99", "Choose an answer for “Wear protocol”"),
        ("zone", "Europe/Atlantis", "“Europe/Atlantis” is not one for “Time zone of the wearer”"),
        ("contact1_address", "maj at example", "is not a mail address"),
        ("delivered_on", "last Monday", "is not a date"),
        ("full_wear_minutes", "8 h", "is not minutes of full wear"),
        ("walking_aid", "", "Choose an answer for “Leans on”"),
        ("wearer_name", "", "Write something for “Name”"),
        ("contact1_on_duty", "no", "somebody must be on duty"),
    ],
)
def test_a_field_that_cannot_be_used_is_told_beside_it_and_nothing_is_recorded(
    rooms: PracticeAtWork, column: str, value: str, said: str
) -> None:
    rooms.sign_in()
    answer = rooms.send("/deliveries/new", **as_form(**{column: value}))
    assert (answer.status_code, said in answer.text, f'href="#{column}"' in answer.text) == (422, True, True)
    assert list_wearers(rooms.practice) == ()


def test_what_was_written_still_stands_after_a_fault(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    shown = rooms.send("/deliveries/new", **as_form(zone="Europe/Atlantis")).text
    assert 'value="Aldo Torvenn"' in shown
    assert 'name="precaution_diabetes" value="yes" checked' in shown


def test_an_empty_form_has_nothing_chosen(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    shown = rooms.client.get("/deliveries/new").text
    assert " checked" not in shown
    assert " selected" not in shown


def test_an_empty_form_knows_the_practices_zone_and_today(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    shown = rooms.client.get("/deliveries/new").text
    assert shown.count('value="Europe/Lisbon"') == 2
    assert 'name="delivered_on" value="2026-05-11"' in shown


def test_an_open_precaution_stays_unknown(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    rooms.send("/deliveries/new", **as_form(precautions_present="", precautions_absent=""))
    with rooms.practice.store.read() as connection:
        rows = connection.exec_driver_sql("select precaution from precaution").scalars().all()
    assert rows == []


def test_a_plan_starts_when_everything_was_looked_at(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.deliver()
    rooms.sign_in()
    rooms.send(f"/deliveries/{orthosis_id}/checks", **ALL_SEEN)
    assert "The wear plan has started" in rooms.client.get(f"/deliveries/{orthosis_id}/checks").text


def test_a_missing_insole_waits_for_a_clinician(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.deliver()
    rooms.sign_in()
    rooms.send(f"/deliveries/{orthosis_id}/checks", **ALL_SEEN | {"insole": "exception", "insole_reason": "lost"})
    assert "The plan waits for a clinician’s release." in rooms.client.get(f"/deliveries/{orthosis_id}/checks").text
    rooms.send(f"/deliveries/{orthosis_id}/checks/release", check="insole", note_insole="A new one was put in.")
    assert see_checks(rooms.practice, orthosis_id).started_at is not None


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "Choose “So” or “Not so” for what was looked at"),
        ({"toes": "exception"}, "Write why it is not so"),
        ({"toes": "perhaps"}, "Choose “So” or “Not so”"),
    ],
)
def test_checks_that_are_not_whole_are_told_and_none_is_recorded(
    rooms: PracticeAtWork, fields: dict[str, str], said: str
) -> None:
    orthosis_id = rooms.deliver()
    rooms.sign_in()
    answer = rooms.send(f"/deliveries/{orthosis_id}/checks", **{"sock": "confirmed"} | fields if fields else {})
    assert (answer.status_code, said in answer.text) == (422, True)
    assert len(see_checks(rooms.practice, orthosis_id).blocked_by) == 10


def test_a_release_needs_a_reason(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.deliver()
    rooms.check(orthosis_id, toes="two toes over the edge")
    rooms.sign_in()
    answer = rooms.send(f"/deliveries/{orthosis_id}/checks/release", check="toes", note_toes=" ")
    assert (answer.status_code, 'href="#note_toes"' in answer.text) == (422, True)


def test_notes_on_what_suits_whom_inform_and_never_block(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.deliver(strut="flexible")
    rooms.sign_in()
    shown = rooms.client.get(f"/deliveries/{orthosis_id}/checks").text
    assert "is usually given the stiffer strut" in shown
    rooms.send(f"/deliveries/{orthosis_id}/checks", **ALL_SEEN)
    assert see_checks(rooms.practice, orthosis_id).started_at is not None


def test_an_answer_to_the_test_message_is_not_taken_on_trust(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.deliver()
    rooms.sign_in()
    assert "The test message was not sent yet." in rooms.client.get(f"/deliveries/{orthosis_id}/checks").text
    rooms.send(f"/deliveries/{orthosis_id}/checks/test")
    assert "The test message is on its way." in rooms.client.get(f"/deliveries/{orthosis_id}/checks").text
    answer = rooms.send(f"/deliveries/{orthosis_id}/checks", **ALL_SO)
    assert (answer.status_code, 'href="#test_message"' in answer.text) == (422, True)
    assert len(see_checks(rooms.practice, orthosis_id).blocked_by) == 10


@pytest.mark.parametrize(
    ("standing", "words", "button"),
    [
        ("unsent", "The test message was not sent yet.", "Send the test message"),
        ("on_its_way", "The test message is on its way.", ""),
        ("sent", "The test message was sent at 08:25, not answered yet.", "Send the test message again"),
        ("answered", "The test message was answered at 08:25.", ""),
        ("not_delivered", "The test message of 08:25 did not arrive", "Send the test message again"),
        ("nobody", "No message reaches this family", ""),
    ],
)
def test_the_checks_say_how_far_the_test_message_has_come(
    rooms: PracticeAtWork, standing: str, words: str, button: str
) -> None:
    orthosis_id = rooms.deliver()
    sent = SentTest(TestStanding(standing), rooms.clock() - timedelta(minutes=5))
    view = replace(see_checks(rooms.practice, orthosis_id), sent_test=sent)
    voice = rooms.site.state.parts.staff_voice()
    assert words in say_test(sent, voice)
    assert send_button(view) == button
