from __future__ import annotations

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from followup.words.render import template_root
from tests.web.a_practice import ADDRESS, PracticeAtWork

POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)


@pytest.mark.parametrize("path", ["/sign-in", "/callbacks", "/c/nonsense", "/no-such-page"])
def test_every_answer_forbids_scripts_frames_and_copies(rooms: PracticeAtWork, path: str) -> None:
    headers = rooms.client.get(path, follow_redirects=False).headers
    assert headers["content-security-policy"] == POLICY
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"


def test_a_fault_of_the_program_is_dressed_too_and_tells_nothing(rooms: PracticeAtWork) -> None:
    async def fails(request: object) -> None:
        raise RuntimeError("Aldo Torvenn")

    rooms.site.router.routes.insert(0, Route("/fails", fails))  # type: ignore[arg-type]
    answer = TestClient(rooms.site, ADDRESS, raise_server_exceptions=False).get("/fails")
    assert (answer.status_code, "Aldo" in answer.text) == (500, False)
    assert answer.headers["content-security-policy"] == POLICY


def test_the_stylesheet_is_found_and_may_be_kept(rooms: PracticeAtWork) -> None:
    answer = rooms.client.get("/static/look.css")
    assert answer.headers["content-type"].startswith("text/css")
    assert answer.headers["cache-control"] == "private, max-age=3600"


def test_a_form_with_too_many_fields_is_refused(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    answer = rooms.client.post(f"{path}/look", data={f"field{number}": "x" for number in range(60)})
    assert (answer.status_code, "Nothing was changed." in answer.text) == (400, True)


def test_a_field_that_is_too_long_is_refused(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    assert rooms.client.post(f"{path}/look", data={"look": "x" * 20_000}).status_code == 400


def test_an_answer_cannot_write_markup_into_a_page(rooms: PracticeAtWork) -> None:
    path = rooms.link(rooms.start())
    asked = rooms.press(f"{path}/look", look="clear")
    shown = rooms.press(asked.url.path, question="body", answer="<b>hello</b>").text
    assert "<b>hello</b>" not in shown
    assert "&lt;b&gt;hello&lt;/b&gt;" in shown


def test_no_page_asks_for_a_name_by_its_address() -> None:
    forms = [path.read_text() for path in (template_root() / "pages").rglob("*.html")]
    assert not [text for text in forms if 'method="get"' in text]
