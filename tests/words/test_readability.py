from __future__ import annotations

import pytest

from followup.words.preview import CASES, previews
from followup.words.readability import count_syllables, read_text

HARD = {
    "en": "Immediate discontinuation is recommended whenever erythematous discolouration persists considerably beyond "
    "the anticipated interval, notwithstanding the otherwise satisfactory accommodation of the equipment. ",
    "es": "Se recomienda la interrupción inmediata de la utilización cuando la coloración eritematosa persista "
    "considerablemente más allá del intervalo anticipado, independientemente de la acomodación satisfactoria. ",
}


@pytest.mark.parametrize("case", CASES)
def test_every_message_is_easy_to_read(case: str) -> None:
    assert [(e.kind, e.language, e.reading.score) for e in previews(cases=[case]) if not e.reading.easy] == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_joined_set_of_messages_is_easy_to_read(language: str) -> None:
    joined = "\n".join(f"{each.rendered.subject}.\n{each.rendered.text}" for each in previews(languages=[language]))
    reading = read_text(joined, language)
    assert reading.steady
    assert reading.easy


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_hard_text_is_not_called_easy(language: str) -> None:
    reading = read_text(HARD[language] * 6, language)
    assert reading.steady
    assert not reading.easy


def test_the_grade_is_the_formula_of_kincaid() -> None:
    # 6 words, 1 sentence, 7 syllables: 0.39 * 6 + 11.8 * 7/6 - 15.59
    assert read_text("Look at the skin at breakfast.", "en").score == round(0.39 * 6 + 11.8 * 7 / 6 - 15.59, 1)


def test_the_spanish_score_is_the_formula_of_szigriszt_pazos() -> None:
    # 5 words, 1 sentence, 6 syllables
    assert read_text("Mire la piel con luz.", "es").score == round(206.835 - 62.3 * 6 / 5 - 5, 1)


def test_links_and_phone_numbers_are_left_out() -> None:
    with_numbers = read_text("Ring us on 01632 960114. See https://q.example.org/c/Ab12 now.", "en")
    assert with_numbers.words == 5


@pytest.mark.parametrize(
    ("word", "language", "count"),
    [
        ("any", "en", 2),
        ("open", "en", 2),
        ("take", "en", 1),
        ("minutes", "en", 2),
        ("diagnosis", "en", 4),
        ("9:00", "en", 3),
        ("día", "es", 2),
        ("hoy", "es", 1),
        ("muy", "es", 1),
        ("quíteselo", "es", 4),
        ("ciudad", "es", 2),
        ("leer", "es", 2),
    ],
)
def test_syllables_are_counted_as_spoken(word: str, language: str, count: int) -> None:
    assert count_syllables(word, language) == count
