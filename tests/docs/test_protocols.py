"""docs/protocols.md: its examples are those of the shipped files, and every key a file may have is explained."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from followup.clinical.load_protocols import check_protocol
from followup.clinical.load_sources import load_sources
from followup.clinical.protocol_file import DiscomfortTable, FullWearTable, LadderTable, ProtocolFile, ThenTable
from followup.core.wear_protocol import Discomfort, LadderEnd, LookKind, WearProtocol
from followup.core.wearing_goal import Activity
from tests.docs.protocol_examples import FOLDER, MARK, PAGE, written

TEXT = PAGE.read_text()
EXAMPLES = MARK.findall(TEXT)


def test_the_examples_are_those_of_the_shipped_files() -> None:
    assert written(TEXT) == TEXT, "run `python -m tests.docs.protocol_examples`"


@pytest.mark.parametrize("table", [ProtocolFile, LadderTable, ThenTable, DiscomfortTable, FullWearTable])
def test_every_key_of_a_file_is_explained(table: type[BaseModel]) -> None:
    assert [key for key in table.model_fields if f"`{key}`" not in TEXT and f"[{key}]" not in TEXT] == []


@pytest.mark.parametrize("words", [Discomfort, LadderEnd, LookKind, Activity])
def test_every_word_a_key_may_have_is_explained(words: type[Discomfort]) -> None:
    assert [each.value for each in words if f"`{each.value}`" not in TEXT] == []


def test_every_key_of_the_shipped_files_is_in_an_example() -> None:
    used = {key for file in FOLDER.glob("*.toml") for key in keys(tomllib.loads(file.read_text()))}
    shown = {key for id in EXAMPLES for file in FOLDER.glob(f"{id}_*") for key in keys(tomllib.loads(file.read_text()))}
    assert used == shown


def keys(value: object) -> set[str]:
    if isinstance(value, list):
        return {key for each in value for key in keys(each)}
    if isinstance(value, dict):
        return set(value) | {key for each in value.values() for key in keys(each)}
    return set()


def test_the_file_to_begin_with_can_be_followed(tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(TEXT.split("```toml begin\n")[1].split("```")[0])
    assert isinstance(check_protocol(file, load_sources()), WearProtocol)
