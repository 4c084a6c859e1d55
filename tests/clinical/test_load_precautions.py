"""The rules of caution: every row with its source, dated, and refused where it is wrong."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from followup.clinical.load_precautions import in_force, load_precautions, precaution_dates, read_rows
from followup.clinical.load_protocols import load_protocols
from followup.clinical.load_sources import load_sources
from followup.core.precaution import Precaution
from followup.errors import InvalidInput
from tests.structure.source_tree import PACKAGE

TEXT = (PACKAGE / "clinical/precautions.toml").read_text()
ROW = """
[[rule]]
id = "spare_looks"
precautions = ["child"]
asks = "look_while_on"
minutes = 30
until_day = 3
source = "gosh_spinal"
says = "A child is checked every 30 to 60 minutes at first."
ours = "Common practice."
effective_on = 2026-01-01
"""


def written(folder: Path, text: str) -> Path:
    file = folder / "precautions.toml"
    file.write_text(text)
    return file


def fault(folder: Path, text: str) -> InvalidInput:
    with pytest.raises(InvalidInput) as refused:
        read_rows(written(folder, text), load_sources())
    return refused.value


def test_every_rule_cites_a_row_and_says_what_is_not_in_it() -> None:
    for rule in load_precautions():
        assert rule.source_key in load_sources()
        assert rule.says
        assert ("Derived" in rule.ours) or ("Common practice" in rule.ours) or not rule.ours


def test_what_is_from_memory_has_grade_c() -> None:
    """Anticoagulants, thin or scarred skin: slower. No document was read."""
    assert [rule.grade for rule in load_precautions() if Precaution.ANTICOAGULANT in rule.precautions] == ["C"]


def test_every_protocol_carries_the_rules() -> None:
    assert {protocol.tightening for protocol in load_protocols().values()} == {load_precautions()}


def test_a_day_before_the_first_rule_sees_the_first_rules() -> None:
    assert load_precautions(date(2020, 1, 1)) == load_precautions(precaution_dates()[0])


def test_a_successor_follows_on_its_day_and_a_withdrawal_ends_it(tmp_path: Path) -> None:
    later = ROW.replace("2026-01-01", "2026-06-01").replace("minutes = 30", "minutes = 20")
    ended = ROW.replace("2026-01-01", "2026-09-01") + "withdrawn = true\n"
    rows = read_rows(written(tmp_path, ended + later + ROW), load_sources())
    on = [date(2026, 5, 31), date(2026, 6, 1), date(2026, 9, 1), None]
    assert [[row.minutes for row in in_force(rows, each)] for each in on] == [[30], [20], [], []]


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('["child"]', '["chidl"]', "precautions.0"),
        ('["child"]', "[]", "precautions"),
        ('"look_while_on"', '"be_careful"', "asks"),
        ('"gosh_spinal"', '"S99"', "source"),
        ("minutes = 30", "minutes = true", "minutes"),
        ("minutes = 30", "minutes = 500", "minutes"),
        ("minutes = 30", "", ""),
        ("until_day = 3", "", ""),
        ("2026-01-01", '"soon"', "effective_on"),
        ("effective_on = 2026-01-01", "", "effective_on"),
        ('ours = "', 'shade = 1\nours = "', "shade"),
        ('says = "A child is checked every 30 to 60 minutes at first."', "", ""),
    ],
)
def test_a_wrong_row_is_refused_with_file_and_key(tmp_path: Path, old: str, new: str, key: str) -> None:
    assert old in ROW
    refused = fault(tmp_path, ROW.replace(old, new, 1))
    assert (refused.code, refused.path) == ("bad_precaution", f"precautions.toml: spare_looks.{key}".rstrip("."))


def test_without_a_source_a_row_must_say_that_it_is_common_practice(tmp_path: Path) -> None:
    bare = ROW.replace('source = "gosh_spinal"\n', "").replace('ours = "Common practice."\n', "")
    assert "common practice" in fault(tmp_path, bare).message


@pytest.mark.parametrize("text", ["", "rule = 3", "[[rule]", "rule = [3]", ROW + "[more]\n"])
def test_what_is_no_list_of_rules_is_refused(tmp_path: Path, text: str) -> None:
    assert fault(tmp_path, text).path == "precautions.toml"


def test_two_forms_of_one_day_are_refused(tmp_path: Path) -> None:
    assert fault(tmp_path, ROW + ROW).path == "precautions.toml: spare_looks"
