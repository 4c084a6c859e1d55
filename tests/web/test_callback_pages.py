from __future__ import annotations

import re

import pytest

from followup.services.links import open_link
from followup.services.see_today import see_today
from followup.services.sign_in import Role
from followup.services.work_callbacks import see_queue, take_callback
from tests.web.a_practice import PracticeAtWork

CLOSING = {
    "do": "close",
    "outcome": "spoken",
    "action": "resume",
    "from_on": "2026-05-12",
    "step": "1",
    "note": "The heel was not seated; shown how.",
    "version": "1",
}


def report_broken_skin(rooms: PracticeAtWork, **changed: str) -> str:
    """A blister reported on the first day; the path of the family's page."""
    path = rooms.link(rooms.start(**changed))
    rooms.clock.set("2026-05-11 10:40")
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    return path


def version(rooms: PracticeAtWork) -> str:
    return str(see_queue(rooms.practice, rooms.clock())[0].version)


def test_nobody_to_ring_says_so(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    assert "<h1>Nobody to ring</h1>" in rooms.client.get("/callbacks").text


def test_the_queue_says_whom_to_ring_about_whom_by_when(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    shown = rooms.client.get("/callbacks").text
    assert "<h1>One person to ring</h1>" in shown
    assert "Ring Maj Torvenn about Aldo Torvenn" in shown
    assert re.search(r'by <time datetime="[^"]+">17:30</time>', shown)
    assert '<span class="urgency clinician-today">Clinician today</span>' in shown


def test_a_call_past_its_time_stands_under_its_own_rule(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    rooms.clock.set("2026-05-11 18:30")
    shown = rooms.client.get("/callbacks").text
    assert "One person to ring, past its time" in shown
    assert 'class="part part-late"' in shown
    assert '<span class="late">1 hour late</span>' in shown


def test_a_taken_call_says_who_took_it_and_when(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    assert rooms.send("/callbacks", take="1").headers["location"] == "/callbacks/1"
    assert "Taken by you at 10:40." in rooms.client.get("/callbacks").text
    rooms.send("/callbacks", release="1")
    assert "Take this call" in rooms.client.get("/callbacks").text


def test_two_people_cannot_take_the_same_call(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    rooms.send("/callbacks", take="1")
    rooms.sign_in("bettany", Role.DESK)
    answer = rooms.send("/callbacks", take="1")
    assert (answer.status_code, "Runa Castellow took this call at 10:40." in answer.text) == (409, True)


def test_a_callback_shows_the_story_the_causes_and_the_sources(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    shown = rooms.client.get("/callbacks/1").text
    for heading in ("What was said", "The last three days", "Why this urgency", "What you agreed"):
        assert f">{heading}</h2>" in shown
    assert "Source:" in shown
    assert "Diabetes" in shown


def test_no_plan_instruction_is_chosen_beforehand(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    assert " checked" not in rooms.client.get("/callbacks/1").text


def test_closing_a_call_sets_the_plan_and_the_family_reads_it(rooms: PracticeAtWork) -> None:
    path = report_broken_skin(rooms)
    rooms.sign_in()
    answer = rooms.send("/callbacks/1", **CLOSING | {"version": version(rooms)})
    assert (answer.status_code, answer.headers["location"]) == (303, "/callbacks")
    assert see_queue(rooms.practice, rooms.clock()) == ()
    rooms.clock.set("2026-05-12 08:00")
    assert "<h1>Today, 30 minutes</h1>" in rooms.client.get(path).text


def test_a_closed_call_still_shows_what_was_agreed(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    rooms.send("/callbacks/1", **CLOSING | {"version": version(rooms)})
    assert "This call is closed. Spoken to: The heel was not seated" in rooms.client.get("/callbacks/1").text


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("outcome", "", "Choose how the call ended"),
        ("action", "", "Choose what the plan does from here"),
        ("action", "faster", "Choose what the plan does from here"),
        ("from_on", "soon", "Write from which day"),
        ("from_on", "2026-05-10", "Choose today or a later day"),
        ("step", "two", "is not a step"),
        ("step", "99", "Choose a step from 1 to"),
        ("note", " ", "Write in a sentence or two"),
        ("version", "x", "Open the call again"),
    ],
)
def test_a_closing_that_cannot_be_used_is_told_and_changes_nothing(
    rooms: PracticeAtWork, field: str, value: str, said: str
) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    before = see_queue(rooms.practice, rooms.clock())
    answer = rooms.send("/callbacks/1", **CLOSING | {"version": version(rooms), field: value})
    assert (answer.status_code, said in answer.text) == (422, True)
    assert see_queue(rooms.practice, rooms.clock()) == before


def test_what_was_written_still_stands_after_a_fault(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    shown = rooms.send("/callbacks/1", **CLOSING | {"version": version(rooms), "from_on": ""}).text
    assert "The heel was not seated; shown how.</textarea>" in shown
    assert 'value="resume" checked' in shown


def test_a_call_that_changed_meanwhile_is_read_again_before_it_is_closed(rooms: PracticeAtWork) -> None:
    path = report_broken_skin(rooms)
    rooms.sign_in()
    old = version(rooms)
    rooms.press(f"{path}/look", look="call")
    rooms.press(f"{path}/r/2/end")
    answer = rooms.send("/callbacks/1", **CLOSING | {"version": old})
    assert (answer.status_code, "Something was added to this call meanwhile" in answer.text) == (409, True)
    assert len(see_queue(rooms.practice, rooms.clock())) == 1


def test_a_call_somebody_took_meanwhile_says_who_and_when(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    old = version(rooms)
    rooms.clock.set("2026-05-11 14:01")
    take_callback(rooms.practice, 1, rooms.staff("bettany"), rooms.clock())
    answer = rooms.send("/callbacks/1", **CLOSING | {"version": old})
    assert (answer.status_code, "Bettany Orrin took this call at 14:01." in answer.text) == (409, True)
    answer = rooms.send("/callbacks", take="1")
    assert (answer.status_code, "Bettany Orrin took this call at 14:01." in answer.text) == (409, True)


def test_the_desk_may_not_take_a_call_to_somebody_who_needs_other_care(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    rooms.press(f"{path}/look", look="call")
    rooms.sign_in("bettany", Role.DESK)
    rooms.send("/phone-log/urgent", sign="breathless", text="A man at 01632 960999")
    for shown in (rooms.client.get("/callbacks").text, rooms.client.get("/callbacks/2").text):
        assert "A clinician takes this call; fetch one now." in shown
    answer = rooms.send("/callbacks/2", do="take")
    assert (answer.status_code, "Only a clinician takes a call this urgent" in answer.text) == (422, True)
    assert rooms.send("/callbacks/1", do="take").status_code == 303


def test_staff_can_ring_a_caller_nobody_knows_and_say_whom_it_is_about(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.clock.set("2026-05-11 10:40")
    rooms.sign_in("bettany", Role.DESK)
    rooms.send("/phone-log/urgent", sign="breathless", text="A man at 01632 960999")
    shown = rooms.send("/callbacks/1/search", name="torv").text
    assert 'href="tel:01632960999"' in shown
    assert "It is about Aldo Torvenn" in shown
    assert rooms.send("/callbacks/1/wearer", orthosis="1").headers["location"] == "/callbacks/1"
    shown = rooms.client.get("/callbacks/1").text
    assert "Ring Maj Torvenn about Aldo Torvenn" in shown
    assert "A man at 01632 960999. May report but not be told." in shown
    assert "Whom is it about?" not in shown


@pytest.mark.parametrize(("orthosis", "status"), [("", 422), ("99", 404)])
def test_a_wearer_nobody_chose_joins_nothing(rooms: PracticeAtWork, orthosis: str, status: int) -> None:
    rooms.sign_in()
    rooms.send("/phone-log/urgent", sign="breathless", text="A man")
    assert "Nobody is found for “zz”" in rooms.send("/callbacks/1/search", name="zz").text
    assert rooms.send("/callbacks/1/wearer", orthosis=orthosis).status_code == status
    assert see_queue(rooms.practice, rooms.clock())[0].orthosis_id is None


def test_the_desk_sees_a_call_and_may_not_close_it(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in("bettany", Role.DESK)
    assert "Only a clinician closes a callback" in rooms.client.get("/callbacks/1").text
    answer = rooms.send("/callbacks/1", **CLOSING | {"version": version(rooms)})
    assert answer.status_code == 422
    assert len(see_queue(rooms.practice, rooms.clock())) == 1


def test_nobody_answered_keeps_the_call_and_its_deadline(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    before = see_queue(rooms.practice, rooms.clock())[0].due_at
    assert rooms.send("/callbacks/1", do="no_answer", next_try="15:30").status_code == 303
    assert "Rung once, no answer; again today 15:30." in rooms.client.get("/callbacks").text
    assert see_queue(rooms.practice, rooms.clock())[0].due_at == before


@pytest.mark.parametrize("next_try", ["", "soon", "25:00", "9:00"])
def test_a_next_try_must_be_a_time_still_to_come(rooms: PracticeAtWork, next_try: str) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    answer = rooms.send("/callbacks/1", do="no_answer", next_try=next_try)
    assert (answer.status_code, 'href="#next_try"' in answer.text) == (422, True)


@pytest.mark.parametrize("path", ["/callbacks/99", "/wearers/99", "/deliveries/99/checks", "/phone-log/99"])
def test_an_id_that_does_not_exist_is_told(rooms: PracticeAtWork, path: str) -> None:
    rooms.sign_in()
    assert rooms.client.get(path).status_code == 404


def test_a_family_with_an_open_call_reads_by_when_it_is_rung(rooms: PracticeAtWork) -> None:
    path = report_broken_skin(rooms)
    link = open_link(rooms.practice, path.split("/")[-1], rooms.clock())
    assert see_today(rooms.practice, link, rooms.clock()).callback_due_at is not None
    assert "A clinician rings you today, before 17:30." in rooms.client.get(path).text


def test_each_step_and_each_choice_is_shown_with_its_minutes(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    shown = rooms.client.get("/callbacks/1").text
    assert '<option value="3">Step 3: ' in shown
    restart = shown.partition('value="restart"')[2].partition("</label>")[0]
    assert "30 min tomorrow; if the skin stays clear, then" in restart


def test_what_was_said_before_this_call_is_folded_away(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    shown = rooms.press(f"{path}/look", look="clear")
    rooms.press(
        rooms.press(shown.url.path, question="body", answer="none").url.path, question="orthosis", answer="none"
    )
    rooms.clock.set("2026-05-11 10:40")
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/2/end")
    rooms.sign_in()
    now, _, earlier = rooms.client.get("/callbacks/1").text.partition("<details>")
    assert ("today 10:40" in now, "today 08:30" in now.partition('id="said"')[2]) == (True, False)
    assert "today 08:30" in earlier


def test_a_missed_second_try_is_told_as_late(rooms: PracticeAtWork) -> None:
    report_broken_skin(rooms)
    rooms.sign_in()
    rooms.send("/callbacks/1", do="no_answer", next_try="11:30")
    rooms.clock.set("2026-05-11 16:31")
    assert "Rung once, no answer; again today 11:30, 5 hours late." in rooms.client.get("/callbacks").text


@pytest.mark.parametrize(("ticked", "status"), [({}, 422), ({"knowingly": "yes"}, 303)])
def test_a_protective_orthosis_is_changed_only_where_the_clinician_says_so(
    rooms: PracticeAtWork, ticked: dict[str, str], status: int
) -> None:
    path = rooms.link(rooms.start(protective="yes"))
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    rooms.sign_in()
    assert "I change the wear of a protective orthosis knowingly" in rooms.client.get("/callbacks/1").text
    closing = CLOSING | {"version": version(rooms), "action": "shorter", "step": ""}
    assert rooms.send("/callbacks/1", **closing | ticked).status_code == status
