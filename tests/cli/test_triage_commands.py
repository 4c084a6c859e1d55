"""`findings list`, `rules list` and `triage`: fields, exit codes, and input that cannot be used."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from followup.cli.main import exit_code

FINDING = {"id", "kind", "unit", "answers", "urgent", "gate"}
RULE = {"id", "label", "when", "urgency", "level", "instruction", "sources"}
RESULT = {
    "rule_set",
    "digest",
    "urgency",
    "level",
    "floor_level",
    "ceiling_level",
    "instruction",
    "fired",
    "unanswered",
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


@pytest.fixture
def file(tmp_path: Path) -> Any:
    def write(content: object) -> str:
        path = tmp_path / "facts.json"
        path.write_text(content if isinstance(content, str) else json.dumps(content))
        return str(path)

    return write


def test_findings_list_gives_answers_best_to_worst(capsys):
    rows = {row["id"]: row for row in shown(capsys, "findings", "list")}
    assert all(row.keys() >= FINDING for row in rows.values())
    assert rows["recovers_when_off"]["answers"] == [True, False]
    assert rows["blister"]["answers"] == [False, True]
    assert rows["orthosis_noise_new"]["answers"] == ["none", "squeak", "click"]
    assert (rows["mark_minutes"]["answers"], rows["mark_minutes"]["unit"]) == ([0, 1440], "minutes")
    assert (rows["chest_pain"]["urgent"], rows["chest_pain"]["gate"]) == (True, "body")
    assert (rows["shoe_tight"]["urgent"], rows["worn_minutes"]["gate"]) == (False, None)


def test_rules_list_gives_both_outputs_and_sources(capsys):
    rows = shown(capsys, "rules", "list")
    assert len(rows) >= 25
    assert all(row.keys() >= RULE and row["sources"] for row in rows)


def test_an_emergency_leaves_with_code_0(capsys, file):
    result = shown(capsys, "triage", "--findings", file({"findings": {"chest_pain": True}}))
    assert result.keys() >= RESULT
    assert (result["urgency"], result["level"], result["instruction"]) == ("emergency_now", 5, "off_until_we_speak")
    assert result["fired"][0]["sources"] == ["nhs_dvt"]
    assert "next" not in result


def test_nothing_asked_is_not_keep_to_the_plan(capsys, file):
    result = shown(capsys, "triage", "--findings", file({}), "--next")
    assert (result["floor_level"], result["level"], result["ceiling_level"]) == (0, 3, 5)
    assert (result["next"]["kind"], result["next"]["id"]) == ("gate", "body")
    assert "skin_open" in result["unanswered"]


def test_with_everything_at_its_best_nothing_is_left_to_ask(capsys, file):
    best = {row["id"]: row["answers"][0] for row in shown(capsys, "findings", "list")}
    facts = {"findings": best, "context": {"without_orthosis": "walks"}}
    result = shown(capsys, "triage", "--findings", file(facts), "--next")
    assert (result["urgency"], result["instruction"]) == ("keep_to_plan", "as_planned")
    assert (result["unanswered"], result["next"]) == ([], None)


def test_the_text_form_says_words_and_no_level(capsys, file):
    assert exit_code(["triage", "--findings", file({"findings": {"blister": True}}), "--next"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Clinician today.\nTake it off sitting or lying.")
    assert "At least Clinician today; it could become Emergency number now." in out


@pytest.mark.parametrize(
    ("facts", "path"),
    [
        ({"findings": {"blistr": True}}, "findings.blistr"),
        ({"precautions": {"tall": True}}, "precautions.tall"),
    ],
)
def test_an_unknown_id_leaves_with_code_3(capsys, file, facts, path):
    error = refused(capsys, 3, "triage", "--findings", file(facts))
    assert error["path"] == path


@pytest.mark.parametrize(
    ("facts", "path"),
    [
        ({"findings": {"pain": 11}}, "findings.pain"),
        ({"findings": {"pain": 2.5}}, "findings.pain"),
        ({"findings": {"pain": True}}, "findings.pain"),
        ({"findings": {"pain": None}}, "findings.pain"),
        ({"findings": {"pain": [4]}}, "findings.pain"),
        ({"findings": {"blister": 1}}, "findings.blister"),
        ({"findings": {"blister": "yes"}}, "findings.blister"),
        ({"findings": {"orthosis_noise_new": "hum"}}, "findings.orthosis_noise_new"),
        ({"findings": {"mark_minutes": -1}}, "findings.mark_minutes"),
        ({"precautions": {"child": "yes"}}, "precautions.child"),
        ({"context": {"without_orthosis": "flies"}}, "context.without_orthosis"),
        ({"context": {"days_since_delivery": -1}}, "context.days_since_delivery"),
        ({"context": {"mark_limit_minutes": 0}}, "context.mark_limit_minutes"),
        ({"context": {"mood": "good"}}, "context.mood"),
        ({"finding": {}}, "finding"),
        ({"findings": []}, "findings"),
        ([], ""),
    ],
)
def test_an_impossible_value_leaves_with_code_4_and_says_where(capsys, file, facts, path):
    error = refused(capsys, 4, "triage", "--findings", file(facts))
    assert error["path"] == path
    assert error["message"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "not json",
        '{"findings": {"pain": NaN}}',
        '{"findings": {"pain": 1, "pain": 2}}',
        '{"findings": {"\\ud800": 1}}',
    ],
)
def test_a_file_that_is_no_clean_json_leaves_with_code_4(capsys, file, text):
    assert refused(capsys, 4, "triage", "--findings", file(text))["message"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["triage"],
        ["triage", "--findings", "/nowhere.json"],
        ["rules", "list", "--format", "xml"],
        ["findings", "list", "--all"],
    ],
)
def test_wrong_usage_leaves_with_code_2(capsys, arguments):
    assert refused(capsys, 2, *arguments)["code"] == "usage"
