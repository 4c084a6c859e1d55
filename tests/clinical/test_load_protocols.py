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


def test_every_published_schedule_is_there() -> None:
    assert list(load_protocols()) == [f"s{number:02}" for number in range(1, 19)]


@pytest.mark.parametrize(
    ("id", "minutes"),
    [
        ("s01", 40),  # The Rotherham NHS FT: mark still there 40 minutes after removal
        ("s02", 30),  # Mersey Care NHS FT: marks gone within 30 minutes
        ("s03", 30),  # George Eliot Hospital NHS Trust: gone within 30 minutes
        ("s06", 20),  # NHS Fife: 20 to 30 minutes, the stricter end
        ("s08", 15),  # a brace-care page: redness gone within 15 minutes
        ("s15", 15),  # Shirley Ryan AbilityLab: redness over 15 to 20 minutes, the stricter end
        ("s17", 20),  # Gillette Children's: gone in 20 to 30 minutes, the stricter end
        ("s04", 20),  # silent: Royal National Orthopaedic Hospital, AFO and KAFO patient guides
        ("s13", 20),  # silent: the same guides
    ],
)
def test_how_long_a_mark_may_last_is_the_document_s_own(id: str, minutes: int) -> None:
    assert find_protocol(id).mark_limit_minutes == minutes


def test_a_protocol_before_its_first_date_is_its_first_form() -> None:
    assert find_protocol("s01", date(2020, 1, 1)) == find_protocol("s01")


def test_digest_changes_with_any_number(tmp_path: Path) -> None:
    changed = written(tmp_path, "minutes = [30, 30]", "minutes = [29, 30]")
    assert read_protocol(changed, load_sources()).digest != read_protocol(S04, load_sources()).digest


def test_unknown_protocol_lists_the_known_ones() -> None:
    with pytest.raises(UnknownId, match="s01, s02, s03"):
        find_protocol("s99")


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("minutes = [30, 30]", "minutes = [30, 20]", "ladder.1.minutes"),
        ("minutes = [30, 30]", "minutes = [30]", "ladder.1.minutes"),
        ("minutes = [30, 30]", "minutes = [30, 30]\ndays = 0", "ladder.1.days"),
        ("minutes = [30, 30]", "minutes = [30, 30]\n[[ladder]]\nminutes = [20, 20]", "ladder.2.minutes"),
        ("add_minutes = [15, 15]", "add_minutes = [0, 15]", "then.add_minutes"),
        ('source = "S04"', 'source = "S99"', "source"),
        ('source = "S04"', "", "source"),
        ("mark_limit_minutes = 20", "mark_limit_minutes = 0", "mark_limit_minutes"),
        ("effective_on = 2026-01-01", 'effective_on = "soon"', "effective_on"),
        ('looks = ["removal", "after_limit"]', 'looks = ["never"]', "looks.1"),
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
