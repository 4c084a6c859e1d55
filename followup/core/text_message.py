r"""How a text message is coded and cut into parts: 3GPP TS 23.038 (alphabets) and TS 23.040 (concatenation).

140 octets make one message: 160 characters of the 7-bit alphabet or 70 UTF-16 units. A longer text gives 6 octets of
each part to the concatenation header, which leaves 153 or 67. An extension character (``€ [ ] { } ^ ~ | \``) costs two
7-bit characters, an emoji two UTF-16 units; neither is ever cut in two.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from enum import StrEnum

GSM7_BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
GSM7_EXTENSION = frozenset("\f^{}\\[~]|€")

# Only signs that mean the same when typed on a plain keyboard. Letters are never changed: "á" stays "á".
_TYPOGRAPHIC = str.maketrans(
    {
        **dict.fromkeys("‘’‚‛′ʼ‹›", "'"),
        **dict.fromkeys("“”„‟″«»", '"'),
        **dict.fromkeys("‐‑‒–—―−⁃", "-"),
        **dict.fromkeys("\t\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f\u205f\u3000", " "),
        **dict.fromkeys("\u00ad\u200b\u2060\ufeff", ""),
        "…": "...",
        "•": "-",
        "·": "-",
        "×": "x",
        "⁄": "/",
    }
)


class Alphabet(StrEnum):
    """The coding a text needs; one character outside the 7-bit alphabet moves the whole text to UCS-2."""

    GSM7 = "gsm7"
    UCS2 = "ucs2"


_ONE_PART = {Alphabet.GSM7: 160, Alphabet.UCS2: 70}
_EACH_PART = {Alphabet.GSM7: 153, Alphabet.UCS2: 67}


@dataclass(frozen=True, slots=True)
class EncodePlan:
    """`units` are 7-bit characters or UTF-16 units; `parts` is what the network sends and charges."""

    alphabet: Alphabet
    units: int
    parts: int


def encode_plan(text: str) -> EncodePlan:
    """The alphabet, length and number of parts of `text` as it stands; an empty text is one part."""
    alphabet = alphabet_of(text)
    return EncodePlan(alphabet, sum(_cost(each, alphabet) for each in text), len(split_parts(text)))


def alphabet_of(text: str) -> Alphabet:
    """The smallest alphabet that holds every character of `text`."""
    return Alphabet.UCS2 if outside_gsm7(text) else Alphabet.GSM7


def outside_gsm7(text: str) -> tuple[str, ...]:
    """The characters, each once and in order, that force `text` into UCS-2."""
    return tuple(dict.fromkeys(each for each in text if each not in GSM7_BASIC and each not in GSM7_EXTENSION))


def split_parts(text: str) -> tuple[str, ...]:
    """`text` cut as a phone network cuts it; joined again the parts are the text."""
    alphabet = alphabet_of(text)
    if sum(_cost(each, alphabet) for each in text) <= _ONE_PART[alphabet]:
        return (text,)
    parts: list[str] = []
    start = used = 0
    for at, each in enumerate(text):
        cost = _cost(each, alphabet)
        if used + cost > _EACH_PART[alphabet]:
            parts.append(text[start:at])
            start, used = at, 0
        used += cost
    return (*parts, text[start:])


def to_gsm_friendly(text: str) -> str:
    """`text` with quotes, dashes, spaces and dots a phone can send in 7 bits; no letter and no accent is changed."""
    return unicodedata.normalize("NFC", text).translate(_TYPOGRAPHIC)


def _cost(character: str, alphabet: Alphabet) -> int:
    if alphabet is Alphabet.UCS2:
        return 2 if ord(character) > 0xFFFF else 1
    return 2 if character in GSM7_EXTENSION else 1
