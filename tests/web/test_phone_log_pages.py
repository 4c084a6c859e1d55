from __future__ import annotations

import pytest

from followup.services.take_report import see_report
from followup.services.work_callbacks import see_queue
from tests.web.a_practice import MAJ, PracticeAtWork


@pytest.fixture
def call(rooms: PracticeAtWork) -> PracticeAtWork:
    """Somebody on the line about the first wearer's orthosis, an hour after the first wear."""
    rooms.start()
    rooms.clock.set("2026-05-11 10:40")
    rooms.sign_in()
    assert rooms.send("/phone-log", orthosis="1").headers["location"] == "/phone-log/1"
    return rooms


@pytest.fixture
def talk(call: PracticeAtWork) -> PracticeAtWork:
    """The same call, no sign of danger, and Maj, who may be told, is on the line."""
    call.send("/phone-log/1", question="body", answer="none", do="next")
    call.send("/phone-log/1/caller", caller="1", do="name")
    return call


def test_a_few_letters_find_the_wearer(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    assert "Aldo Torvenn" in rooms.send("/phone-log/search", name="torv").text
    assert "Nobody is found for “zz”" in rooms.send("/phone-log/search", name="zz").text


def test_the_question_is_written_to_be_read_aloud_with_the_facts_beside_it(call: PracticeAtWork) -> None:
    shown = call.client.get("/phone-log/1").text
    assert "A call about Aldo Torvenn’s left orthosis" in shown
    assert '<div class="aloud" id="say"><p>Is any of these so right now?</p></div>' in shown
    assert "At least <b>Keep to the plan</b>; it could become <b>Emergency number now</b>." in shown
    assert "Walks only with help." in shown


def test_who_is_on_the_line_is_asked_after_the_signs_of_danger_and_before_anything_else(call: PracticeAtWork) -> None:
    assert "Who is on the line?" not in call.client.get("/phone-log/1").text
    call.send("/phone-log/1", question="body", answer="not_sure", do="next")
    assert "Who is on the line?" not in call.client.get("/phone-log/1").text
    call.send("/phone-log/1/urgent", sign="foot_cold")
    assert "Who is on the line?" not in call.client.get("/phone-log/1").text


def test_the_contacts_are_listed_with_what_they_may_be_told(call: PracticeAtWork) -> None:
    call.send("/phone-log/1", question="body", answer="none", do="next")
    shown = call.client.get("/phone-log/1").text
    assert "Who is on the line?" in shown
    assert "Maj Torvenn, child <small>May be told everything" in shown
    assert "Somebody else <small>May report but not be told" in shown


def test_a_contact_who_may_be_told_hears_the_times(talk: PracticeAtWork) -> None:
    talk.send("/phone-log/1", do="hung_up")
    shown = talk.client.get("/phone-log/1").text
    assert "Maj Torvenn; may be told everything." in shown
    assert "A clinician rings you today" in shown.split('id="say"')[1].split("</div>")[0]


def test_somebody_else_hears_of_no_time_and_no_plan(call: PracticeAtWork) -> None:
    call.send("/phone-log/1", question="body", answer="none", do="next")
    call.send("/phone-log/1/caller", caller="else", caller_name="Ola Brun", caller_number="01632 960222")
    call.send("/phone-log/1", question="skin", answer="skin_open", do="next")
    call.send("/phone-log/1", do="hung_up")
    shown = call.client.get("/phone-log/1").text
    said = shown.split('id="say"')[1].split("</div>")[0]
    assert "Ola Brun, 01632 960222; may report but not be told." in shown
    assert "It is written down, and a clinician looks at it." in said
    assert "take it off sitting or lying, and do not stand up alone" in said
    assert "ring 112 now" in said
    assert "rings you" not in said
    assert "before" not in said


def test_the_story_names_who_rang_and_not_only_who_wrote_it_down(talk: PracticeAtWork) -> None:
    talk.send("/phone-log/1", do="hung_up")
    assert "By phone, Maj Torvenn, written down by Runa Castellow:" in talk.client.get("/wearers/1").text


def test_a_contact_who_may_not_be_told_hears_no_more_than_somebody_else(rooms: PracticeAtWork) -> None:
    second = {name.replace("contact1", "contact2"): text for name, text in MAJ.items() if name.startswith("contact1")}
    told = {"contact2_name": "Ola Brun", "contact2_address": "ola@example.org", "contact2_on_duty": "no"}
    rooms.start(**{**second, **told, "contact2_may_be_told": "no"})
    rooms.sign_in()
    rooms.send("/phone-log", orthosis="1")
    rooms.send("/phone-log/1/caller", caller="2")
    rooms.send("/phone-log/1", do="hung_up")
    said = rooms.client.get("/phone-log/1").text.split('id="say"')[1].split("</div>")[0]
    assert "It is written down" in said
    assert "rings you" not in said


@pytest.mark.parametrize("fields", [{}, {"caller": "99"}, {"caller": "else", "caller_number": "01632 960222"}])
def test_a_caller_who_is_not_named_is_asked_again(call: PracticeAtWork, fields: dict[str, str]) -> None:
    assert call.send("/phone-log/1/caller", **fields).status_code == 422
    progress = see_report(call.practice, 1, call.clock())
    assert (progress.contact_id, progress.text) == (None, "")


def test_a_call_can_end_before_the_caller_is_named_and_then_tells_nothing(call: PracticeAtWork) -> None:
    assert call.send("/phone-log/1/caller", do="hung_up").status_code == 303
    shown = call.client.get("/phone-log/1").text
    assert "Not asked yet. Tell nothing about the wearer." in shown
    assert "rings you" not in shown


def test_a_danger_sign_ends_in_words_to_say_and_a_call_for_a_clinician(call: PracticeAtWork) -> None:
    call.send("/phone-log/1", question="body", answer="calf_swollen_one", do="next")
    call.send("/phone-log/1", do="hung_up")
    shown = call.client.get("/phone-log/1").text
    assert "What to say before you hang up" in shown
    assert "See a doctor today." in shown
    assert see_queue(call.practice, call.clock())[0].urgency.id == "medical_today"


def test_the_emergency_button_writes_the_sign_down_at_once(call: PracticeAtWork) -> None:
    answer = call.send("/phone-log/1/urgent", sign="chest_pain")
    assert answer.headers["location"] == "/phone-log/1"
    assert see_queue(call.practice, call.clock())[0].urgency.id == "emergency_now"
    assert "At least" not in call.client.get("/phone-log/1").text.split("Where this stands")[-1][:200]


def test_an_emergency_of_an_unknown_caller_is_taken(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    answer = rooms.send("/phone-log/urgent", sign="breathless", text="A man at 01632 960999")
    assert answer.headers["location"] == "/phone-log/1"
    assert "Ring back a caller we do not know" in rooms.client.get("/callbacks").text


@pytest.mark.parametrize("fields", [{"text": "A man"}, {"sign": "chest_pain"}, {"sign": "nonsense", "text": "A man"}])
def test_an_emergency_form_that_is_not_whole_is_asked_again(rooms: PracticeAtWork, fields: dict[str, str]) -> None:
    rooms.sign_in()
    assert rooms.send("/phone-log/urgent", **fields).status_code == 422
    assert see_queue(rooms.practice, rooms.clock()) == ()


def test_a_call_that_ends_early_leaves_unknown_what_was_not_asked(call: PracticeAtWork) -> None:
    call.send("/phone-log/1", do="hung_up")
    assert see_report(call.practice, 1, call.clock()).result.urgency.id == "clinician_today"
    assert "Not every urgent question has an answer." in call.client.get("/phone-log/1").text


@pytest.mark.parametrize("fields", [{}, {"answer": "perhaps"}])
def test_a_missing_or_impossible_answer_keeps_the_question(call: PracticeAtWork, fields: dict[str, str]) -> None:
    answer = call.send("/phone-log/1", question="body", do="next", **fields)
    assert (answer.status_code, "One answer is still needed" in answer.text) == (422, True)
    assert see_report(call.practice, 1, call.clock()).history == ()


def test_exact_minutes_may_be_written(talk: PracticeAtWork) -> None:
    call = talk
    call.send("/phone-log/1", question="skin", answer="none", do="next")
    call.send("/phone-log/1", question="mark_minutes", number="50", do="next")
    assert see_report(call.practice, 1, call.clock()).facts.findings["mark_minutes"] == 50
    assert "50 minutes" in call.client.get("/phone-log/1").text


def test_an_answer_can_be_changed_while_the_call_goes_on(call: PracticeAtWork) -> None:
    call.send("/phone-log/1", question="body", answer="none", do="next")
    shown = call.client.get("/phone-log/1?change=body").text
    assert "Which of these is it?" in shown
    call.send("/phone-log/1", question="body", answer="foot_cold", change="body", do="next")
    assert see_report(call.practice, 1, call.clock()).facts.findings["foot_cold"] is True


def test_an_unknown_caller_is_asked_who_and_where(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    answer = rooms.send("/phone-log", orthosis="unknown")
    assert (answer.status_code, "Write who is calling and a number to ring back" in answer.text) == (422, True)
    rooms.send("/phone-log", orthosis="unknown", text="A daughter, 01632 960777, about her mother’s brace")
    shown = rooms.client.get("/phone-log/1").text
    assert "A caller we do not know is on the line" in shown
    assert "01632 960777" in shown


def test_a_report_of_a_familys_page_is_no_call(rooms: PracticeAtWork) -> None:
    rooms.press(f"{rooms.link(rooms.start())}/look", look="clear")
    rooms.sign_in()
    assert rooms.client.get("/phone-log/1").status_code == 404
