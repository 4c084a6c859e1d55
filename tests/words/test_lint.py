from __future__ import annotations

import shutil
from itertools import product
from pathlib import Path

import pytest

from followup.words.lint import find_banned, lint_templates
from followup.words.preview import CASES, previews
from followup.words.render import template_root


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return Path(shutil.copytree(template_root() / "messages", tmp_path / "messages"))


def append(folder: Path, name: str, text: str) -> list[tuple[str, str]]:
    with (folder / name).open("a", encoding="utf-8") as file:
        file.write(text)
    return [(fault.path, fault.found) for fault in lint_templates(folder)]


def test_no_template_names_a_person_a_diagnosis_the_orthosis_or_an_answer() -> None:
    assert lint_templates(template_root() / "messages") == ()


@pytest.mark.parametrize("case", CASES)
def test_no_message_as_sent_holds_a_banned_word(case: str) -> None:
    for each in previews(cases=[case]):
        whole = f"{each.rendered.subject} {each.rendered.text} {each.rendered.short} {each.rendered.short_no_reply}"
        assert find_banned(whole, each.language) == ()


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("en/times.txt", "brace"),
        ("en/times.html", "orthosis"),
        ("en/parts/stop.txt", "diabetic"),
        ("en/help.sms.txt", "splint"),
        ("es/times.txt", "férula"),
        ("es/question.sms.txt", "ictus"),
        ("es/parts/close.txt", "órtesis"),
        ("base.html", "prótesis"),
    ],
)
def test_a_banned_word_in_any_template_is_found(copy: Path, name: str, word: str) -> None:
    assert (name, word) in append(copy, name, f" {word} ")


@pytest.mark.parametrize(
    ("name", "value"), list(product(["en/times.txt", "es/parts/look.txt"], ["name", "reason", "place"]))
)
def test_a_value_that_could_hold_a_name_or_an_answer_is_found(copy: Path, name: str, value: str) -> None:
    assert append(copy, name, f"{{{{ {value} }}}}") == [(name, value)]


def test_a_character_that_halves_a_text_message_is_found(copy: Path) -> None:
    assert append(copy, "es/times.sms.txt", " Día") == [("es/times.sms.txt", "í")]


@pytest.mark.parametrize("text", ["You said it hurts", "Dear Ann", "your stroke", "a Brace", "the AFO", "new insoles"])
def test_banned_words_are_found_in_any_case_and_form(text: str) -> None:
    assert find_banned(text, "en")


def test_everyday_words_pass() -> None:
    assert find_banned("strokes of luck; not a diagnosis; carbonated; a foot that turns cold", "en") == ()
