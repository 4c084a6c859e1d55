from __future__ import annotations

import json
import re
import shlex
from collections.abc import Iterator
from typing import get_args

import click
import pytest

from followup.cli.main import exit_code, main
from followup.core.plan_event import EventData, EventType
from followup.core.plan_event_json import event_type_of
from tests.structure.source_tree import ROOT

PAGE = (ROOT / "docs/command-line.md").read_text()
SECTIONS = dict(re.findall(r"^## `(.+?)`\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL))
FILES = dict(re.findall(r"^```(\w+\.\w+)\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL))
EXAMPLES = re.findall(r"^```console\n\$ followup (.+?)\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)
DATA = {event_type_of(each): each for each in get_args(EventData)}


def commands(group: click.Group, path: str) -> Iterator[tuple[str, click.Command]]:
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        if isinstance(command, click.Group):
            yield from commands(command, f"{path} {name}")
        else:
            yield f"{path} {name}", command


COMMANDS = dict(commands(main, "followup"))


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder with the files the page shows, and the process in it."""
    for name, text in FILES.items():
        (tmp_path / name).write_text(text)
    monkeypatch.chdir(tmp_path)


def test_every_command_has_its_section_and_no_section_is_left_over():
    assert SECTIONS.keys() == COMMANDS.keys()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_described(name):
    wanted = [each.opts[0] for each in COMMANDS[name].params if isinstance(each, click.Option)]
    assert [option for option in wanted if f"`{option}" not in SECTIONS[name]] == []


@pytest.mark.parametrize("kind", EventType)
def test_every_field_of_an_event_is_described(kind):
    (row,) = re.findall(rf"^\| `{kind}` \| (.*) \|$", SECTIONS["followup plan"], re.MULTILINE)
    assert [name for name in DATA[kind].__slots__ if f"`{name}`" not in row] == []


@pytest.mark.parametrize(("command", "shown"), EXAMPLES)
def test_an_example_prints_what_the_page_shows(folder, capsys, command, shown):
    assert exit_code(shlex.split(command)) == 0
    assert not shown or capsys.readouterr().out == shown


@pytest.mark.parametrize(
    ("command", "section"),
    [
        ("protocols list", "followup protocols list"),
        ("protocols show s17", "followup protocols show"),
        ("protocols check s91.toml", "followup protocols check"),
        ("findings list", "followup findings list"),
        ("rules list", "followup rules list"),
        ("plan --protocol s01 --delivered 2026-03-02 --zone UTC --days 2", "followup plan"),
        ("triage --findings facts.json --next", "followup triage"),
    ],
)
def test_every_key_of_the_output_is_described(folder, capsys, command, section):
    exit_code([*shlex.split(command), "--format", "json"])
    keys = set(_keys(json.loads(capsys.readouterr().out)))
    assert {key for key in keys if f"`{key}`" not in SECTIONS[section]} == set()


def _keys(value: object) -> Iterator[str]:
    """Field names of the output, down to two lists; what stands below `when` and `next` is data."""
    if isinstance(value, list):
        for each in value:
            yield from _keys(each)
    elif isinstance(value, dict):
        yield from value
        for name, each in value.items():
            if name not in {"when", "next"}:
                yield from _keys(each)
