from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import pytest

from followup.web.page_words import load_page_words
from followup.web.voice import Voice
from followup.words.render import template_root
from tests.builders import local

WORDS = load_page_words(template_root() / "pages" / "words")
NOW = local("2026-05-14 09:12", "Europe/Lisbon")


def voice(language: str = "en", *, padded: bool = False) -> Voice:
    return Voice(WORDS[language], ZoneInfo("Europe/Lisbon"), NOW, padded)


@pytest.mark.parametrize(
    ("instant", "said"),
    [
        ("2026-05-14 11:30", "11:30"),
        ("2026-05-13 17:00", "yesterday 17:00"),
        ("2026-05-15 10:00", "tomorrow 10:00"),
        ("2026-05-18 10:00", "Monday 10:00"),
        ("2026-05-22 10:00", "Friday 22 May 10:00"),
    ],
)
def test_a_time_is_said_with_the_day_it_needs(instant: str, said: str) -> None:
    assert voice().when(local(instant, "Europe/Lisbon")) == said


def test_staff_read_times_with_two_digits_and_families_without() -> None:
    assert voice(padded=True).clock(NOW) == "09:12"
    assert voice().clock(NOW) == "9:12"


def test_a_deadline_is_said_in_spanish() -> None:
    assert voice("es").before(local("2026-05-14 16:00", "Europe/Lisbon")) == "hoy, antes de las 16:00"


def test_amounts_are_short_on_a_figure_and_long_in_a_sentence() -> None:
    assert [voice().short(30), voice().short(90), voice().amount(120)] == ["30 min", "1 h 30", "2 hours"]


def test_days_with_the_same_hours_are_said_together() -> None:
    day, half = ((time(8, 30), time(17, 30)),), ((time(8, 30), time(12, 30)),)
    hours = {0: day, 1: day, 2: day, 3: day, 4: half}
    assert voice().opening(hours) == "Monday to Thursday 8:30 to 17:30; Friday 8:30 to 12:30"


def test_counts_are_words_until_twelve() -> None:
    assert [voice().number(7), voice().number(13), voice().ordinal(3), voice().ordinal(13)] == [
        "seven",
        "13",
        "third",
        "question 13",
    ]
