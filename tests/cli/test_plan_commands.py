"""`protocols list` and `plan`: fields, exit codes, and input that cannot be used."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from followup.cli.main import exit_code

PLAN = ["plan", "--protocol", "s01", "--delivered", "2026-03-02", "--zone", "Europe/Madrid", "--days", "4"]
SORE = {
    "id": "e1",
    "type": "skin_check",
    "occurred_at": "2026-03-02T10:00:00+01:00",
    "recorded_at": "2026-03-02T10:05:00+01:00",
    "data": {"plan_on": "2026-03-02", "result": "sore"},
}


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    assert exit_code([*arguments, "--format", "json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


def refused(capsys: pytest.CaptureFixture[str], code: int, *arguments: str) -> dict[str, str]:
    assert exit_code(arguments) == code
    out, err = capsys.readouterr()
    assert out == ""
    error: dict[str, str] = json.loads(err)
    assert set(error) == {"code", "path", "message"}
    return error


def events(folder: Path, *lines: object) -> str:
    file = folder / "events.jsonl"
    file.write_text("\n".join(line if isinstance(line, str) else json.dumps(line) for line in lines))
    return str(file)


def test_protocols_have_id_title_source_and_mark_limit(capsys: pytest.CaptureFixture[str]) -> None:
    listed = shown(capsys, "protocols", "list")
    assert [each["id"] for each in listed] == [f"s{number:02}" for number in range(1, 19)]
    assert all({"title", "source", "mark_limit_minutes"} <= set(each) for each in listed)


def test_plan_has_every_field(capsys: pytest.CaptureFixture[str]) -> None:
    plan = shown(capsys, *PLAN)
    assert (plan["schema"], plan["protocol"], len(plan["digest"])) == ("followup.plan/1", "s01", 64)
    assert plan["days"][3] == {
        "day": 4,
        "date": "2026-03-05",
        "basis": "projected",
        "step": 4,
        "target_minutes": 120,
        "range_minutes": [120, 120],
        "state": "wearing",
        "instruction": "as_planned",
        "reasons": ["clear_check"],
        "reason": "2 h today, more than yesterday: the skin was clear",
        "periods": [
            {"on_at": "2026-03-05T09:00:00+01:00", "off_at": "2026-03-05T10:00:00+01:00", "minutes": 60},
            {"on_at": "2026-03-05T15:00:00+01:00", "off_at": "2026-03-05T16:00:00+01:00", "minutes": 60},
        ],
        "checks": [
            {"at": "2026-03-05T10:00:00+01:00", "kind": "removal"},
            {"at": "2026-03-05T10:40:00+01:00", "kind": "after_limit"},
            {"at": "2026-03-05T16:00:00+01:00", "kind": "removal"},
            {"at": "2026-03-05T16:40:00+01:00", "kind": "after_limit"},
        ],
        "stopped_at": None,
    }


def test_text_is_a_line_a_day(capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(PLAN) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 4
    assert "09:00-10:00, 15:00-16:00" in lines[3]


def test_options_reach_the_plan(capsys: pytest.CaptureFixture[str]) -> None:
    options = ["--full-wear", "90", "--window", "10:00-20:00", "--end", "high", "--assume", "silent"]
    days = shown(capsys, *PLAN, *options, "--precaution", "child")["days"]
    assert [day["target_minutes"] for day in days] == [30, 0, 0, 0]
    assert days[0]["periods"][0]["on_at"] == "2026-03-02T10:00:00+01:00"
    assert shown(capsys, *PLAN, "--full-wear", "90", "--end", "high")["days"][2]["target_minutes"] == 90


def test_events_move_the_plan_from_when_they_were_recorded(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = events(tmp_path, SORE, "", SORE)
    days = shown(capsys, *PLAN, "--events", file)["days"]
    assert [(day["basis"], day["target_minutes"]) for day in days[:2]] == [("recorded", 30), ("projected", 0)]
    assert days[0]["stopped_at"] == "2026-03-02T10:05:00+01:00"
    before = shown(capsys, *PLAN, "--events", file, "--as-of", "2026-03-02T08:00:00Z")["days"]
    assert before[1]["target_minutes"] == 60


def test_as_of_a_date_is_the_end_of_that_day(capsys: pytest.CaptureFixture[str]) -> None:
    days = shown(capsys, *PLAN, "--as-of", "2026-03-03")["days"]
    assert [day["basis"] for day in days] == ["recorded", "recorded", "projected", "projected"]


@pytest.mark.parametrize(
    ("option", "value", "exit_with", "code"),
    [
        ("--protocol", "s99", 3, "unknown_protocol"),
        ("--precaution", "tired", 3, "unknown_precaution"),
        ("--zone", "Europe/Nowhere", 4, "unknown_zone"),
        ("--zone", "../../etc", 4, "unknown_zone"),
        ("--delivered", "2026-02-30", 2, "usage"),
        ("--delivered", "9999-12-31", 2, "usage"),
        ("--days", "0", 2, "usage"),
        ("--full-wear", "two", 2, "usage"),
        ("--window", "7-21", 2, "usage"),
        ("--end", "middle", 2, "usage"),
        ("--as-of", "noon", 2, "usage"),
        ("--events", "nowhere.jsonl", 2, "usage"),
        ("--colour", "red", 2, "usage"),
    ],
)
def test_bad_options_leave_with_their_code(
    capsys: pytest.CaptureFixture[str], option: str, value: str, exit_with: int, code: str
) -> None:
    assert refused(capsys, exit_with, *PLAN, option, value)["code"] == code


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("{", "bad_event", "one JSON object on each line"),
        ('{"id": "a", "id": "b"}', "bad_event", "each key once"),
        ("[]", "bad_event", "JSON object"),
        ({**SORE, "id": "e2", "type": "walk"}, "bad_event", "type: Write one of"),
        ({**SORE, "data": {"plan_on": "2026-03-02", "result": "clear"}}, "duplicate_event", "id of its own"),
    ],
)
def test_bad_event_line_is_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, line: object, code: str, says: str
) -> None:
    file = events(tmp_path, SORE, line)
    error = refused(capsys, 4, *PLAN, "--events", file)
    assert (error["code"], error["path"]) == (code, f"{file}:2")
    assert says in error["message"]
