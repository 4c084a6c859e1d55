from __future__ import annotations

import re
from pathlib import Path

import pytest

from followup.web.page_words import load_page_words
from followup.words.render import template_root

PAGES = template_root() / "pages"
WORDS = load_page_words(PAGES / "words")
SOURCE = "\n".join(
    path.read_text("utf-8")
    for path in [*PAGES.rglob("*.html"), *PAGES.rglob("*.svg"), *(Path("followup") / "web").glob("*.py")]
)


def facts(sentence: str) -> set[str]:
    return set(re.findall(r"{(\w+)}", sentence))


def test_every_sentence_stands_in_both_languages_with_the_same_facts() -> None:
    english, spanish = WORDS["en"].keys, WORDS["es"].keys
    assert english.keys() == spanish.keys()
    assert [key for key in english if facts(english[key]) != facts(spanish[key])] == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_sentence_shouts_or_uses_a_straight_quote(language: str) -> None:
    assert [key for key, said in WORDS[language].keys.items() if "!" in said or "'" in said or '"' in said] == []


def test_every_sentence_is_used() -> None:
    made = {"answer", "leg", "ladder", "today"}  # these have keys put together from an id
    unused = [key for key in WORDS["en"].keys if f'"{key}"' not in SOURCE and key.split(".")[0] not in made]
    assert [
        key for key in unused if key not in {"language"} and not key.startswith(("link_", "plan_ended.", "fault."))
    ] == []


def test_a_sentence_nobody_wrote_is_an_error() -> None:
    with pytest.raises(KeyError):
        WORDS["en"]("today.nonsense")


def test_no_template_has_a_style_attribute_or_a_script() -> None:
    templates = [*PAGES.rglob("*.html"), *PAGES.rglob("*.svg")]
    assert [path.name for path in templates if re.search(r"\sstyle=|<style|<script|\son\w+=", path.read_text())] == []
