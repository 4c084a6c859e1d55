from __future__ import annotations

import unicodedata

import pytest
import smsutil
from hypothesis import given
from hypothesis import strategies as st

from followup.core.text_message import (
    Alphabet,
    EncodePlan,
    encode_plan,
    outside_gsm7,
    split_parts,
    to_gsm_friendly,
)

GSM7, UCS2 = Alphabet.GSM7, Alphabet.UCS2

# The table is from 3GPP TS 23.038 and 23.040: 160/153 septets, 70/67 UTF-16 units.
TABLE = [
    ("A" * 160, GSM7, 160, 1),
    ("A" * 161, GSM7, 161, 2),
    ("A" * 306, GSM7, 306, 2),
    ("A" * 307, GSM7, 307, 3),
    ("A" * 459, GSM7, 459, 3),
    ("A" * 460, GSM7, 460, 4),
    ("€" * 80, GSM7, 160, 1),
    ("€" * 81, GSM7, 162, 2),
    ("ж" * 70, UCS2, 70, 1),
    ("ж" * 71, UCS2, 71, 2),
    ("ж" * 134, UCS2, 134, 2),
    ("ж" * 135, UCS2, 135, 3),
    ("😀" * 35, UCS2, 70, 1),
    ("😀" * 36, UCS2, 72, 2),
    ("Mañana a las 9:00. ¿Duele?", GSM7, 26, 1),
    ("Día 3: 2 h hoy. Revise la piel a los 20 min.", UCS2, 44, 1),
    ("Don’t wait", UCS2, 10, 1),
    ("Day 3 – 2 h", UCS2, 11, 1),
]

letters = st.text(alphabet=st.characters(codec="utf-8"), min_size=1, max_size=400)
mostly_plain = st.text(alphabet=st.sampled_from("abc 9é€[ñ^|~"), min_size=1, max_size=700)


@pytest.mark.parametrize(("text", "alphabet", "units", "parts"), TABLE)
def test_a_text_is_counted_as_the_standards_say(text: str, alphabet: Alphabet, units: int, parts: int) -> None:
    assert encode_plan(text) == EncodePlan(alphabet, units, parts)


def test_an_extension_character_is_never_cut_in_two() -> None:
    assert [len(part) for part in split_parts("€" * 81)] == [76, 5]


def test_an_emoji_is_never_cut_in_two() -> None:
    assert [len(part) for part in split_parts("😀" * 36)] == [33, 3]


@given(letters | mostly_plain)
def test_parts_and_alphabet_equal_an_independent_counter(text: str) -> None:
    other = smsutil.split(text)
    mine = encode_plan(text)
    assert (mine.parts, mine.alphabet is GSM7) == (len(other.parts), other.encoding.startswith("gsm"))


@given(letters | mostly_plain)
def test_joined_parts_are_the_text(text: str) -> None:
    assert "".join(split_parts(text)) == text


def test_typographic_signs_become_plain_ones() -> None:
    assert to_gsm_friendly("“Don’t” – wait…\u00a0now • 2×3") == '"Don\'t" - wait... now - 2x3'


@given(st.characters(categories=["Lu", "Ll", "Lt", "Lo"]))
def test_no_letter_and_no_accent_is_changed(letter: str) -> None:
    assert to_gsm_friendly(letter) == unicodedata.normalize("NFC", letter)


def test_an_accent_written_apart_is_joined_so_that_it_fits() -> None:
    assert outside_gsm7(to_gsm_friendly("man\u0303ana cafe\u0301")) == ()


def test_vowels_that_need_ucs2_are_named_once() -> None:
    assert outside_gsm7("está aquí, mamá") == ("á", "í")
