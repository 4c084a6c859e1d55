"""What a text reply says. Anything that could hide a report is left for a person to read."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum

_STOP = {
    "en": frozenset({"stop", "stopall", "unsubscribe", "cancel", "end", "quit"}),
    "es": frozenset({"stop", "alto", "parar", "baja", "cancelar"}),
}
_START = {"en": frozenset({"start", "unstop"}), "es": frozenset({"start", "iniciar", "alta", "empezar"})}
_HELP = {"en": frozenset({"help", "info"}), "es": frozenset({"help", "ayuda", "info"})}
_NUMBERS = {"1": 1, "2": 2, "3": 3, "4": 4}
_NUMBERS |= {"one": 1, "two": 2, "three": 3, "four": 4, "uno": 1, "dos": 2, "tres": 3, "cuatro": 4}
_FINE = frozenset({"fine", "ok", "okay", "good", "thanks", "thank", "you", "all", "bien", "todo", "gracias", "is"})
_SIMPLY_FINE = frozenset({"fine", "bien"})
_HURT = frozenset(
    {
        *("hurt", "hurts", "hurting", "pain", "painful", "sore", "sores", "blister", "blisters", "bleed", "bleeding"),
        *("blood", "broken", "open", "burns", "numb", "fell", "fall"),
        *("duele", "duelen", "dolor", "sangre", "sangra", "ampolla", "ampollas", "llaga", "herida", "arde"),
        *("roto", "rota", "dormido", "caido", "cayo"),
    }
)


class ReplyKind(StrEnum):
    """What the practice has to do with a reply."""

    ANSWER = "answer"
    STOP = "stop"
    START = "start"
    HELP = "help"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Reply:
    """What was meant, and what else was said.

    `number` is 1 to 4 for an answer. `hurts` is true where the words report pain, a sore or a fall, whatever the kind:
    it is then a report too. `says_more` is true where words are left that only a person can judge.
    """

    kind: ReplyKind
    number: int | None = None
    hurts: bool = False
    says_more: bool = False


def read_reply(text: str, language: str) -> Reply:
    """The reply meant by `text`; words of the contact's language and English are both known.

    A keyword counts only as the first word. A 1 with anything but a few kind words beside it is not read as fine.
    """
    words = re.findall(r"[a-z0-9]+", _plain(text))
    hurts = not _HURT.isdisjoint(words)
    if not words:
        return Reply(ReplyKind.UNREADABLE)
    more = len(words) > 1
    for kind, keywords in ((ReplyKind.STOP, _STOP), (ReplyKind.START, _START), (ReplyKind.HELP, _HELP)):
        if words[0] in keywords["en"] | keywords.get(language, frozenset()):
            return Reply(kind, hurts=hurts, says_more=more)
    return _read_number(words, hurts)


def _read_number(words: list[str], hurts: bool) -> Reply:
    if _SIMPLY_FINE.intersection(words) and _FINE.issuperset(words):
        return Reply(ReplyKind.ANSWER, 1)
    numbers = {_NUMBERS[each] for each in words if each in _NUMBERS}
    others = [each for each in words if each not in _NUMBERS]
    if words[0] not in _NUMBERS or len(numbers) != 1 or any(each.isdigit() for each in others):
        return Reply(ReplyKind.UNREADABLE, hurts=hurts, says_more=True)
    number = numbers.pop()
    if number == 1 and not _FINE.issuperset(others):
        return Reply(ReplyKind.UNREADABLE, hurts=hurts, says_more=True)
    return Reply(ReplyKind.ANSWER, number, hurts, says_more=bool(set(others) - _FINE))


def _plain(text: str) -> str:
    """Lower case without accents."""
    return "".join(each for each in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(each))
