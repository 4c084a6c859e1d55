from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from followup.errors import InvalidInput
from followup.services.sign_in import LASTS, MOST_FAILURES, Role, add_staff, see_session, sign_in, sign_out
from followup.storage import people
from followup.storage.engine import open_store
from followup.storage.tables import session
from tests.builders import Clinic, clinic_on

PASSWORD = "a long password"


@pytest.fixture(scope="module")
def runas_clinic(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Clinic, str]]:
    """A practice in which Runa is signed in, with her token; passwords are slow on purpose, so once for the module."""
    file = shutil.copy(migrated_file, tmp_path_factory.mktemp("sign_in") / "followup.db")
    store = open_store(f"sqlite:///{file}")
    clinic = clinic_on(store)
    add_staff(clinic.practice, "runa", "Runa Castellow", Role.CLINICIAN, PASSWORD)
    yield clinic, sign_in(clinic.practice, "runa", PASSWORD, clinic.now)
    store.close()


def refusal(clinic: Clinic, user: str, password: str) -> str:
    with pytest.raises(InvalidInput) as refused:
        sign_in(clinic.practice, user, password, clinic.now)
    return refused.value.code


def test_whoever_signed_in_is_known_by_the_token(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, token = runas_clinic
    found = see_session(clinic.practice, token, clinic.now)
    assert found is not None
    assert (found.name, found.role) == ("Runa Castellow", Role.CLINICIAN)


def test_a_session_ends_after_its_time(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, token = runas_clinic
    assert see_session(clinic.practice, token, clinic.now + LASTS) is None


def test_a_token_nobody_was_given_is_no_session(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, token = runas_clinic
    assert see_session(clinic.practice, token[:-1], clinic.now) is None


def test_only_a_digest_of_the_token_is_kept(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, token = runas_clinic
    assert token not in str(clinic.rows(session.select()))


def test_a_wrong_password_and_an_unknown_name_are_told_alike(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, _ = runas_clinic
    assert {refusal(clinic, "runa", "a wrong password"), refusal(clinic, "nobody", PASSWORD)} == {"wrong_password"}


def test_too_many_wrong_passwords_close_the_door_even_to_the_right_one(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, _ = runas_clinic
    with clinic.practice.store.write() as connection:
        for _ in range(MOST_FAILURES):
            people.note_failed_sign_in(connection, "runa", clinic.now)
    assert refusal(clinic, "runa", PASSWORD) == "too_many_tries"


def test_after_a_quarter_of_an_hour_the_door_opens_again(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, _ = runas_clinic
    later = clinic.now + timedelta(minutes=16)
    assert sign_in(clinic.practice, "runa", PASSWORD, later)


def test_whoever_signs_out_is_out(runas_clinic: tuple[Clinic, str]) -> None:
    clinic, token = runas_clinic
    sign_out(clinic.practice, token)
    assert see_session(clinic.practice, token, clinic.now) is None


@pytest.mark.parametrize(
    ("user", "password", "code"), [("odd", "short", "weak_password"), ("runa", PASSWORD, "user_taken")]
)
def test_staff_are_added_with_a_fit_password_and_a_free_name(
    runas_clinic: tuple[Clinic, str], user: str, password: str, code: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        add_staff(runas_clinic[0].practice, user, "Somebody", Role.DESK, password)
    assert refused.value.code == code
