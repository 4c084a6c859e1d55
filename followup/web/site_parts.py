"""What every page is made with: the practice, the clock, the templates and the words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import HTMLResponse

from followup.core.finding import Answer
from followup.services.practice import Practice
from followup.web.page_words import PageWords
from followup.web.pages import Pages
from followup.web.voice import Voice

STAFF_LANGUAGE = "en"


@dataclass(frozen=True, slots=True)
class SiteParts:
    """The parts of one site. `looks` is what each of the page's first buttons states, by finding.

    `origin` is the scheme and host that staff forms must come from.
    """

    practice: Practice
    clock: Callable[[], datetime]
    pages: Pages
    words: Mapping[str, PageWords]
    looks: Mapping[str, Mapping[str, Answer]]
    origin: str

    @property
    def secure(self) -> bool:
        """True where the pages are reached over https."""
        return self.origin.startswith("https://")

    def voice(self, language: str, zone: str) -> Voice:
        """The voice for one family; English where there are no words in `language`."""
        return Voice(self.words.get(language, self.words[STAFF_LANGUAGE]), ZoneInfo(zone), self.clock())

    def staff_voice(self) -> Voice:
        """The voice for the practice's own people."""
        return Voice(self.words[STAFF_LANGUAGE], self.practice.facts.hours.zone, self.clock(), padded=True)

    def numbers(self, voice: Voice) -> tuple[tuple[str, str], ...]:
        """Whom to ring, with what each number is; numbers the practice has not given are left out."""
        facts = self.practice.facts
        hours = voice.opening(facts.hours.spans)
        found = (
            (voice.say("answer.number_practice", hours=hours) + self._whose_clock(voice), facts.phone),
            (voice.say("answer.number_out"), facts.out_of_hours_phone),
            (voice.say("answer.number_emergency"), facts.emergency_number),
        )
        return tuple((label, number) for label, number in found if number)

    def _whose_clock(self, voice: Voice) -> str:
        """That opening hours are the practice's own time, where the reader's clock shows another."""
        ours = voice.now.astimezone(self.practice.facts.hours.zone)
        if ours.utcoffset() == voice.local(voice.now).utcoffset():
            return ""
        return voice.say("answer.our_time", clock=voice.wall(ours.time()))

    def stranger_voice(self, request: Request) -> Voice:
        """The voice for somebody whose link tells nothing: the browser's first language, the practice's zone."""
        wanted = request.headers.get("accept-language", "")[:2].lower()
        return self.voice(wanted, str(self.practice.facts.hours.zone))

    def sorry(self, kind: str, voice: Voice, status: int) -> HTMLResponse:
        """A page for families that says what went wrong and whom to ring."""
        facts = {"kind": kind, "say": voice.say, "practice": self.practice.facts, "numbers": self.numbers(voice)}
        return self.pages.show("home/sorry.html", status, **facts)


def parts_of(request: Request) -> SiteParts:
    """The parts of the site that a request came to."""
    parts: SiteParts = request.app.state.parts
    return parts
