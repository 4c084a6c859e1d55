from __future__ import annotations

from pathlib import Path

import pytest

from followup.errors import InvalidInput
from followup.settings import read_settings
from tests.builders import QUILLMERE


def refused(**changes: str) -> InvalidInput:
    with pytest.raises(InvalidInput) as error:
        read_settings({**QUILLMERE, **changes})
    return error.value


def test_a_whole_set_is_read() -> None:
    assert read_settings(QUILLMERE).practice_name == "Quillmere"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("FOLLOWUP_SECRET", "short"),
        ("FOLLOWUP_PRACTICE_ZONE", "Mars/Olympus"),
        ("FOLLOWUP_PUBLIC_ADDRESS", "q.example.org"),
        ("FOLLOWUP_SMTP_PORT", "70000"),
        ("FOLLOWUP_SMTP_PORT", "mail"),
        ("FOLLOWUP_SMTP_SECURITY", "perhaps"),
        ("FOLLOWUP_TICK_SECONDS", "0"),
    ],
)
def test_a_bad_value_is_refused_by_the_name_of_its_variable(name: str, value: str) -> None:
    error = refused(**{name: value})
    assert (error.path, error.message.startswith(name)) == (name, True)


@pytest.mark.parametrize("name", ["FOLLOWUP_SECRET", "FOLLOWUP_EMERGENCY_NUMBER"])
def test_what_has_no_default_must_be_given(name: str) -> None:
    with pytest.raises(InvalidInput, match=name):
        read_settings({key: value for key, value in QUILLMERE.items() if key != name})


def test_a_password_never_crosses_the_network_in_the_clear() -> None:
    assert "starttls" in refused(FOLLOWUP_SMTP_HOST="mail.example", FOLLOWUP_SMTP_USER="q").message


def test_on_loopback_a_password_needs_no_protection() -> None:
    assert read_settings({**QUILLMERE, "FOLLOWUP_SMTP_USER": "q"}).smtp_user == "q"


def test_a_secret_may_be_in_a_file(tmp_path: Path) -> None:
    file = tmp_path / "secret"
    file.write_text("a secret kept in a file, forty letters..\n")
    without = {key: value for key, value in QUILLMERE.items() if key != "FOLLOWUP_SECRET"}
    found = read_settings({**without, "FOLLOWUP_SECRET_FILE": str(file)})
    assert found.secret.get_secret_value() == "a secret kept in a file, forty letters.."


def test_a_file_that_is_not_there_is_named() -> None:
    assert refused(FOLLOWUP_SECRET_FILE="/nowhere/secret").path == "FOLLOWUP_SECRET_FILE"


def test_secrets_are_not_shown() -> None:
    assert "secret for tests" not in repr(read_settings(QUILLMERE))


def test_a_refused_secret_is_not_repeated() -> None:
    assert "too-short-to-be-one" not in refused(FOLLOWUP_SECRET="too-short-to-be-one").message


def test_variables_of_other_programs_are_left_alone() -> None:
    assert read_settings({**QUILLMERE, "PATH": "/bin"}).smtp_port == 25
