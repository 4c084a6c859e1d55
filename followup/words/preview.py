"""Every message with an invented example, its length and how easy it reads: for people who change the words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from followup.core.sentences import LANGUAGES
from followup.core.text_message import EncodePlan, encode_plan
from followup.words.readability import Reading, read_text
from followup.words.render import KINDS, Rendered, render

PURPOSES: Mapping[str, str] = {
    "test": "before anything else, to see that a message arrives; answered at the delivery appointment",
    "delivery_day": "on the day of delivery: today's times, how to look, when to stop, what will come",
    "times": "in the morning: the times of the day",
    "check_prompt": "after the orthosis came off and the mark had its time to go: look now",
    "question": "in the evening: one question for the day",
    "same_time": "instead of the times, when the day repeats the time of the day before",
    "shorter_time": "instead of the times, when the day is shorter than the day before",
    "off_until_we_speak": "as soon as the plan stops: off, who rings, by when",
    "resume": "when a clinician lets the plan start again",
    "rests": "when they go away: the plan rests, and how it goes on",
    "waits": "after a change of the orthosis, or when they are back: what happens until a clinician says how to go on",
    "hours_changed": "when the hours of the day, the zone or the protocol changed: the new times",
    "plan_ended": "once, when a plan ends; never after a death",
    "help": "the answer to HELP",
    "stopped": "the one confirmation after STOP",
    "on_call": "to the practice's own person on call, when a callback cannot wait for the opening hours",
}
CASES: Mapping[str, Mapping[str, bool]] = {
    "usual": {},
    "cannot_stand": {"cannot_stand": True},
    "leave_on": {"leave_on": True},
    "protective": {"protective": True},
}

_EXAMPLE: Mapping[str, Any] = {
    "day": 5,
    "total": "2 h",
    "total_minutes": 120,
    "periods": [{"on": "9:00", "off": "10:00"}, {"on": "15:00", "off": "16:00"}],
    "checks": ["10:20", "16:20"],
    "limit": 20,
    "link": "https://q.example.org/c/Ab12Cd34Ef56Gh78",
    "phone": "01632 960114",
    "emergency": "112",
    "practice": "Quillmere Rooms",
    "by": "16:00",
    "cannot_stand": False,
    "leave_on": False,
    "tomorrow_total": "3 h",
    "urgency": "clinician_today",
}
# The longest values a short text must hold: E.164 numbers of 13 digits, a link of 41 characters, times of 5.
_LONGEST: Mapping[str, Any] = {
    "day": 120,
    "total": "10 h 30",
    "total_minutes": 630,
    "periods": [{"on": "10:00", "off": "15:15"}, {"on": "16:15", "off": "21:30"}],
    "checks": ["15:45", "22:00"],
    "limit": 40,
    "phone": "+44 1632 9601145",
    "tomorrow": True,
    "tomorrow_total": "10 h 30",
}
_LONGEST_NAMES = {
    "en": {"practice": "Quillmere House Practice", "by": "Wednesday 10:00"},
    "es": {"practice": "Clínica Quillmere Málaga", "by": "sábado 10:00"},
}


@dataclass(frozen=True, slots=True)
class Preview:
    """One message in one language for one case, filled with the example."""

    kind: str
    language: str
    case: str
    rendered: Rendered
    short: EncodePlan
    reading: Reading


def example(case: str = "usual") -> dict[str, Any]:
    """An invented payload with every key; `case` is one of `CASES`."""
    return {**_EXAMPLE, **CASES[case]}


def longest_example(language: str, case: str = "usual") -> dict[str, Any]:
    """As `example`, with the longest value of each key that a short text is made for."""
    return {**_EXAMPLE, **_LONGEST, **_LONGEST_NAMES[language], **CASES[case]}


def previews(
    kinds: Iterable[str] = KINDS, languages: Iterable[str] = LANGUAGES, cases: Iterable[str] = ("usual",)
) -> Iterator[Preview]:
    """Each message asked for, in order of kind, language and case."""
    wanted_languages, wanted_cases = tuple(languages), tuple(cases)
    for kind in kinds:
        for language in wanted_languages:
            for case in wanted_cases:
                message = render(kind, language, example(case))
                reading = read_text(f"{message.subject}.\n{message.text}", language)
                yield Preview(kind, language, case, message, encode_plan(message.short), reading)


def reading_words(reading: Reading) -> str:
    """``grade 4.2`` or ``INFLESZ 78.1``, with a word of doubt for a text too short to score."""
    said = f"grade {reading.score}" if reading.language == "en" else f"INFLESZ {reading.score}"
    return said if reading.steady else f"{said} (short text, a rough score)"


def short_words(plan: EncodePlan) -> str:
    """``151 units of gsm7 in 1 part``."""
    return f"{plan.units} units of {plan.alphabet} in {plan.parts} part{'s' if plan.parts != 1 else ''}"


def as_markdown(shown: Iterable[Preview]) -> str:
    """The generated part of the guide to the words."""
    return "\n".join(line for each in shown for line in _markdown_lines(each))


def as_plain(shown: Iterable[Preview]) -> str:
    """The previews for a terminal."""
    return "\n".join(line for each in shown for line in _plain_lines(each))


def as_json(each: Preview) -> dict[str, Any]:
    """One preview as plain data."""
    return {
        "kind": each.kind,
        "language": each.language,
        "case": each.case,
        "subject": each.rendered.subject,
        "text": each.rendered.text,
        "short": each.rendered.short,
        "short_no_reply": each.rendered.short_no_reply,
        "alphabet": str(each.short.alphabet),
        "units": each.short.units,
        "parts": each.short.parts,
        "words": each.reading.words,
        "score": each.reading.score,
        "easy": each.reading.easy,
    }


def _markdown_lines(each: Preview) -> Iterator[str]:
    if each.language == LANGUAGES[0]:
        yield f"### {each.kind}\n\nSent {PURPOSES[each.kind]}.\n"
    yield f"**{each.language}** · {each.reading.words} words, {reading_words(each.reading)} · "
    yield f"short text {short_words(each.short)}\n"
    yield f"> **{each.rendered.subject}**\n>"
    yield from (f"> {line}".rstrip() for line in each.rendered.text.rstrip().splitlines())
    yield f"\nShort: `{each.rendered.short}`\n"
    if each.rendered.short_no_reply != each.rendered.short:
        yield f"Short, where no reply can come back: `{each.rendered.short_no_reply}`\n"


def _plain_lines(each: Preview) -> Iterator[str]:
    yield f"{each.kind} · {each.language} · {each.case}"
    yield f"{each.reading.words} words, {reading_words(each.reading)}; short text {short_words(each.short)}"
    yield f"\nSubject: {each.rendered.subject}\n\n{each.rendered.text}\nShort: {each.rendered.short}"
    yield f"No reply: {each.rendered.short_no_reply}\n\n"
