from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from followup.cli.main import exit_code
from followup.storage.engine import open_store
from followup.storage.tables import orthosis, staff
from tests.builders import ALDO, BRANKA, QUILLMERE, as_csv
from tests.channels.scripted_server import scripted


@pytest.fixture
def database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The address of a database the commands will use, as settings of the environment say."""
    url = f"sqlite:///{tmp_path / 'followup.db'}"
    for name, value in {**QUILLMERE, "FOLLOWUP_DATABASE_URL": url}.items():
        monkeypatch.setenv(name, value)
    return url


def count(url: str, table: Any) -> int:
    store = open_store(url)
    with store.read() as connection:
        found = len(connection.execute(table.select()).all())
    store.close()
    return found


def file_of(tmp_path: Path, *rows: Mapping[str, str]) -> str:
    file = tmp_path / "deliveries.csv"
    file.write_text(as_csv(*rows))
    return str(file)


def error(capsys: pytest.CaptureFixture[str]) -> dict[str, str]:
    said: dict[str, str] = json.loads(capsys.readouterr().err)
    assert set(said) == {"code", "path", "message"}
    return said


def test_import_takes_deliveries_in(database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(["import", file_of(tmp_path, ALDO, BRANKA), "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["new"] == 2
    assert count(database, orthosis) == 2


def test_importing_the_same_file_twice_changes_nothing(
    database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exit_code(["import", file_of(tmp_path, ALDO)])
    exit_code(["import", file_of(tmp_path, ALDO)])
    assert "0 new, 0 changed, 1 unchanged" in capsys.readouterr().out


def test_a_bad_row_is_named_and_leaves_with_4_while_the_good_one_goes_in(
    database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = {**ALDO, "contact1_address": "maj"}
    assert exit_code(["import", file_of(tmp_path, bad, BRANKA)]) == 4
    said = error(capsys)
    assert (said["code"], said["path"]) == ("bad_rows", "deliveries.csv:2")
    assert count(database, orthosis) == 1


def test_every_bad_row_is_listed(database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    exit_code(["import", file_of(tmp_path, {**ALDO, "zone": "x"}, {**BRANKA, "side": "x"}), "--format", "json"])
    faults = json.loads(capsys.readouterr().out)["faults"]
    assert [(each["line"], each["column"]) for each in faults] == [(2, "zone"), (3, "side")]


@pytest.mark.parametrize(
    ("content", "code"), [(b"\xff\xfe\x00", "not_utf8"), (b"", "missing_columns"), (None, "unreadable_file")]
)
def test_a_file_that_cannot_be_read_leaves_with_4(
    database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, code: str
) -> None:
    file = tmp_path / "deliveries.csv"
    if content is not None:
        file.write_bytes(content)
    assert exit_code(["import", str(file)]) == 4
    assert error(capsys)["code"] == code


def test_a_setting_that_is_missing_leaves_with_4_and_its_name(
    database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("FOLLOWUP_EMERGENCY_NUMBER")
    assert exit_code(["import", file_of(tmp_path, ALDO)]) == 4
    assert error(capsys)["path"] == "FOLLOWUP_EMERGENCY_NUMBER"


@pytest.mark.parametrize(
    "arguments", [["nonsense"], ["import"], ["import", "a.csv", "--format", "xml"], ["work", "--twice"]]
)
def test_wrong_usage_leaves_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(arguments) == 2
    assert error(capsys)["code"] == "usage"


def test_something_unknown_leaves_with_3(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["plan", "--protocol", "s99", "--delivered", "2026-03-02", "--zone", "Europe/London", "--days", "3"]
    assert exit_code(arguments) == 3
    assert error(capsys)["code"] == "unknown_protocol"


def test_a_database_that_cannot_be_opened_is_a_fault(
    database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FOLLOWUP_DATABASE_URL", "sqlite:////nowhere/at/all.db")
    assert exit_code(["import", file_of(tmp_path, ALDO)]) == 1
    assert error(capsys)["code"] == "database"


def test_the_version_leaves_with_0(capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(["--version"]) == 0


def doctor(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, dict[str, bool]]:
    left = exit_code(["doctor", "--format", "json", *arguments])
    return left, {each["check"]: each["ok"] for each in json.loads(capsys.readouterr().out)}


def test_doctor_finds_all_well(
    database: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with scripted() as server:
        monkeypatch.setenv("FOLLOWUP_SMTP_PORT", str(server.port))
        assert exit_code(["work", "--once"]) == 0
        assert doctor(capsys) == (0, {"database": True, "rules": True, "mail": True})


def test_doctor_sends_one_test_message(
    database: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with scripted() as server:
        monkeypatch.setenv("FOLLOWUP_SMTP_PORT", str(server.port))
        doctor(capsys, "--to", "runa@quillmere.example")
    assert len(server.taken) == 1


@pytest.mark.parametrize("recipient", ["runa@quillmere.example", "not an address", ""])
def test_doctor_says_what_to_mend_and_leaves_with_1(
    database: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, recipient: str
) -> None:
    with scripted(RCPT="550 nobody", CONNECT="220 here" if recipient else "421 not now") as server:
        monkeypatch.setenv("FOLLOWUP_SMTP_PORT", str(server.port))
        left, found = doctor(capsys, "--to", recipient)
    assert (left, found["database"], found["mail"]) == (1, False, False)


def test_staff_are_added_with_a_password_from_a_file(database: str, tmp_path: Path) -> None:
    file = tmp_path / "password"
    file.write_text("a long password\n")
    arguments = ["staff", "add", "runa", "--name", "Runa", "--role", "clinician", "--password-file", str(file)]
    assert exit_code(arguments) == 0
    assert count(database, staff) == 1


def test_a_short_password_leaves_with_4(database: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "password"
    file.write_text("short")
    arguments = ["staff", "add", "odd", "--name", "Odd", "--role", "desk", "--password-file", str(file)]
    assert exit_code(arguments) == 4
    assert error(capsys)["code"] == "weak_password"
