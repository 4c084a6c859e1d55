"""The words of the caregiver's pages by language, read from data that people who write them can edit."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

Table = Mapping[str, object]


class PageWords:
    """Every sentence of one language by its dotted key; an unknown key or a missing fact raises ``KeyError``."""

    def __init__(self, table: Table) -> None:
        self._phrases = dict(_flat(table))
        self._lists = dict(_lists(table))
        self.language = self._phrases["language"]

    def __call__(self, key: str, **facts: object) -> str:
        """The sentence at `key` with its facts filled in."""
        return self._phrases[key].format(**facts)

    def among(self, key: str, index: int) -> str:
        """One entry of a list of words, such as an ordinal; `IndexError` past its end."""
        return self._lists[key][index]

    def count(self, key: str) -> int:
        """How many entries a list of words has."""
        return len(self._lists[key])

    @property
    def keys(self) -> Mapping[str, str]:
        """Every key with its sentence, facts not filled in."""
        return self._phrases


def _flat(table: Table, prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, str):
            yield prefix + key, value
        elif isinstance(value, Mapping):
            yield from _flat(value, f"{prefix}{key}.")


def _lists(table: Table, prefix: str = "") -> Iterator[tuple[str, Sequence[str]]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _lists(value, f"{prefix}{key}.")
        elif isinstance(value, Sequence) and not isinstance(value, str):
            yield prefix + key, tuple(value)


def load_page_words(folder: Path) -> dict[str, PageWords]:
    """One `PageWords` for each ``<language>.toml`` in `folder`."""
    return {path.stem: PageWords(tomllib.loads(path.read_text("utf-8"))) for path in sorted(folder.glob("*.toml"))}
