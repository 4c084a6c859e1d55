"""Protocol files: every number with its source, dated, and refused where they are wrong."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from followup.clinical.load_protocols import (
    check_protocol,
    find_protocol,
    load_protocols,
    protocol_versions,
    read_forms,
    read_protocol,
)
from followup.clinical.load_sources import load_sources
from followup.core.wear_protocol import WearProtocol
from followup.errors import InvalidInput, UnknownId
from tests.structure.source_tree import PACKAGE

S04 = PACKAGE / "clinical/protocols/s04_2026-01-01.toml"


def days(*spans: tuple[int, int], key: str = "days") -> str:
    """Rows that rise by half an hour, for these days or weeks."""
    rows = ((first, last, 30 * number) for number, (first, last) in enumerate(spans, 1))
    return "".join(f"[[ladder]]\n{key} = [{a}, {b}]\nminutes = [{minutes}, {minutes}]\n" for a, b, minutes in rows)


def turns(on: str, off: str, then: str = "!") -> str:
    """A row of on and off in turn, in a table that ends there unless `then` is empty."""
    return f"{then}[[ladder]]\non = {on}\noff = {off}\n"


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


ONE = "[[ladder]]\nminutes = [30, 30]\n"
UNTIL = "[then]\ndouble = true\nuntil_minutes = {}\nafter = 'full_wear'\n"
GROWS = "[then]\nadd_minutes = [15, 15]\n"


@pytest.mark.parametrize(
    ("ladder", "key", "reason"),
    [
        ("[[ladder]]\ndays = [2, 3]\nminutes = [30, 30]\n" + GROWS, "ladder.1.days", "day 1 is in no row"),
        (days((1, 3), (5, 6)) + GROWS, "ladder.2.days", "day 4 is in no row"),
        (days((1, 3), (2, 6)) + GROWS, "ladder.2.days", "overlap"),
        (days((1, 3), (3, 3)) + GROWS, "ladder.2.days", "end after day 3"),
        (days((1, 3), (2, 6), key="weeks") + GROWS, "ladder.2.weeks", "overlap"),
        ("[[ladder]]\ndays = 2\nweeks = 1\nminutes = [30, 30]\n" + GROWS, "ladder.1", "one of days, weeks"),
        ("[[ladder]]\ndays = [3, 1]\nminutes = [30, 30]\n" + GROWS, "ladder.1.days", "the first and the last"),
        ("[[ladder]]\nminutes = [30, true]\n" + GROWS, "ladder.1.minutes", "[lowest, highest]"),
        ("[[ladder]]\ndays = 3\n" + GROWS, "ladder.1", "how long it is worn"),
        ("[[ladder]]\nminutes = [900, 900]\n" + GROWS, "ladder.1.minutes", "at most 840"),
        ("[[ladder]]\nminutes_each = [60, 60]\n" + GROWS, "ladder.1.periods", "how many periods"),
        ("[[ladder]]\nperiods = 3\nminutes_each = [280, 280]\n" + GROWS, "ladder.1.minutes_each", "at most 840"),
        (turns("[60, 120]", "[10, 60]"), "ladder.1.off", "at least 20 minutes"),
        (turns("[900, 900]", "[30, 60]"), "ladder.1.on", "at most 840"),
        ("[[ladder]]\non = [60, 60]\n" + GROWS, "ladder.1.off", "on and off together"),
        (turns("[60, 120]", "[30, 60]") + turns("[50, 120]", "[30, 60]", then=""), "ladder.2.on", "never fall"),
        (turns("[60, 120]", "[30, 60]", then="") + GROWS, "then", "only stated minutes can grow"),
        (ONE, "then", "how it goes on"),
        (ONE + "[then]\n", "then", "it has no end"),
        (ONE + "[then]\nadd_minutes = [15, 15]\ndouble = true\n", "then", "it has no end"),
        (ONE + "[then]\nadd_minutes_each = [15, 15]\n", "then.add_minutes_each", "periods"),
        (
            ONE + '[then]\ndouble = true\nuntil_minutes = 30\nafter = "full_wear"\n',
            "then.until_minutes",
            "more than the 30",
        ),
        (ONE + "[then]\ndouble = true\nuntil_minutes = 240\n", "then.after", "together"),
        ('[[ladder]]\nminutes = "full_wear"\n' + GROWS, "then", "the last row is full wear"),
        ("[[ladder]]\nremovals = [2, 3]\n" + GROWS, "ladder", "no ramp"),
        ("[[ladder]]\nremovals = [3, 2]\n", "ladder.1.removals", "lower number first"),
        ('[[ladder]]\nwhen = "on_and_off"\nminutes = [30, 30]\n' + GROWS, "ladder.1.when", "for each of"),
        (ONE + GROWS + '[discomfort]\ndo = "last_tolerated"\n', "discomfort.smaller_step_minutes", "last_tolerated"),
        (ONE + GROWS + '[discomfort]\ndo = "sleep"\n', "discomfort.do", "rest_of_day"),
        (ONE.replace("minutes", "minuets") + GROWS, "ladder.1.minuets", "correct its spelling"),
    ],
)
def test_a_schedule_that_cannot_be_followed_is_refused(tmp_path: Path, ladder: str, key: str, reason: str) -> None:
    found = check_protocol(file_of(tmp_path, ladder), load_sources())
    faults = [(fault.key, fault.advice) for fault in found] if isinstance(found, tuple) else []
    assert [each for each, advice in faults if reason in advice][:1] == [key]


def test_every_fault_is_found_at_once(tmp_path: Path) -> None:
    found = check_protocol(file_of(tmp_path, turns("[900, 900]", "[10, 60]", then="")), load_sources())
    assert isinstance(found, tuple)
    assert {fault.key for fault in found} == {"ladder.1.off", "ladder.1.on", "then"}


def test_a_file_that_is_no_toml_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "s99.toml"
    file.write_bytes(b"\xff\xfe")
    with pytest.raises(InvalidInput, match="TOML in UTF-8"):
        read_protocol(file, load_sources())


def test_two_files_with_the_same_id_and_date_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(S04.read_text())
    (tmp_path / "b.toml").write_text(S04.read_text())
    with pytest.raises(InvalidInput, match=r"a\.toml has s04 from 2026-01-01 too") as refused:
        read_forms(tmp_path)
    assert refused.value.path == "b.toml: effective_on"


def test_a_successor_is_a_second_form_of_the_same_protocol(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(S04.read_text())
    (tmp_path / "b.toml").write_text(S04.read_text().replace("2026-01-01", "2027-01-01"))
    assert [form.effective_on.year for form in read_forms(tmp_path)] == [2026, 2027]


@pytest.mark.parametrize("reads", ["days", "weeks"])
def test_a_shared_edge_belongs_to_the_lower_band(tmp_path: Path, reads: str) -> None:
    found = check_protocol(file_of(tmp_path, days((1, 2), (2, 3), key=reads) + GROWS), load_sources())
    assert isinstance(found, WearProtocol)
    assert [row.days for row in found.ladder] == ([2, 1] if reads == "days" else [14, 7])


def file_of(folder: Path, ladder: str) -> Path:
    """The fourth schedule's file with another ladder; `then` in quotes goes before the tables."""
    top = S04.read_text().split("[[ladder]]")[0]
    ends = 'then = "clinician"\n' if ladder.startswith("!") else ""
    file = folder / "s99.toml"
    file.write_text(top + ends + ladder.removeprefix("!"))
    return file
