from __future__ import annotations

import re

import pytest

from followup.storage.people import drop_contact
from tests.paper import read, words_on
from tests.web.a_practice import PracticeAtWork


def test_staff_print_the_week_of_a_wearer_from_the_wearers_page(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    rooms.sign_in()
    page = rooms.client.get(f"/wearers/{orthosis_id}").text
    assert f'href="/wearers/{orthosis_id}/chart.pdf"' in page
    answer = rooms.client.get(f"/wearers/{orthosis_id}/chart.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-disposition"] == 'attachment; filename="chart-2026-05-11.pdf"'
    assert "Monday 11 May, day 1" in words_on(answer.content)


def test_language_week_paper_and_initials_can_be_chosen(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    rooms.sign_in()
    asked = {"from": "2026-05-18", "language": "es", "paper": "letter", "initials": "yes"}
    made = rooms.client.get(f"/wearers/{orthosis_id}/chart.pdf", params=asked).content
    printed = words_on(made)
    assert "lunes 18 de mayo" in printed
    assert "A. T." in printed
    assert round(read(made).pages[0].mediabox.width) == 612


@pytest.mark.parametrize(
    ("asked", "status"), [({"from": "soon"}, 422), ({"from": "2020-01-01"}, 422), ({"language": "xx"}, 404)]
)
def test_what_cannot_be_printed_is_said(rooms: PracticeAtWork, asked, status) -> None:
    orthosis_id = rooms.start()
    rooms.sign_in()
    assert rooms.client.get(f"/wearers/{orthosis_id}/chart.pdf", params=asked).status_code == status


def test_nobody_prints_without_signing_in(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    for path in (f"/wearers/{orthosis_id}/chart.pdf", "/round"):
        assert rooms.client.get(path, follow_redirects=False).status_code == 303
    assert rooms.client.post("/round", data={"orthoses": "1"}, follow_redirects=False).status_code == 303


@pytest.mark.parametrize(("language", "words"), [("en", "Stop and ring us"), ("es", "Pare y llame")])
def test_a_family_prints_in_its_language_with_its_own_page_on_it(rooms: PracticeAtWork, language, words) -> None:
    path = rooms.link(rooms.start(contact1_language=language))
    assert f'href="{path}/chart.pdf"' in rooms.client.get(path).text
    answer = rooms.client.get(f"{path}/chart.pdf")
    printed = words_on(answer.content).replace("\u200b", "")
    assert answer.headers["cache-control"] == "no-store"
    assert words in printed
    assert path.removeprefix("/c/") in printed
    assert not re.search(r"Aldo|Torvenn|Maj|A-17|K-2041", printed)


def test_who_may_not_be_told_is_led_to_the_page_instead(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    with rooms.practice.store.write() as connection:
        drop_contact(connection, 1)
    answer = rooms.client.get(f"{path}/chart.pdf", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, path)


def test_a_wrong_link_prints_nothing(rooms: PracticeAtWork) -> None:
    answer = rooms.client.get("/c/nosuchtoken/chart.pdf")
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")


def test_a_round_is_printed_for_the_address_of_a_home(rooms: PracticeAtWork) -> None:
    rooms.start()
    rooms.start(wearer_reference="B-2", wearer_name="Branka Oost", identifier="K-2042", side="right")
    rooms.sign_in()
    answer = rooms.send("/round", contact="maj@example.org", on="2026-05-12", language="es")
    printed = words_on(answer.content)
    assert answer.headers["content-disposition"] == 'attachment; filename="round-2026-05-12.pdf"'
    assert "A. T." in printed
    assert "B. O." in printed
    assert "martes 12 de mayo" in printed


def test_a_round_may_name_its_orthoses(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.start()
    rooms.sign_in()
    answer = rooms.send("/round", orthoses=f" {orthosis_id}, {orthosis_id}", on="2026-05-12", paper="letter")
    assert words_on(answer.content).count("A. T.") == 1


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"on": "soon", "orthoses": "1"}, "on"),
        ({"on": "2026-05-12", "orthoses": "Aldo"}, "orthoses"),
        ({"on": "2026-05-12", "orthoses": "77"}, "orthoses"),
        ({"on": "2026-05-12", "contact": "nobody@example.org"}, "contact"),
        ({"on": "2026-05-12"}, "contact"),
    ],
)
def test_a_round_that_cannot_be_printed_comes_back_with_what_to_mend(rooms: PracticeAtWork, fields, field) -> None:
    rooms.start()
    rooms.sign_in()
    answer = rooms.send("/round", **fields)
    assert answer.status_code == 422
    assert f'<a href="#{field}">' in answer.text
