"""The words and figures that every printed sheet is made from, by language, read from data that people can edit."""

from __future__ import annotations

import io
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import segno

from followup.core import sentences
from followup.core.printed_sheet import NumbersToRing
from followup.errors import UnknownId
from followup.words.render import message_environment, template_root

VIEWS = ("front", "back", "inner", "outer", "sole")
QUIET_ZONE = 4
STAR, WHILE_ON = "*", "+"
"""After a time: on the next day; with the orthosis on."""
_TEMPLATE_MARKS = re.compile(r"\{[{%].*?[}%]\}")
_VIEW_BOX = re.compile(r'viewBox="0 0 (\d+) \d+"')


@dataclass(frozen=True, slots=True)
class SheetWords:
    """How one sheet says things; an unknown key or a missing fact raises ``KeyError``."""

    language: str
    phrases: Mapping[str, str]
    zone: ZoneInfo

    def __call__(self, key: str, **facts: object) -> str:
        """The sentence at the dotted `key` with its facts filled in."""
        return self.phrases[key].format(**facts)

    def clock(self, at: datetime, on: date) -> str:
        """A local time, with a star where it lies on a day after `on`: ``9:00``, ``7:30*``."""
        local = at.astimezone(self.zone)
        return sentences.clock_time(local) + STAR * (local.date() > on)

    def number(self, number: str) -> str:
        """A number that a line never breaks, or a blank to fill in by hand."""
        return number.replace(" ", "\u00a0") or self("page.blank")

    def message_part(self, name: str, **facts: object) -> str:
        """What the messages say in the same words, such as the danger signs."""
        environment = message_environment(template_root() / "messages", autoescape=False)
        return environment.get_template(f"{self.language}/parts/{name}.txt").render(facts).strip()

    def care(self, care: str, ring: NumbersToRing) -> str:
        """Other care that an open call asks for, in a sentence; empty for none."""
        return self(f"care.{care}", emergency=self.number(ring.emergency_number)) if care else ""

    def danger(self, ring: NumbersToRing) -> str:
        """When to ring the emergency number or see a doctor, as in the messages."""
        return self.message_part("emergency", emergency=self.number(ring.emergency_number))

    def printed(self, at: datetime) -> str:
        """When the sheet was printed."""
        local = at.astimezone(self.zone)
        day = sentences.full_date(local, self.language)
        return self("page.printed", day=day, clock=sentences.clock_time(local))


def sheet_words(language: str, zone: ZoneInfo) -> SheetWords:
    """The words of `language`; `UnknownId` where there are none."""
    if language not in sentences.LANGUAGES:
        raise UnknownId("unknown_language", f"Choose one of: {', '.join(sentences.LANGUAGES)}.", "language")
    return SheetWords(language, _phrases(language), zone)


def leg_views(side: str, language: str) -> list[dict[str, str]]:
    """The five outlines of a leg with faint borders of its places, each with its caption and its alternative text."""
    words = _flat_table("pages", language)
    return [
        {
            "svg": _leg(view, mirrored=side == "left"),
            "alt": words[f"leg.{view}.{side}"],
            "caption": words[f"leg.caption.{view}"],
        }
        for view in VIEWS
    ]


def square_code(address: str) -> str:
    """The QR code of an address as SVG, with the white border that readers ask for."""
    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        drawn, kind="svg", border=QUIET_ZONE, xmldecl=False, light="#fff", omitsize=True
    )
    return drawn.getvalue().decode()


@cache
def _phrases(language: str) -> Mapping[str, str]:
    return _flat_table("documents", language)


@cache
def _flat_table(folder: str, language: str) -> dict[str, str]:
    file = template_root() / folder / "words" / f"{language}.toml"
    return dict(_flat(tomllib.loads(file.read_text("utf-8"))))


def _flat(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, str):
            yield prefix + key, value
        elif isinstance(value, Mapping):
            yield from _flat(value, f"{prefix}{key}.")


@cache
def _leg(view: str, *, mirrored: bool) -> str:
    """The page's drawing of a right leg for paper: nothing marked, thin borders round the places, turned for a left."""
    drawing = (template_root() / "pages" / "leg" / f"{view}.svg").read_text("utf-8")
    plain = _TEMPLATE_MARKS.sub("", drawing).replace(
        'stroke-opacity="0" stroke-width="1"', 'stroke-opacity="0.45" stroke-width="1" stroke-dasharray="3 4"'
    )
    plain = plain.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    if not mirrored:
        return plain
    width = _VIEW_BOX.search(plain)
    assert width is not None
    turn = f'<g class="figure" transform="translate({width[1]} 0) scale(-1 1)">'
    return plain.replace('<g class="figure">', turn, 1)
