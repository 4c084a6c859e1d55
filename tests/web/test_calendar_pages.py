from __future__ import annotations

import pytest

from followup.core.plan_event import Away, AwayReason, CheckResult, PlanEnd, PlanEnding, SkinCheck
from followup.services.end_plan import end_plan
from followup.services.follow_plan import load_plan, record_event
from followup.storage import people
from tests.web.a_practice import ADDRESS, PracticeAtWork
from tests.words.an_importing_calendar import ImportingCalendar, read


def feed(rooms: PracticeAtWork, orthosis_id: int) -> str:
    return f"{rooms.link(orthosis_id)}/calendar.ics"


def record(rooms: PracticeAtWork, orthosis_id: int, data: object) -> None:
    with rooms.practice.store.write() as connection:
        record_event(connection, rooms.practice, orthosis_id, data, rooms.clock(), rooms.clock())  # type: ignore[arg-type]


def end(rooms: PracticeAtWork, orthosis_id: int, why: PlanEnding) -> None:
    with rooms.practice.store.write() as connection:
        plan = load_plan(connection, rooms.practice, orthosis_id, rooms.clock())
        ending = PlanEnd(why, plan.on(rooms.clock()))
        end_plan(connection, rooms.practice, plan, ending, rooms.staff().staff_id, rooms.clock())


def test_a_calendar_program_is_given_the_plan(rooms: PracticeAtWork) -> None:
    answer = rooms.client.get(feed(rooms, rooms.start()))
    assert (answer.status_code, answer.headers["content-type"]) == (200, "text/calendar; charset=utf-8")
    assert [each.summary for each in read(answer.content)][:2] == ["Wear 9:00 to 9:30", "Look at the skin"]


def test_the_way_back_to_the_page_is_in_the_file_and_no_name_is(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    said = rooms.client.get(feed(rooms, orthosis_id)).content.replace(b"\r\n ", b"").decode()
    assert f"URL:{ADDRESS}{rooms.link(orthosis_id)}\r\n" in said
    assert not [name for name in ("Aldo", "Maj", "Torvenn", "A-17", "K-2041", "diabetes", "Orthotic") if name in said]


def test_a_program_that_has_the_newest_copy_is_told_so(rooms: PracticeAtWork) -> None:
    path = feed(rooms, rooms.start())
    first = rooms.client.get(path)
    rooms.clock.wait(minutes=30)
    by_tag = rooms.client.get(path, headers={"if-none-match": f'"other", W/{first.headers["etag"]}'})
    by_time = rooms.client.get(path, headers={"if-modified-since": first.headers["last-modified"]})
    assert [(each.status_code, each.content) for each in (by_tag, by_time)] == [(304, b"")] * 2
    assert first.headers["cache-control"] == "private, no-cache"


def test_a_program_with_an_older_copy_is_given_the_newer(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    path = feed(rooms, orthosis_id)
    first = rooms.client.get(path)
    rooms.clock.set("2026-05-11 10:00")
    record(rooms, orthosis_id, SkinCheck(rooms.clock().date(), CheckResult.SORE))
    known = {"if-none-match": first.headers["etag"], "if-modified-since": first.headers["last-modified"]}
    second = rooms.client.get(path, headers=known)
    assert second.status_code == 200
    family = ImportingCalendar()
    family.take(first.content)
    family.take(second.content)
    assert [start for start, *_ in family.shown() if start > rooms.clock()] == []


def test_away_cancels_what_is_ahead(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    family = ImportingCalendar()
    family.take(rooms.client.get(feed(rooms, orthosis_id)).content)
    rooms.clock.set("2026-05-12 12:00")
    record(rooms, orthosis_id, Away(AwayReason.HOSPITAL, rooms.clock().date()))
    family.take(rooms.client.get(feed(rooms, orthosis_id)).content)
    rooms.clock.set("2026-05-13 12:00")
    family.take(rooms.client.get(feed(rooms, orthosis_id)).content)
    assert [start for start, *_ in family.shown() if start > rooms.clock()] == []


@pytest.mark.parametrize("why", PlanEnding)
def test_a_plan_that_ended_rings_nowhere_any_more(rooms: PracticeAtWork, why: PlanEnding) -> None:
    orthosis_id = rooms.start()
    path = feed(rooms, orthosis_id)
    family = ImportingCalendar()
    family.take(rooms.client.get(path).content)
    rooms.clock.set("2026-05-12 12:00")
    end(rooms, orthosis_id, why)
    answer = rooms.client.get(path)
    family.take(answer.content)
    assert answer.status_code == 200
    assert [start for start, *_ in family.shown() if start > rooms.clock()] == []


def test_a_link_taken_back_gives_nothing_and_says_it_is_gone(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    path = feed(rooms, orthosis_id)
    with rooms.practice.store.write() as connection:
        people.revoke_links(connection, orthosis_id, rooms.clock())
    answer = rooms.client.get(path)
    assert (answer.status_code, answer.content) == (410, b"")


def test_a_link_that_ran_out_is_gone_too(rooms: PracticeAtWork) -> None:
    path = feed(rooms, rooms.start())
    rooms.clock.wait(days=401)
    assert rooms.client.get(path).status_code == 410


def test_what_is_not_there_has_no_words(rooms: PracticeAtWork) -> None:
    waiting = rooms.deliver(identifier="W-1", wearer_reference="W")
    untold = rooms.start(identifier="U-1", wearer_reference="U", contact1_may_be_told="no")
    answers = [rooms.client.get(path) for path in ("/c/none/calendar.ics", feed(rooms, waiting), feed(rooms, untold))]
    assert [(each.status_code, each.content) for each in answers] == [(404, b"")] * 3


def test_asking_again_changes_nothing(rooms: PracticeAtWork) -> None:
    path = feed(rooms, rooms.start())
    assert rooms.client.get(path).content == rooms.client.get(path).content
    assert rooms.client.post(path).status_code == 405


def test_the_page_offers_the_calendar_both_ways(rooms: PracticeAtWork) -> None:
    link = rooms.link(rooms.start())
    page = rooms.client.get(link).text
    assert f'href="webcal://testserver{link}/calendar.ics"' in page
    assert f'href="{link}/calendar.ics"' in page


def test_whoever_may_not_be_told_is_offered_none(rooms: PracticeAtWork) -> None:
    link = rooms.link(rooms.start(contact1_may_be_told="no"))
    assert "calendar.ics" not in rooms.client.get(link).text


def test_tomorrow_says_what_it_depends_on(rooms: PracticeAtWork) -> None:
    page = rooms.client.get(rooms.link(rooms.start())).text
    assert "Tomorrow, if the skin stays clear" in page
    assert "It is not fixed yet" in page


def test_tomorrow_is_not_told_while_it_stays_off(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    rooms.clock.set("2026-05-11 10:00")
    record(rooms, orthosis_id, SkinCheck(rooms.clock().date(), CheckResult.SORE))
    assert "if the skin stays clear" not in rooms.client.get(rooms.link(orthosis_id)).text


def test_a_wearer_with_two_has_the_side_on_each_page(rooms: PracticeAtWork) -> None:
    left = rooms.start(identifier="L-1", wearer_reference="two", side="left")
    right = rooms.start(identifier="R-1", wearer_reference="two", side="right")
    assert "Left leg" in rooms.client.get(rooms.link(left)).text
    assert "Right leg" in rooms.client.get(rooms.link(right)).text


def test_many_periods_stand_in_a_list_of_their_own(rooms: PracticeAtWork) -> None:
    link = rooms.link(rooms.start(protocol="s17"))
    rooms.clock.set("2026-05-12 12:00")
    page = rooms.client.get(link).text
    assert "All times of today" in page
    assert page.count("Look at the skin at") == 2
