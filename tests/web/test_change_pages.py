from __future__ import annotations

import pytest

from followup.core.delivery_check import DeliveryCheck
from followup.services.check_delivery import see_checks
from followup.services.see_wearers import list_wearers, see_wearer
from followup.services.sign_in import Role
from followup.services.work_callbacks import see_queue
from tests.web.a_practice import PracticeAtWork

AGAIN = {check.value: "confirmed" for check in DeliveryCheck}
AGAIN |= {"test_message": "exception", "test_message_reason": "phone only"}


def page(rooms: PracticeAtWork) -> str:
    return str(rooms.client.get("/wearers/1").text)


def links(rooms: PracticeAtWork) -> list[str]:
    return [part.split('"')[0] for part in page(rooms).split('href="/wearers/1/change/')[1:]]


def change(rooms: PracticeAtWork, form: str, do: str = "record", **fields: str) -> tuple[int, str]:
    sent = {"from_on": "2026-05-12", **fields}
    answer = rooms.send(f"/wearers/1/change/{form}", do=do, **sent)
    return answer.status_code, answer.text


def test_the_wearers_page_offers_what_fits_how_the_plan_stands(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    assert links(rooms) == ["away", "orthosis", "hours", "zone", "protocol", "decision", "end"]


def test_the_front_desk_is_offered_nothing_only_a_clinician_says(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in("bettany", Role.DESK)
    assert links(rooms) == ["away", "orthosis", "hours", "zone", "end"]


@pytest.mark.parametrize("what", ["away", "orthosis", "hours", "zone", "protocol", "decision", "end"])
def test_each_form_opens_with_nothing_clinical_chosen(rooms: PracticeAtWork, what: str) -> None:
    rooms.start()
    rooms.sign_in()
    shown = rooms.client.get(f"/wearers/1/change/{what}")
    assert shown.status_code == 200
    assert " checked" not in shown.text


def test_away_and_back_are_told_in_the_story_and_bring_a_call(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    assert change(rooms, "away", why="hospital", from_on="2026-05-11")[0] == 303
    assert links(rooms)[0] == "back"
    assert change(rooms, "back", from_on="2026-05-11")[0] == 303
    shown = page(rooms)
    assert "They are in hospital; the plan rests, from Monday 11 May" in shown
    assert "back from hospital: how to go on" in see_queue(rooms.practice, rooms.clock())[0].reason


def test_the_next_days_are_shown_before_a_protocol_is_changed(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    status, shown = change(rooms, "protocol", "preview", protocol="s04", step="2")
    assert (status, "What the next days become" in shown) == (200, True)
    assert "45 min, step 2" in shown
    assert see_wearer(rooms.practice, 1, rooms.clock()).story == ()


def test_a_protocol_is_changed_and_told_with_who_said_so(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    assert change(rooms, "protocol", protocol="s04", step="2")[0] == 303
    assert "Runa Castellow: Another protocol" in page(rooms)


def test_only_what_differs_is_written_down_of_the_hours(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in("bettany", Role.DESK)
    hours = {"window": "07:30-21:30", "full_wear_minutes": "480", "range_end": "low"}
    assert change(rooms, "hours", **hours, fixed_points="school on Mon-Fri 08:30-15:00")[0] == 303
    assert "The wearing goal changes: fixed points school on Mon-Fri 08:30-15:00" in page(rooms)


@pytest.mark.parametrize(
    ("what", "fields", "said"),
    [
        ("away", {}, "Choose where they are"),
        ("away", {"why": "hospital", "from_on": "soon"}, "Write from which day"),
        ("away", {"why": "hospital", "from_on": "2026-05-10"}, "Choose today or a later day"),
        ("zone", {"zone": "Europe/Atlantis"}, "is no time zone"),
        ("zone", {"zone": "Europe/Lisbon"}, "their time zone already"),
        ("protocol", {"protocol": "s99"}, "Choose a wear protocol"),
        ("protocol", {"protocol": "s04", "step": "two"}, "is no whole number"),
        ("protocol", {"protocol": "s04", "step": "400"}, "Choose a step from 1 to"),
        ("hours", {"window": "morning", "full_wear_minutes": "480", "range_end": "low"}, "is not a part of the day"),
        ("decision", {"minutes": "25"}, "Write why you decide so"),
        ("end", {}, "Choose why it ends"),
    ],
)
def test_a_form_that_cannot_be_used_says_what_to_write_and_changes_nothing(
    rooms: PracticeAtWork, what: str, fields: dict[str, str], said: str
) -> None:
    rooms.start()
    rooms.sign_in()
    status, shown = change(rooms, what, **fields)
    assert (status, said in shown) == (422, True)
    assert see_wearer(rooms.practice, 1, rooms.clock()).story == ()


def test_after_an_adjustment_checks_then_step_then_the_plan_goes_on(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.clock.set("2026-05-12 10:00")
    rooms.sign_in()
    change(rooms, "orthosis", what="adjusted")
    assert "The orthosis was changed: the delivery checks are made again." in page(rooms)
    assert change(rooms, "start", step="1", why="Eased at the edge.")[0] == 409
    rooms.send("/deliveries/1/checks", **AGAIN)
    assert "The plan waits for the step" in rooms.client.get("/deliveries/1/checks").text
    assert change(rooms, "start", step="1", why="Eased at the edge.")[0] == 303
    assert "The plan starts at step 1, from Tuesday 12 May. Because: Eased at the edge." in page(rooms)


def test_the_end_of_a_plan_warns_first_and_is_shown_in_the_list(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    assert "After a death" in rooms.client.get("/wearers/1/change/end").text
    assert change(rooms, "end", why="transferred", from_on="2026-05-11")[0] == 303
    assert links(rooms) == []
    assert list_wearers(rooms.practice)[0].ended_why == "transferred"
    assert "the plan has ended" in rooms.client.get("/wearers").text


def test_a_family_reads_kindly_that_its_page_is_closed(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    rooms.sign_in()
    change(rooms, "end", why="died", from_on="2026-05-11")
    shown = rooms.client.get(path)
    assert (shown.status_code, "Nothing more is asked of you." in shown.text) == (410, True)


def test_a_change_nobody_knows_is_told_so(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.sign_in()
    assert rooms.client.get("/wearers/1/change/colour").status_code == 404


def test_a_plan_waits_until_somebody_is_named_who_looks(rooms: PracticeAtWork) -> None:
    rooms.start(precautions_present="cannot_report", precautions_absent="", contact1_relation="self")
    rooms.sign_in()
    assert "once it is written down who looks at the skin" in rooms.client.get("/deliveries/1/checks").text
    assert rooms.send("/deliveries/1/checks/checker", checker=" ").status_code == 422
    rooms.send("/deliveries/1/checks/checker", checker="the school nurse")
    assert see_checks(rooms.practice, 1).started_at is not None
