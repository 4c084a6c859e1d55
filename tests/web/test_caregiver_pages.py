from __future__ import annotations

import re
from datetime import date

import pytest

from followup.core.plan_event import PlanAction
from followup.core.urgency import Urgency
from followup.services.take_report import ReportSource, answer_report, begin_report, see_report
from followup.services.work_callbacks import CallOutcome, Closing, close_callback, see_queue
from tests.web.a_practice import PracticeAtWork


def test_the_page_says_todays_times_and_when_to_look(rooms: PracticeAtWork) -> None:
    shown = rooms.client.get(rooms.link(rooms.start())).text
    assert "<h1>Today, 30 minutes</h1>" in shown
    assert "9:00 to 9:30" in shown
    assert "Look at the skin at 9:30, and again at 10:00." in shown


def test_the_page_carries_no_name(rooms: PracticeAtWork) -> None:
    shown = rooms.client.get(rooms.link(rooms.start())).text
    assert not re.search("Torvenn|Maj|Aldo|K-2041|diabet", shown)


def test_skin_looked_at_and_no_problem_takes_three_taps(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 18:40")
    first = rooms.press(f"{path}/look", look="clear")
    second = rooms.press(first.url.path, question="body", answer="none")
    third = rooms.press(second.url.path, question="orthosis", answer="none")
    assert "<h1>Thank you. Keep to the times.</h1>" in third.text
    assert see_report(rooms.practice, 1, rooms.clock()).state == "done"


def test_a_mark_that_outlasts_the_limit_is_told_to_stay_off(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    shown = rooms.press(f"{path}/look", look="mark")
    for question, answer in [("body", "none"), ("skin", "none"), ("mark_minutes", "31")]:
        shown = rooms.press(shown.url.path, question=question, answer=answer)
    assert "Where on the leg or foot is it?" in shown.text
    shown = rooms.press(shown.url.path, question="place", answer="outer_ankle_bone")
    shown = rooms.press(shown.url.path, question="worn_minutes", minutes="30")
    assert "Leave it off until we speak. A clinician rings you today, before 17:30." in shown.text
    assert "Take it off sitting or lying. Do not stand up alone without it." in shown.text
    assert len(see_queue(rooms.practice, rooms.clock())) == 1


def test_a_clear_look_does_not_make_a_plan_that_is_off_go_on(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    shown = rooms.press(f"{path}/look", look="clear")
    shown = rooms.press(shown.url.path, question="body", answer="none")
    shown = rooms.press(shown.url.path, question="orthosis", answer="none")
    assert "Keep to the times" not in shown.text
    assert "Leave it off until we speak" in shown.text


def test_a_page_of_a_plan_that_is_off_gives_no_times(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 08:40")
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    shown = rooms.client.get(path).text
    assert "<h1>Leave it off until we speak." in shown
    assert "9:00 to 9:30" not in shown


def test_an_emergency_says_which_number_to_ring_first(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    shown = rooms.press(f"{path}/look", look="call")
    shown = rooms.press(shown.url.path, question="body", answer="chest_pain")
    shown = rooms.press(f"{path}/r/1/end")
    assert "<h1>Ring 112 now." in shown.text
    assert 'class="button main" href="tel:112"' in shown.text


def test_what_was_never_answered_is_not_taken_as_no(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.press(f"{path}/look", look="clear")
    shown = rooms.press(f"{path}/r/1/end").text
    assert "A clinician rings you today" in shown
    assert "Not everything could be answered." in shown


def test_one_of_these_shows_each_line(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    asked = rooms.press(f"{path}/look", look="clear")
    which = rooms.client.get(f"{asked.url.path}?which=body").text
    assert 'name="answer" value="body_breath_chest_head"' in which
    assert 'name="answer" value="not_sure"' in which


@pytest.mark.parametrize(
    ("fields", "said"),
    [({}, "Choose one of the answers below"), ({"answer": "perhaps"}, "“perhaps” is not one of them")],
)
def test_a_missing_or_impossible_answer_is_asked_again(
    rooms: PracticeAtWork, fields: dict[str, str], said: str
) -> None:
    path = rooms.link(rooms.start())
    asked = rooms.press(f"{path}/look", look="clear")
    before = see_report(rooms.practice, 1, rooms.clock())
    again = rooms.press(asked.url.path, question="body", **fields)
    assert (again.status_code, said in again.text) == (422, True)
    assert '<a href="#answer">' in again.text
    assert see_report(rooms.practice, 1, rooms.clock()) == before


@pytest.mark.parametrize("fields", [{}, {"look": "perhaps"}])
def test_a_first_tap_that_says_nothing_begins_no_report(rooms: PracticeAtWork, fields: dict[str, str]) -> None:
    again = rooms.press(f"{rooms.link(rooms.start())}/look", **fields)
    assert (again.status_code, "Choose what you saw" in again.text) == (422, True)
    assert see_queue(rooms.practice, rooms.clock()) == ()


def test_the_same_answer_sent_twice_is_kept_once(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    asked = rooms.press(f"{path}/look", look="clear")
    for _ in range(2):
        again = rooms.press(asked.url.path, question="body", answer="none")
    assert again.status_code == 200
    assert see_report(rooms.practice, 1, rooms.clock()).history == (("body", "none"),)


@pytest.mark.parametrize("minutes", ["", "soon", "-5", "9999"])
def test_minutes_that_are_none_are_asked_again(rooms: PracticeAtWork, minutes: str) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    shown = rooms.press(f"{path}/look", look="mark")
    for question, answer in [
        ("body", "none"),
        ("skin", "none"),
        ("mark_minutes", "31"),
        ("place", "calf"),
    ]:
        shown = rooms.press(shown.url.path, question=question, answer=answer)
    again = rooms.press(shown.url.path, question="worn_minutes", minutes=minutes)
    assert (again.status_code, "minutes" in again.text) == (422, True)


def test_a_forged_link_is_told_so_and_changes_nothing(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    forged = rooms.press(f"{path[:-1]}{'a' if path[-1] != 'a' else 'b'}/look", look="broken")
    assert (forged.status_code, "This link does not work. Please ring us." in forged.text) == (404, True)
    assert see_queue(rooms.practice, rooms.clock()) == ()


def test_a_link_that_ran_out_says_what_to_do(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.wait(days=401)
    shown = rooms.client.get(path)
    assert (shown.status_code, "use the newest message, or ring us" in shown.text) == (410, True)


def test_a_stranger_reads_about_a_bad_link_in_the_browsers_language(rooms: PracticeAtWork) -> None:
    shown = rooms.client.get("/c/nonsense", headers={"accept-language": "es-MX,es;q=0.9"}).text
    assert '<html lang="es"' in shown
    assert "Este enlace no funciona" in shown


def test_a_link_opens_only_its_own_reports(rooms: PracticeAtWork) -> None:
    mine = rooms.link(rooms.start())
    other = rooms.link(
        rooms.start(wearer_reference="B-1", identifier="K-2", contact1_address="b@example.org", wearer_name="Edda")
    )
    rooms.press(f"{mine}/look", look="clear")
    assert rooms.client.get(f"{other}/r/1").status_code == 404
    assert rooms.press(f"{other}/r/1", question="body", answer="none").status_code == 404
    assert rooms.press(f"{other}/r/1/end").status_code == 404


def test_a_contact_who_may_not_be_told_may_still_report(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start(contact1_may_be_told="no"))
    shown = rooms.client.get(path).text
    assert "<h1>Tell us what you saw</h1>" in shown
    assert "9:00" not in shown
    rooms.press(f"{path}/look", look="broken")
    assert "Leave it off until we speak." in rooms.press(f"{path}/r/1/end").text


def test_a_spanish_contact_reads_spanish_all_the_way(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start(contact1_language="es"))
    assert '<html lang="es"' in rooms.client.get(path).text
    shown = rooms.press(f"{path}/look", look="clear")
    assert "¿Pasa ahora alguna de estas cosas?" in shown.text
    shown = rooms.press(shown.url.path, question="body", answer="none")
    shown = rooms.press(shown.url.path, question="orthosis", answer="none")
    assert "Gracias. Siga con los horarios." in shown.text


def test_before_the_checks_are_done_there_are_no_times(rooms: PracticeAtWork) -> None:
    shown = rooms.client.get(rooms.link(rooms.deliver())).text
    assert "No times yet." in shown
    assert 'name="look"' not in shown


def test_a_protective_orthosis_is_never_told_to_come_off(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start(protective="yes"))
    rooms.press(f"{path}/look", look="broken")
    shown = rooms.press(f"{path}/r/1/end").text
    assert "Leave it on as ordered." in shown
    assert not re.search("take it off|leave it off", shown, re.IGNORECASE)


def test_nothing_is_answered_beforehand(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    shown = rooms.press(f"{path}/look", look="mark")
    for question, answer in [("body", "none"), ("skin", "none"), ("mark_minutes", "31")]:
        assert "checked" not in shown.text
        shown = rooms.press(shown.url.path, question=question, answer=answer)
    assert "checked" not in shown.text.replace(":checked", "")


def report_hard_to_breathe(rooms: PracticeAtWork, path: str) -> None:
    shown = rooms.press(f"{path}/look", look="call")
    rooms.press(shown.url.path, question="body", answer="chest_pain")
    rooms.press(f"{path}/r/1/end")


def test_an_open_emergency_still_leads_the_page_one_tap_later(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    report_hard_to_breathe(rooms, path)
    shown = rooms.client.get(path).text
    assert "<h1>Ring 112 now. Leave it off until we speak.</h1>" in shown
    assert 'class="button main" href="tel:112"' in shown
    assert shown.index('value="call"') < shown.index('value="clear"')


def test_medical_care_today_still_leads_the_page(rooms: PracticeAtWork) -> None:
    orthosis = rooms.start()
    path = rooms.link(orthosis)
    source = ReportSource("phone", orthosis, None, rooms.staff().staff_id, "")
    report = begin_report(rooms.practice, source, {"calf_swollen_one": True}, rooms.clock())
    for id in ("breathless", "chest_pain"):
        answer_report(rooms.practice, report.report_id, id, "no", rooms.clock())
    assert see_queue(rooms.practice, rooms.clock())[0].urgency is Urgency.MEDICAL_TODAY
    assert "<h1>See a doctor today. Leave it off until we speak.</h1>" in rooms.client.get(path).text


@pytest.mark.parametrize("changed", [{}, {"protective": "yes"}, {"contact1_may_be_told": "no"}])
def test_the_page_always_carries_danger_signs_and_the_emergency_number(
    rooms: PracticeAtWork, changed: dict[str, str]
) -> None:
    path = rooms.link(rooms.start(**changed))
    for _ in range(2):
        shown = rooms.client.get(path).text
        assert ("Ring 112 at once" in shown, 'href="tel:112"' in shown) == (True, True)
        rooms.press(f"{path}/look", look="broken")
        rooms.press(f"{path}/r/1/end")


def test_a_closed_call_is_told_with_the_times_it_agreed(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    agreed = Closing(CallOutcome.SPOKEN, "The heel was not seated.", PlanAction.RESTART, date(2026, 5, 12))
    version = see_queue(rooms.practice, rooms.clock())[0].version
    close_callback(rooms.practice, 1, rooms.staff(), version, agreed, rooms.clock())
    shown = rooms.client.get(path).text
    assert "<h1>Leave it off today. From tomorrow: 9:00 to 9:30.</h1>" in shown
    assert "until we speak" not in shown


def test_a_clear_look_is_not_told_as_time_worn(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.clock.set("2026-05-11 10:40")
    shown = rooms.press(f"{path}/look", look="clear")
    shown = rooms.press(shown.url.path, question="body", answer="none")
    rooms.press(shown.url.path, question="orthosis", answer="none")
    today = rooms.client.get(path).text
    assert "The skin was clear at 10:40." in today
    assert "Worn" not in today


def test_an_emergency_page_asks_for_nothing_but_the_call(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    report_hard_to_breathe(rooms, path)
    shown = rooms.client.get(f"{path}/r/1").text
    assert "Look at the skin again in an hour" not in shown
    assert "Do not wait for us if" not in shown


def test_opening_hours_are_told_by_whose_clock_where_it_differs(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start(zone="Europe/Madrid", contact1_zone="Europe/Madrid"))
    rooms.press(f"{path}/look", look="broken")
    assert "(our time; it is 8:30 here now)" in rooms.press(f"{path}/r/1/end").text


def test_a_protective_orthosis_is_not_asked_about_minutes(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start(protective="yes"))
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    shown = rooms.client.get(path).text
    assert "<h1>Leave it on as ordered</h1>" in shown
    assert not re.search("take it off|leave it off", shown, re.IGNORECASE)
    assert "Nothing new on the skin that you can see" in shown
    assert "gone within" not in shown


def test_who_may_not_be_told_is_told_to_leave_it_off(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start(contact1_may_be_told="no"))
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    assert "<h1>Leave it off until we speak." in rooms.client.get(path).text
