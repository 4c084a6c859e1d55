from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.exc import IntegrityError

from followup.core.precaution import Precaution
from followup.storage import people, reports
from followup.storage.engine import Store
from tests.builders import Clinic, clinic_on, utc

NOW = utc("2026-03-02 12:00")


@pytest.fixture
def clinic(store: Store) -> Clinic:
    made = clinic_on(store)
    made.deliver()
    return made


def test_the_newest_word_about_messages_holds(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        people.record_consent(connection, 1, False, "reply", NOW)
        contact = people.contact_of(connection, 1)
    assert contact is not None
    assert not contact.consents


def test_a_contact_is_found_by_address_in_either_letter_case(clinic: Clinic) -> None:
    with clinic.practice.store.read() as connection:
        assert [each.id for each in people.contacts_at(connection, "MAJ@Phones.example")] == [1]


def test_a_precaution_is_present_absent_or_not_recorded(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        people.put_wearer(connection, {"reference": "W1"}, {Precaution.DIABETES: True})
        found = people.precautions_of(connection, 1)
    assert (found["diabetes"], found["child"], "no such" in found) == (True, False, False)


def test_a_session_ends_by_itself(clinic: Clinic) -> None:
    runa = clinic.runa
    with clinic.practice.store.write() as connection:
        people.add_session(connection, "digest", runa.staff_id, "csrf", NOW)
        assert people.session_of(connection, "digest", NOW - timedelta(seconds=1)) is not None
        assert people.session_of(connection, "digest", NOW) is None


def test_two_members_of_staff_never_share_a_name_to_sign_in(clinic: Clinic) -> None:
    user = clinic.runa.name.lower()
    with pytest.raises(IntegrityError), clinic.practice.store.write() as connection:
        people.add_staff(connection, user, "Runa", "clinician", "hash")


def test_an_item_that_came_in_is_kept_once(clinic: Clinic) -> None:
    with clinic.practice.store.write() as connection:
        taken = [reports.take_in(connection, "mail 7", "1", NOW) for _ in range(2)]
    assert taken == [1, None]
