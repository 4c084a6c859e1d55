"""Every page that shows advice says what stands above it."""

from __future__ import annotations

import pytest

from tests.web.a_practice import PracticeAtWork


@pytest.mark.parametrize("page", ["/callbacks", "/desk", "/wearers", "/phone-log"])
def test_a_page_for_staff_says_that_it_does_not_diagnose(rooms: PracticeAtWork, page: str) -> None:
    rooms.sign_in()
    shown = rooms.client.get(page).text
    assert "It does not diagnose" in shown
    assert "local emergency and privacy rules come first" in shown


def test_a_page_for_families_says_that_it_is_advice(rooms: PracticeAtWork) -> None:
    shown = rooms.client.get(rooms.link(rooms.start())).text
    assert "not a diagnosis" in shown
    assert "112" in shown
