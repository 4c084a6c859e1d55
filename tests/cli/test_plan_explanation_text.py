"""`plan --explain`: what stands under each day, and the sources in full at the end."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from followup.cli.main import exit_code

PLAN = ["plan", "--protocol", "s01", "--delivered", "2026-03-02", "--zone", "Europe/Madrid", "--days", "2", "--explain"]


def event(type: str, at: str, **data: Any) -> dict[str, Any]:
    return {"id": f"{type}{at}", "type": type, "occurred_at": at, "recorded_at": at, "data": data}


def told(capsys: pytest.CaptureFixture[str], folder: Path, *more: str, events: tuple[dict[str, Any], ...] = ()) -> str:
    file = folder / "events.jsonl"
    file.write_text("\n".join(map(json.dumps, events)))
    assert exit_code([*PLAN, "--events", str(file), *more]) == 0
    return capsys.readouterr().out


LONG_MARK = event("skin_check", "2026-03-02T20:00:00+01:00", plan_on="2026-03-02", result="mark", mark_minutes=45)
OFF = event(
    "triage_result", "2026-03-02T20:01:00+01:00", instruction="off_until_we_speak", urgency="clinician_today",
    reason="mark_outlasts_limit",
)  # fmt: skip
RESUME = event(
    "plan_instruction", "2026-03-02T21:00:00+01:00", action="resume", from_on="2026-03-03", step=1, by="ruiz"
)


def test_the_event_that_decided_and_its_source_are_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """S01: a mark still there after 40 minutes: stop, contact."""
    said = told(capsys, tmp_path, events=(LONG_MARK,))
    assert "mark, mark 45 minutes; it stops the wear: the mark lasted 45 minutes, longer than 40 minutes" in said
    assert "longer than 40 minutes (S01 [A]; S02 [A]; S03 [A]; S06 [B]; S15 [A])" in said
    assert "30 minutes less than the step: the mark lasted 45 minutes" in said
    assert "tomorrow: raised by a clinician only" in said


def test_a_report_is_said_as_it_was_judged(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = told(capsys, tmp_path, events=(OFF,))
    assert "report judged: off until we speak, clinician today, rule mark_outlasts_limit" in said
    assert "S15 [A]; the rule named in the report's result)" in said


def test_a_day_stopped_by_a_mark_is_said_by_the_mark_and_its_report_stands_beside_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    said = told(capsys, tmp_path, events=(LONG_MARK, OFF))
    assert "report judged: off until we speak, clinician today, rule mark_outlasts_limit" in said
    assert "the rule named in the report's result" not in said


def test_a_clinicians_word_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = told(capsys, tmp_path, events=(LONG_MARK, RESUME))
    assert "clinician's instruction: resume at step 1 from 2026-03-03, by ruiz" in said
    assert "because the clinician said to go on (the clinician's word)" in said


def test_every_caution_in_force_is_said_with_its_source(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = told(capsys, tmp_path, "--precaution", "anticoagulant", "--precaution", "cannot_see_or_reach_foot")
    assert "with anticoagulant, old ulcer: each growth is taken in two (memory_thin_skin [C])" in said
    assert "somebody is named who looks at the skin (S14 [A])" in said
    assert "\nS14: Bradford Teaching Hospitals NHS FT, Orthopaedic footwear, undated [A]\n" in said
    assert "caution smaller_steps_thin_skin: Derived: a healed ulcer is scarred skin." in said


def test_what_would_raise_the_next_day_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = told(capsys, tmp_path, "--precaution", "reduced_sensation")
    assert "tomorrow: 45 minutes after clear skin seen and felt by hand from 2026-03-02 10:00 on" in said


def test_json_holds_the_same_lines(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    plan = json.loads(told(capsys, tmp_path, "--format", "json", events=(LONG_MARK,)))
    assert "tomorrow: raised by a clinician only" in plan["days"][1]["explanation"][-1]
    assert any(line.startswith("S15: ") for line in plan["sources"])


def test_without_the_option_nothing_is_added(capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(PLAN[:-1]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 2
