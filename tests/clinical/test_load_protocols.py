"""Protocol files: every number with its source, dated, and refused where they are wrong."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from followup.clinical.load_protocols import find_protocol, load_protocols, protocol_versions, read_protocol
from followup.clinical.load_sources import load_sources
from followup.errors import InvalidInput, UnknownId
from tests.structure.source_tree import PACKAGE

S04 = PACKAGE / "clinical/protocols/s04_2026-01-01.toml"


def test_every_protocol_and_mark_limit_cites_a_row() -> None:
    for protocol in protocol_versions():
        assert {protocol.source_key, protocol.mark_limit_source} <= set(load_sources())
        assert protocol.source.startswith(load_sources()[protocol.source_key]["publisher"])


def test_the_three_first_protocols_are_there() -> None:
    assert [(each.id, each.mark_limit_minutes) for each in load_protocols().values()] == [
        ("s01", 40),
        ("s04", 20),
        ("s13", 20),
    ]


def test_a_protocol_before_its_first_date_is_its_first_form() -> None:
    assert find_protocol("s01", date(2020, 1, 1)) == find_protocol("s01")


def test_digest_changes_with_any_number(tmp_path: Path) -> None:
    changed = written(tmp_path, "minutes = [30, 30]", "minutes = [29, 30]")
    assert read_protocol(changed, load_sources()).digest != read_protocol(S04, load_sources()).digest


def test_unknown_protocol_lists_the_known_ones() -> None:
    with pytest.raises(UnknownId, match="s01, s04, s13"):
        find_protocol("s99")


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("minutes = [30, 30]", "minutes = [30, 20]", "ladder"),
        ("minutes = [30, 30]", "minutes = [30]", "ladder"),
        ("minutes = [30, 30]", "minutes = [30, 30]\ndays = 0", "ladder"),
        ("minutes = [30, 30]", "minutes = [30, 30]\n[[ladder]]\nminutes = [20, 20]", "ladder"),
        ("add_minutes = [15, 15]", "add_minutes = [0, 15]", "then"),
        ('source = "S04"', 'source = "S99"', "source"),
        ('source = "S04"', "", "source"),
        ("mark_limit_minutes = 20", "mark_limit_minutes = 0", "mark_limit_minutes"),
        ("effective_on = 2026-01-01", 'effective_on = "soon"', "effective_on"),
        ('looks = ["removal", "after_limit"]', 'looks = ["never"]', "looks"),
        ('whom = "', 'shade = 1\nwhom = "', "shade"),
    ],
)
def test_a_wrong_file_is_refused_with_its_field(tmp_path: Path, old: str, new: str, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        read_protocol(written(tmp_path, old, new), load_sources())
    assert refused.value.path == f"s04.toml: {field}"


def written(folder: Path, old: str, new: str) -> Any:
    text = S04.read_text()
    assert old in text
    file = folder / "s04.toml"
    file.write_text(text.replace(old, new, 1))
    return file
