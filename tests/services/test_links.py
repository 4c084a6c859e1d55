from __future__ import annotations

from datetime import timedelta

import pytest

from followup.errors import InvalidInput
from followup.services.links import LASTS, make_link, open_link
from followup.storage import people
from followup.storage.tables import page_link
from tests.builders import BRANKA, Clinic


def made(clinic: Clinic) -> str:
    return make_link(clinic.practice, 1, clinic.deliver(), clinic.now)


def refusal(clinic: Clinic, token: str) -> str:
    with pytest.raises(InvalidInput) as refused:
        open_link(clinic.practice, token, clinic.now)
    return refused.value.code


def test_a_link_opens_one_wearers_page(clinic: Clinic) -> None:
    clinic.deliver(BRANKA)
    link = open_link(clinic.practice, make_link(clinic.practice, 1, 1, clinic.now), clinic.now)
    assert (link.contact_id, link.orthosis_id) == (1, 1)


def test_a_link_is_the_same_in_every_message(clinic: Clinic) -> None:
    first = made(clinic)
    clinic.now += timedelta(days=3)
    assert make_link(clinic.practice, 1, 1, clinic.now) == first


def test_a_forged_link_is_unknown(clinic: Clinic) -> None:
    token = made(clinic)
    assert refusal(clinic, token[:-1] + ("A" if token[-1] != "A" else "B")) == "link_unknown"


@pytest.mark.parametrize("token", ["", "x", "../../etc", "é" * 16, "A" * 5000])
def test_nonsense_is_unknown(clinic: Clinic, token: str) -> None:
    assert refusal(clinic, token) == "link_unknown"


def test_a_link_expires(clinic: Clinic) -> None:
    token = made(clinic)
    clinic.now += LASTS
    assert refusal(clinic, token) == "link_expired"


def test_a_revoked_link_has_ended_and_the_next_one_differs(clinic: Clinic) -> None:
    token = made(clinic)
    with clinic.practice.store.write() as connection:
        people.revoke_links(connection, 1, clinic.now)
    assert refusal(clinic, token) == "link_expired"
    assert make_link(clinic.practice, 1, 1, clinic.now) != token


def test_only_a_digest_is_kept(clinic: Clinic) -> None:
    token = made(clinic)
    assert token not in str(clinic.rows(page_link.select()))


def test_a_link_says_what_to_do_when_it_ended(clinic: Clinic) -> None:
    with pytest.raises(InvalidInput, match="newest message"):
        open_link(clinic.practice, "nonsense", clinic.now)
