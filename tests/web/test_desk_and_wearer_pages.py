from __future__ import annotations

from followup.services.desk import see_desk
from tests.web.a_practice import PracticeAtWork


def test_an_empty_desk_says_so(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    assert "<h1>Nothing for the desk</h1>" in rooms.client.get("/desk").text


def test_a_family_without_messages_is_on_the_desk_list_until_it_is_done(rooms: PracticeAtWork) -> None:
    rooms.start(contact1_channel="phone", contact1_address="")
    rooms.sign_in()
    shown = rooms.client.get("/desk").text
    assert "Aldo Torvenn, Maj Torvenn" in shown
    item = see_desk(rooms.practice, rooms.clock())[0].id
    assert rooms.send("/desk", close=str(item), note="Rung at nine").status_code == 303
    assert see_desk(rooms.practice, rooms.clock()) == ()


def test_what_somebody_else_has_done_is_told(rooms: PracticeAtWork) -> None:
    rooms.start(contact1_channel="phone", contact1_address="")
    rooms.sign_in()
    item = str(see_desk(rooms.practice, rooms.clock())[0].id)
    rooms.send("/desk", close=item)
    again = rooms.send("/desk", close=item)
    assert (again.status_code, "Somebody has done this meanwhile." in again.text) == (409, True)


def test_wearers_are_found_by_name(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.deliver(wearer_reference="B-1", wearer_name="Edda Sol", identifier="K-2", contact1_address="e@example.org")
    rooms.sign_in()
    assert "<h1>Two orthoses</h1>" in rooms.client.get("/wearers").text
    found = rooms.send("/wearers", name="edda").text
    assert "Edda Sol" in found
    assert "Aldo" not in found


def test_a_wearers_page_shows_the_plan_and_the_way(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    shown = rooms.client.get("/wearers/1").text
    assert "Aldo Torvenn, left orthosis, day 1: wearing-in" in shown
    assert '<title id="way-ladder-title">The way to full wear</title>' in shown
    assert "Maj Torvenn, child" in shown


def test_a_wearers_page_leads_to_the_open_call(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.press(f"{path}/look", look="broken")
    rooms.press(f"{path}/r/1/end")
    rooms.sign_in()
    assert '<a href="/callbacks/1">Open the call</a>' in rooms.client.get("/wearers/1").text


def test_a_wearers_page_leads_to_checks_that_are_still_open(rooms: PracticeAtWork) -> None:
    rooms.deliver()
    rooms.sign_in()
    assert '<a href="/deliveries/1/checks">Open the checks</a>' in rooms.client.get("/wearers/1").text


def test_a_stopped_day_and_an_order_are_told_as_such(rooms: PracticeAtWork) -> None:
    stopped = rooms.link(rooms.start())
    other = {"wearer_reference": "B-1", "wearer_name": "Ivo Sand", "identifier": "K-2"}
    left_on = rooms.link(rooms.start(**other, contact1_address="ivo@example.org", protective="yes"))
    rooms.clock.set("2026-05-11 10:40")
    for number, path in enumerate((stopped, left_on), 1):
        rooms.press(f"{path}/look", look="broken")
        rooms.press(f"{path}/r/{number}/end")
    rooms.sign_in()
    assert "day 1: off since 10:40</h1>" in rooms.client.get("/wearers/1").text
    rooms.clock.set("2026-05-12 08:00")
    rooms.sign_in()
    ordered = rooms.client.get("/wearers/2").text
    assert ("left on as ordered" in ordered, "If today goes well" in ordered) == (True, False)
