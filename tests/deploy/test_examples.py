"""The examples in deploy/ name settings and commands that exist."""

from __future__ import annotations

import re

import pytest

from followup.cli.main import COMMANDS
from followup.settings import PREFIX, Settings, read_settings
from tests.structure.source_tree import ROOT

UNITS = sorted((ROOT / "deploy/units").glob("*.service"))
ENVIRONMENT = (ROOT / "deploy/units/followup.env").read_text()


def pairs(text: str) -> dict[str, str]:
    return dict(line.split("=", 1) for line in text.splitlines() if line and not line.startswith("#"))


def test_the_example_settings_exist():
    names = {name.removeprefix(PREFIX).removesuffix("_FILE").lower() for name in pairs(ENVIRONMENT)}
    assert names <= Settings.model_fields.keys()


def test_the_example_settings_start_the_program(tmp_path):
    (tmp_path / "secret").write_text("x" * 32)
    given = pairs(ENVIRONMENT) | {"FOLLOWUP_SECRET_FILE": str(tmp_path / "secret")}
    assert read_settings(given).practice_zone == "Europe/Lisbon"


@pytest.mark.parametrize("unit", UNITS, ids=lambda path: path.stem)
def test_a_unit_starts_a_command_that_exists(unit):
    (command,) = re.findall(r"^ExecStart=\S+/followup (\S+)", unit.read_text(), re.MULTILINE)
    assert command in COMMANDS
