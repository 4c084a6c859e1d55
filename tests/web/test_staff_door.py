from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from followup.services.sign_in import Role
from tests.web.a_practice import ADDRESS, PASSWORD, PracticeAtWork, open_practice

STAFF_PAGES = ["/callbacks", "/desk", "/phone-log", "/phone-log/urgent", "/deliveries/new", "/wearers", "/wearers/1"]


@pytest.mark.parametrize("path", STAFF_PAGES)
def test_a_staff_page_asks_strangers_to_sign_in_and_brings_them_back(rooms: PracticeAtWork, path: str) -> None:
    answer = rooms.client.get(path, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/sign-in?back={path}"


def test_signing_in_leads_back_to_the_page_that_was_asked_for(rooms: PracticeAtWork) -> None:
    rooms.staff()
    fields = {"user": "runa", "password": PASSWORD, "back": "/desk"}
    assert rooms.client.post("/sign-in", data=fields).url.path == "/desk"


@pytest.mark.parametrize("back", ["https://example.org", "//example.org", "/\\example.org", "/c/sometoken", ""])
def test_signing_in_leads_nowhere_else(rooms: PracticeAtWork, back: str) -> None:
    rooms.staff()
    fields = {"user": "runa", "password": PASSWORD, "back": back}
    answer = rooms.client.post("/sign-in", data=fields, follow_redirects=False)
    assert answer.headers["location"] == "/callbacks"


def test_a_wrong_password_says_so_and_signs_nobody_in(rooms: PracticeAtWork) -> None:
    rooms.staff()
    answer = rooms.client.post("/sign-in", data={"user": "runa", "password": "not this one"})
    assert (answer.status_code, "do not fit together. Try again." in answer.text) == (422, True)
    assert "set-cookie" not in answer.headers
    assert "not this one" not in answer.text


@pytest.mark.parametrize("missing", ["user", "password"])
def test_an_empty_field_is_named(rooms: PracticeAtWork, missing: str) -> None:
    fields = {"user": "runa", "password": PASSWORD} | {missing: ""}
    answer = rooms.client.post("/sign-in", data=fields)
    assert (answer.status_code, f'href="#{missing}"' in answer.text) == (422, True)


def test_a_password_is_tried_only_so_often(rooms: PracticeAtWork) -> None:
    rooms.staff()
    for _ in range(8):
        rooms.client.post("/sign-in", data={"user": "runa", "password": "guess after guess"})
    answer = rooms.client.post("/sign-in", data={"user": "runa", "password": PASSWORD})
    assert (answer.status_code, "Wait 15 minutes." in answer.text) == (422, True)


def test_the_session_cookie_cannot_be_read_by_a_page_or_sent_from_another_site(rooms: PracticeAtWork) -> None:
    rooms.staff()
    answer = rooms.client.post("/sign-in", data={"user": "runa", "password": PASSWORD}, follow_redirects=False)
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith("followup_session=")
    assert "httponly" in cookie
    assert "samesite=lax" in cookie


def test_over_https_the_session_cookie_is_never_sent_in_the_clear(migrated_file: Path, tmp_path: Path) -> None:
    database = tmp_path / "secure.db"
    database.write_bytes(migrated_file.read_bytes())
    rooms = open_practice(database, public_address="https://q.example.org")
    rooms.staff()
    client = TestClient(rooms.site, "https://q.example.org")
    answer = client.post("/sign-in", data={"user": "runa", "password": PASSWORD}, follow_redirects=False)
    assert "secure" in answer.headers["set-cookie"].lower()
    assert "strict-transport-security" in answer.headers
    rooms.app.close()


def test_after_signing_out_the_old_cookie_opens_nothing(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    cookie = rooms.client.cookies["followup_session"]
    assert rooms.send("/sign-out").status_code == 303
    stranger = TestClient(rooms.site, ADDRESS, cookies={"followup_session": cookie})
    assert stranger.get("/callbacks", follow_redirects=False).status_code == 303


@pytest.mark.parametrize("fields", [{}, {"csrf": "guessed"}, {"csrf": "é"}])
def test_a_form_without_the_sessions_token_is_refused(rooms: PracticeAtWork, fields: dict[str, str]) -> None:
    rooms.sign_in()
    answer = rooms.client.post("/deliveries/new", data=fields)
    assert (answer.status_code, "did not come from a page of yours" in answer.text) == (403, True)


@pytest.mark.parametrize(
    "headers", [{"origin": "https://elsewhere.example"}, {"origin": "null", "sec-fetch-site": "cross-site"}]
)
def test_a_form_from_another_site_is_refused_even_with_the_token(
    rooms: PracticeAtWork, headers: dict[str, str]
) -> None:
    rooms.sign_in()
    answer = rooms.client.post("/desk", data={"csrf": rooms.csrf(), "close": "1"}, headers=headers)
    assert answer.status_code == 403


def test_a_form_from_our_own_origin_is_taken(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    answer = rooms.client.post("/desk", data={"csrf": rooms.csrf(), "close": "one"}, headers={"origin": ADDRESS})
    assert answer.status_code == 422


def test_the_desk_may_not_close_a_call_or_release_a_check(rooms: PracticeAtWork) -> None:
    orthosis_id = rooms.deliver()
    rooms.check(orthosis_id, insole="none was in the shoe")
    rooms.sign_in("bettany", Role.DESK)
    answer = rooms.send(f"/deliveries/{orthosis_id}/checks/release", check="insole", note_insole="looked at")
    assert (answer.status_code, "Only a clinician can release this" in answer.text) == (422, True)
