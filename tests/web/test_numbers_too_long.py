from __future__ import annotations

import pytest

from tests.web.a_practice import PracticeAtWork

HUGE = "9" * 40


@pytest.mark.parametrize("path", ["/callbacks/{}", "/wearers/{}", "/phone-log/{}", "/deliveries/{}/checks"])
def test_a_number_no_record_can_have_is_told(rooms: PracticeAtWork, path: str) -> None:
    rooms.sign_in()
    assert rooms.client.get(path.format(HUGE)).status_code in {404, 422}


def test_a_form_with_such_a_number_is_told(rooms: PracticeAtWork) -> None:
    rooms.sign_in()
    assert rooms.send("/callbacks", take=HUGE).status_code in {404, 422}
