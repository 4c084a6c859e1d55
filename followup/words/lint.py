"""What no message may say: a name, a diagnosis, a word for the orthosis, or an answer somebody gave."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import meta

from followup.core.text_message import outside_gsm7
from followup.words.render import message_environment

# Stems match from the start of a word; a stem that ends in a full stop is a whole word.
_BANNED = {
    "en": (
        "ortho, afo., afos., kafo., brace, bracing., splint, caliper, prosthe, footplate, insole, carbon., device, "
        "patient, diabet, stroke., palsy, sclerosis, dystroph, neuropath, ulcer, charcot, arthritis, polio, paralys, "
        "hemipleg, parapleg, fractur, spinal, thrombos, dvt., cellulitis, sepsis, oedema, edema, spastic, foot drop, "
        "drop foot, amputat, dementia, you said, you told, you answered, you reported, you wrote, dear"
    ),
    "es": (
        "órtesis., ortesis., ortés, ortop, ortót, afo., férula, ferula, prótesis., protésic, plantilla, carbono., "
        "aparato, dispositivo, paciente, diabet, diabét, ictus., derrame., parálisis., esclerosis, distrofia, "
        "neuropat, úlcera, ulcera, charcot, artritis, polio, hemipl, parapl, fractura, espinal, trombos, celulitis, "
        "sepsis, edema, espást, pie caído, pie equino, amputa, demencia, usted dijo, nos dijo, nos contó, "
        "usted respondió, nos respondió, estimado, estimada"
    ),
}

# The only values a template may use: none of them holds a name, a diagnosis, a place on the leg or an answer.
ALLOWED_VALUES = frozenset(
    {
        *("day", "total", "total_minutes", "periods", "checks", "limit", "tomorrow", "tomorrow_total", "by"),
        *(
            "link",
            "phone",
            "emergency",
            "practice",
            "cannot_stand",
            "leave_on",
            "language",
            "subject",
            "one_way",
            "care",
            "late",
            "side",
            "protective",
        ),
        "urgency",
    }
)

_UNSEEN = re.compile(r"<style>.*?</style>|<meta [^>]*>", re.DOTALL)


@dataclass(frozen=True, slots=True)
class LintFault:
    """One thing to mend in one template."""

    path: str
    found: str
    say: str


def find_banned(text: str, language: str) -> tuple[str, ...]:
    """The banned words in `text`, as they stand there, each once."""
    return tuple(dict.fromkeys(match.group().lower() for match in _pattern(language).finditer(text)))


def lint_templates(folder: Path) -> tuple[LintFault, ...]:
    """Every fault in the message templates under `folder` (``<language>/…`` and what they share); empty if none."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return tuple(fault for path in files for fault in _lint(path, folder))


def _lint(path: Path, folder: Path) -> Iterator[LintFault]:
    name, source = path.relative_to(folder).as_posix(), _UNSEEN.sub("", path.read_text(encoding="utf-8"))
    languages = [each for each in _BANNED if name.startswith(f"{each}/")] or list(_BANNED)
    for word in (word for language in languages for word in find_banned(source, language)):
        yield LintFault(name, word, "Say it without this word: the message may be read by anyone.")
    values = meta.find_undeclared_variables(message_environment(folder, autoescape=True).parse(source))
    for value in sorted(values - ALLOWED_VALUES):
        yield LintFault(name, value, "Leave this value out: it could hold a name or an answer.")
    if "sms" in path.name:
        for character in outside_gsm7(source):
            yield LintFault(name, character, "Choose a word without this character: it halves the room in a text.")


@cache
def _pattern(language: str) -> re.Pattern[str]:
    stems = (re.escape(each.strip()) for each in _BANNED[language].split(","))
    words = (stem.removesuffix(r"\.") + r"\b" if stem.endswith(r"\.") else stem + r"\w*" for stem in stems)
    return re.compile(rf"\b(?:{'|'.join(words)})", re.IGNORECASE)
