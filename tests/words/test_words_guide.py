from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from followup.cli.message_commands import messages
from followup.core.sentences import LANGUAGES
from followup.words.preview import as_markdown, previews
from followup.words.render import KINDS, payload_keys

GUIDE = Path(__file__).parents[2] / "docs" / "words.md"
BEGIN, END = "<!-- generated: followup messages preview --format markdown -->\n", "<!-- end of generated -->"


def preview(*arguments: str) -> str:
    result = CliRunner().invoke(messages, ["preview", *arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_the_guide_shows_every_message_as_it_is_now() -> None:
    shown = GUIDE.read_text(encoding="utf-8").partition(BEGIN)[2].partition(END)[0]
    assert shown.strip() == as_markdown(previews()).strip()


def test_the_guide_names_every_value_a_message_needs() -> None:
    by_hand = GUIDE.read_text(encoding="utf-8").partition(BEGIN)[0]
    needed = frozenset().union(*(payload_keys(kind) for kind in KINDS))
    assert [key for key in sorted(needed) if f"`{key}`" not in by_hand] == []


def test_the_command_shows_every_message_in_every_language_as_json() -> None:
    shown = json.loads(preview("--format", "json"))
    assert [(each["kind"], each["language"]) for each in shown] == [(k, each) for k in KINDS for each in LANGUAGES]
    assert all(each["parts"] <= 2 and each["easy"] for each in shown)


def test_the_command_shows_one_message_for_someone_who_cannot_stand() -> None:
    shown = preview("--kind", "off_until_we_speak", "--language", "en", "--case", "cannot_stand")
    assert shown.startswith("off_until_we_speak · en · cannot_stand")
    assert "Take it off sitting or lying" in shown


def test_the_command_prints_the_generated_part_of_the_guide() -> None:
    assert preview("--format", "markdown").strip() == as_markdown(previews()).strip()
