from __future__ import annotations

import json
import re
import shutil
from zoneinfo import ZoneInfo

import pytest

from followup.cli.main import exit_code
from followup.clock import system_clock
from followup.settings import read_settings
from followup.storage.engine import open_store
from tests.builders import ALDO, BRANKA, QUILLMERE, clinic_on
from tests.paper import words_on


@pytest.fixture
def two_wearers(migrated_file, tmp_path, monkeypatch):
    """A practice with two plans that begin on the day of the test, and the settings that lead to it."""
    database = shutil.copy(migrated_file, tmp_path / "followup.db")
    for name, value in {**QUILLMERE, "FOLLOWUP_DATABASE_URL": f"sqlite:///{database}"}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.chdir(tmp_path)
    store = open_store(read_settings().database_url)
    clinic = clinic_on(store)
    clinic.now = system_clock()
    today = {"delivered_on": clinic.now.astimezone(ZoneInfo("Europe/London")).date().isoformat()}
    ids = clinic.start({**ALDO, **today}), clinic.start({**BRANKA, **today})
    store.close()
    return ids


def test_a_chart_is_written_as_a_pdf(two_wearers, tmp_path, capsys):
    out = tmp_path / "chart.pdf"
    assert exit_code(["chart", str(two_wearers[0]), "--language", "es", "--initials", "--out", str(out)]) == 0
    printed = words_on(out.read_bytes())
    assert "día 1" in printed
    assert "A. T." in printed
    assert f"{out}: {out.stat().st_size} bytes" in capsys.readouterr().out


def test_a_round_is_written_for_an_address_and_for_numbers(two_wearers, tmp_path):
    out = tmp_path / "round.pdf"
    asked = ["round-sheet", str(two_wearers[0]), "--contact", "ivo@phones.example", "--paper", "letter"]
    assert exit_code([*asked, "--out", str(out)]) == 0
    assert re.findall(r"[A-Z]\. [A-Z]\.", words_on(out.read_bytes())) == ["A. T.", "B. O."]


@pytest.mark.parametrize(
    ("asked", "code", "left"),
    [
        (["chart", "99"], "unknown_orthosis", 3),
        (["chart", "1", "--week", "2020-01-01"], "before_the_plan", 4),
        (["chart", "1", "--week", "soon"], "usage", 2),
        (["round-sheet"], "bad_round", 4),
        (["round-sheet", "--contact", "nobody@phones.example"], "unknown_contact", 3),
    ],
)
def test_what_cannot_be_printed_is_said_and_nothing_is_written(two_wearers, tmp_path, capsys, asked, code, left):
    out = tmp_path / "none.pdf"
    assert exit_code([*asked, "--out", str(out)]) == left
    assert json.loads(capsys.readouterr().err)["code"] == code
    assert not out.exists()


def test_a_place_that_cannot_be_written_is_said(two_wearers, tmp_path, capsys):
    asked = ["chart", str(two_wearers[0]), "--out", str(tmp_path / "no" / "chart.pdf")]
    assert exit_code(asked) == 4
    assert json.loads(capsys.readouterr().err)["code"] == "unwritable_file"
