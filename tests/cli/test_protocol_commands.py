"""`protocols show` and `protocols check`: what is drawn, what is said of a file, and exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from followup.cli.main import exit_code
from tests.structure.source_tree import PACKAGE

SHIPPED = sorted((PACKAGE / "clinical/protocols").glob("*.toml"))
S07 = PACKAGE / "clinical/protocols/s07_2026-01-01.toml"


def lines(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> list[str]:
    assert exit_code(["protocols", *arguments]) == code
    return capsys.readouterr().out.splitlines()


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    return json.loads("\n".join(lines(capsys, *arguments, "--format", "json")))


def written(folder: Path, old: str, new: str) -> str:
    assert old in S07.read_text()
    file = folder / "s07.toml"
    file.write_text(S07.read_text().replace(old, new, 1))
    return str(file)


@pytest.mark.parametrize("id", [f"s{number:02}" for number in range(1, 19)])
def test_a_drawing_fits_eighty_columns_and_needs_no_colour(capsys: pytest.CaptureFixture[str], id: str) -> None:
    drawn = lines(capsys, "show", id, "--precaution", "reduced_sensation")
    assert max(map(len, drawn)) <= 80
    assert "\x1b" not in "".join(drawn)


def test_s07_is_drawn_with_its_bands_and_where_a_clinician_decides(capsys: pytest.CaptureFixture[str]) -> None:
    assert [" ".join(each.split()) for each in lines(capsys, "show", "s07")[-5:]] == [
        "step 1-3 █░░ 30 minutes to 1 h",
        "step 4-5 ███░░░░ 1 h to 2 h",
        "step 6-7 ███████░░░░░░░░ 2 h to 4 h",
        "-- after step 7 a clinician decides --------------------------------------------",
        "step 8 ██████████████████████████████ 8 h, full wear",
    ]


def test_a_drawing_names_document_grade_mark_limit_and_whom(capsys: pytest.CaptureFixture[str]) -> None:
    drawn = " ".join(" ".join(lines(capsys, "show", "s07")).split())
    assert "North Bristol NHS Trust, A guide to your KAFO, undated (S07, grade B)" in drawn
    assert "mark limit 20 minutes (Royal National Orthopaedic Hospital" in drawn
    assert "for whom Knee-ankle-foot orthosis" in drawn


def test_show_has_every_step_for_the_goal(capsys: pytest.CaptureFixture[str]) -> None:
    protocol = shown(capsys, "show", "s02", "--full-wear", "600", "--end", "high")
    assert (protocol["schema"], protocol["own_steps"]) == ("followup.protocol/1", 4)
    assert [each["target_minutes"] for each in protocol["steps"]] == [60, 120, 240, 300, 600]


def test_show_says_what_precautions_change(capsys: pytest.CaptureFixture[str]) -> None:
    protocol = shown(capsys, "show", "s01", "--precaution", "reduced_sensation")
    assert protocol["mark_limit_for_wearer"] == 30
    assert [each["published"] for each in protocol["steps"]][:3] == [True, False, True]


def test_show_takes_who_walks_on_and_off(capsys: pytest.CaptureFixture[str]) -> None:
    steps = shown(capsys, "show", "s06", "--activity", "on_and_off")["steps"]
    assert steps[0]["range_minutes"] == [60, 120]


@pytest.mark.parametrize(("arguments", "code"), [(["show", "s99"], 3), (["show", "s01", "--precaution", "tall"], 3)])
def test_what_is_not_known_is_refused(capsys: pytest.CaptureFixture[str], arguments: list[str], code: int) -> None:
    assert lines(capsys, *arguments, code=code) == []


def test_every_shipped_file_can_be_followed(capsys: pytest.CaptureFixture[str]) -> None:
    checked = shown(capsys, "check", *map(str, SHIPPED))
    assert [each["can_be_followed"] for each in checked] == [True] * 18


def test_check_lists_every_fault_with_key_and_advice(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = written(tmp_path, "days = [3, 5]", "days = [5, 5]\nlong = 1")
    Path(file).write_text(Path(file).read_text().replace("mark_limit_minutes = 20", "mark_limit_minutes = 0"))
    assert lines(capsys, "check", file, code=4) == [
        f"{file}: can't be followed",
        "  mark_limit_minutes: write whole minutes from 1 to 120",
        "  ladder.2.long: take this key out, or correct its spelling",
    ]


def test_check_of_a_wrong_file_is_invalid_input_at_its_key(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = written(tmp_path, "days = [3, 5]", "days = [5, 5]")
    assert exit_code(["protocols", "check", str(S07), file]) == 4
    error = json.loads(capsys.readouterr().err)
    assert (error["code"], error["path"]) == ("bad_protocol", f"{file}: ladder.2.days")
    assert error["message"].startswith("1 of 2")


def test_a_form_in_force_may_not_say_something_else(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    edited = written(tmp_path, "minutes = [120, 240]", "minutes = [120, 200]")
    assert "effective_on: write a later date" in lines(capsys, "check", edited, code=4)[1]


def test_a_successor_with_a_later_date_is_let_by(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    successor = Path(written(tmp_path, "minutes = [120, 240]", "minutes = [120, 200]"))
    successor.write_text(successor.read_text().replace("2026-01-01", "2027-01-01"))
    assert lines(capsys, "check", str(successor))[0] == f"{successor}: can be followed"


def test_check_takes_another_window(capsys: pytest.CaptureFixture[str]) -> None:
    short = ("check", str(S07), "--window", "09:00-12:00")
    assert lines(capsys, *short, "--full-wear", "150")[0].endswith(": can be followed")
    assert "of the 480 minutes of step 8 the day's window holds 160" in lines(capsys, *short, code=4)[1]


def test_a_folder_is_no_protocol(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "name a file" in lines(capsys, "check", str(tmp_path), code=4)[1]
