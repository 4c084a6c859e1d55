"""How easy a text is to read: one published index for each language.

English: Flesch-Kincaid grade, 0.39 x words/sentences + 11.8 x syllables/words - 15.59 (Kincaid and others 1975).
Spanish: perspicuity of Szigriszt Pazos (1993), 206.835 - 62.3 x syllables/words - words/sentences, read on the INFLESZ
scale (Barrio Cantalejo and others, Anales del Sistema Sanitario de Navarra 2008; 31(2): 135-152), where 65 to 80 is
"fairly easy". Both are unstable under about 100 words.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import pyphen

GRADE_AT_MOST = 6.0
INFLESZ_AT_LEAST = 65.0
STEADY_FROM_WORDS = 100

_LINK = re.compile(r"https?://\S+")
_PHONE = re.compile(r"\+?\d[\d ]{5,}\d")
_WORD = re.compile(r"[^\W_]+(?:['’:.][^\W_]+)*")
_SENTENCE_END = re.compile(r"[.!?]+(?=\s|$)|\n+")
_VOWELS_EN = re.compile(r"[aeiouy]+")
_VOWELS_ES = re.compile(r"[aeiouáéíóúü]+(?:y\b)?|\by\b")
_STRONG_ES = frozenset("aeoáéíóú")


@dataclass(frozen=True, slots=True)
class Reading:
    """A text counted and scored: a US school grade in English, INFLESZ (0 to 100, high is easy) in Spanish."""

    language: str
    words: int
    sentences: int
    syllables: int
    score: float

    @property
    def easy(self) -> bool:
        """Within this project's bound for the language."""
        return self.score <= GRADE_AT_MOST if self.language == "en" else self.score >= INFLESZ_AT_LEAST

    @property
    def steady(self) -> bool:
        """Long enough for the index to mean something."""
        return self.words >= STEADY_FROM_WORDS


def read_text(text: str, language: str) -> Reading:
    """`text` scored. Links and phone numbers are left out; another number is a word of one syllable a figure."""
    plain = _PHONE.sub("", _LINK.sub("", text))
    words = _WORD.findall(plain.lower())
    sentences = sum(1 for each in _SENTENCE_END.split(plain) if _WORD.search(each))
    if not words:
        return Reading(language, 0, 0, 0, 0.0 if language == "en" else 100.0)
    syllables = sum(count_syllables(word, language) for word in words)
    per_sentence, per_word = len(words) / sentences, syllables / len(words)
    score = 0.39 * per_sentence + 11.8 * per_word - 15.59
    if language != "en":
        score = 206.835 - 62.3 * per_word - per_sentence
    return Reading(language, len(words), sentences, syllables, round(score, 1))


def count_syllables(word: str, language: str) -> int:
    """Syllables in one word, at least one; a number has one a figure."""
    if any(each.isdigit() for each in word):
        return sum(each.isdigit() for each in word)
    return _syllables_en(word) if language == "en" else _syllables_es(word)


def _syllables_en(word: str) -> int:
    """The larger of hyphenation points and vowel groups: hyphenation alone misses "any", and flatters a text."""
    bare = re.sub(r"[^a-z]", "", word.lower())
    groups = len(_VOWELS_EN.findall(bare))
    if groups > 1 and re.search(r"[^aeiouyl]e$|[^aeiouytd]ed$|[^aeiouy]l[^aeiouy]*es$|[^aeiouysxzchg]es$", bare):
        groups -= 1
    return max(1, groups, len(_hyphenation().positions(bare)) + 1)


def _syllables_es(word: str) -> int:
    """One for each strong or accented vowel in a run of vowels, and one for a run of weak ones."""
    runs = _VOWELS_ES.findall(word.lower())
    return max(1, sum(max(1, sum(each in _STRONG_ES for each in run)) for run in runs))


@cache
def _hyphenation() -> pyphen.Pyphen:
    return pyphen.Pyphen(lang="en_US", left=1, right=2)
