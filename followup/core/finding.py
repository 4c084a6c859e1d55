"""One answered fact: the closed vocabulary, in which every answer is ordered from best to worst."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from followup.errors import InvalidInput

CANT_SAY = "cant_say"
Answer = bool | int | str

_AS_TEXT: dict[str, Answer] = {
    "yes": True,
    "true": True,
    "no": False,
    "false": False,
    "not_sure": CANT_SAY,
    CANT_SAY: CANT_SAY,
}


class FindingKind(StrEnum):
    """How a finding is answered."""

    BOOLEAN = "boolean"
    NUMBER = "number"
    ORDERED = "ordered"


@dataclass(frozen=True, slots=True)
class FindingWords:
    """One language's words: asked of the family, asked by staff, named in a gate, and a label for each answer."""

    family: str
    staff: str
    short: str
    labels: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Finding:
    """A fact that can be asked.

    `answers` runs best to worst; for a number it holds the best and the worst value allowed, both whole numbers in
    `unit`. `urgent` is true where it can lead to clinician today or more. `asked` is false for what the program counts
    by itself. `choices` are a number's values offered as buttons ("limit" and "over_limit" follow the mark limit).
    """

    id: str
    kind: FindingKind
    answers: tuple[Answer, ...]
    unit: str = ""
    urgent: bool = False
    gate: str | None = None
    asked: bool = True
    choices: tuple[int | str, ...] = ()
    words: Mapping[str, FindingWords] = field(default_factory=dict)

    @property
    def best(self) -> Answer:
        """The answer that gives least cause for concern."""
        return self.answers[0]

    @property
    def worst(self) -> Answer:
        """The answer that gives most cause for concern."""
        return self.answers[-1]

    def rank(self, value: object) -> int:
        """How bad `value` is, from 0 at best; a number counts its units from the best. Raises ``InvalidInput``."""
        if self.kind is FindingKind.NUMBER:
            return self._number_rank(value)
        for position, answer in enumerate(self.answers):
            if type(value) is type(answer) and value == answer:
                return position
        raise self._bad(value)

    def _number_rank(self, value: object) -> int:
        best, worst = self.answers
        if type(value) is int and isinstance(best, int) and isinstance(worst, int) and best <= value <= worst:
            return value - best
        raise self._bad(value)

    def _bad(self, value: object) -> InvalidInput:
        if self.kind is FindingKind.NUMBER:
            wanted = f"a whole number from {self.answers[0]} to {self.answers[1]}"
        else:
            wanted = "one of " + ", ".join(str(each).lower() for each in self.answers)
        return InvalidInput("bad_answer", f"{self.id} cannot be {value!r}; give {wanted}, or {CANT_SAY}.", self.id)

    def read(self, text: object) -> Answer:
        """The answer meant by a form's text or a typed value; raises ``InvalidInput`` saying what to choose."""
        value = _AS_TEXT.get(text, text) if isinstance(text, str) else text
        if value == CANT_SAY:
            return CANT_SAY
        if self.kind is FindingKind.NUMBER and isinstance(value, str) and value.isascii() and value.isdigit():
            value = int(value)
        rank = self.rank(value)
        return self.answers[rank] if self.kind is not FindingKind.NUMBER else int(str(value))
