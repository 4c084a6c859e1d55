"""A page of the demo: what arrived on each phone, and a reply written there. Only the demo serves it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route

from followup.demo.receiver import Received
from followup.demo.stage import Stage
from followup.storage.people import Contact
from followup.web.forms import read_form
from followup.web.headers import SafeHeaders
from followup.web.site_parts import SiteParts
from followup.web.voice import Voice

SHOWN = 12
"""So many of the newest messages stand on a phone's page."""
LONGEST_REPLY = 300
_LINK = re.compile(r"(https?://[^\s<>]+)")
_BREAK = re.compile(r"\n\s*\n|\n(?=[1-4] \w)")


@dataclass(frozen=True, slots=True)
class Message:
    """One message as the page shows it: lines of words and links in turn, the links at odd places."""

    when: str
    at: datetime
    subject: str
    paragraphs: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Phone:
    """One address at which messages arrive. `id` is the number of its first message."""

    id: int
    address: str
    whose: str
    kind: str
    count: int
    newest: Message
    newest_at: datetime


@dataclass(frozen=True, slots=True)
class PhonesPage:
    """What the page is made with."""

    stage: Stage
    parts: SiteParts

    async def list_phones(self, request: Request) -> Response:
        """Every phone, the one with the newest message first."""
        voice = await run_in_threadpool(self.parts.staff_voice)
        phones = await run_in_threadpool(self._phones, voice)
        return self.parts.pages.show("demo/phones.html", 200, phones=phones, **self._common(voice))

    async def show_phone(self, request: Request) -> Response:
        """The messages of one phone, newest first."""
        voice = await run_in_threadpool(self.parts.staff_voice)
        phones = await run_in_threadpool(self._phones, voice)
        phone = next((each for each in phones if each.id == request.path_params["id"]), None)
        if phone is None:
            return RedirectResponse("/demo/phones", 303)
        newest = self.stage.receiver.at_address(phone.address)[: -SHOWN - 1 : -1]
        facts = {"phone": phone, "messages": [_as_message(each, voice) for each in newest]}
        return self.parts.pages.show("demo/phone.html", 200, **facts, **self._common(voice))

    async def reply(self, request: Request) -> Response:
        """A reply to the newest message, put where the practice's mail arrives."""
        words = (await read_form(request)).text("words")[:LONGEST_REPLY]
        known = {each.number: each.recipient for each in self.stage.receiver.received}
        address = known.get(request.path_params["id"])
        if words and address is not None:
            self.stage.write_reply(self.stage.receiver.at_address(address)[-1], words)
        return RedirectResponse(f"/demo/phones/{request.path_params['id']}", 303)

    def _common(self, voice: Voice) -> dict[str, object]:
        return {
            "practice": self.parts.practice.facts,
            "voice": voice,
            "staff": None,
            "here": "",
            "zone": str(voice.zone),
        }

    def _phones(self, voice: Voice) -> list[Phone]:
        found: dict[str, list[Received]] = {}
        for each in self.stage.receiver.received:
            found.setdefault(each.recipient, []).append(each)
        phones = [self._phone(address, received, voice) for address, received in found.items()]
        return sorted(phones, key=lambda phone: phone.newest_at, reverse=True)

    def _phone(self, address: str, received: list[Received], voice: Voice) -> Phone:
        newest = received[-1]
        contact = self._contact_at(address)
        on_call = address == self.stage.story.practice.on_call_address
        whose = "The person on call" if on_call else _named(contact) if contact else address
        kind = "text" if contact is not None and contact.channel == "text" else "mail"
        return Phone(received[0].number, address, whose, kind, len(received), _as_message(newest, voice), newest.at)

    def _contact_at(self, address: str) -> Contact | None:
        """The contact an address belongs to; a gateway's address begins with the digits of a number."""
        local = address.partition("@")[0]
        for household in self.stage.households.values():
            for contact in household.contacts:
                if contact.address.lower() == address.lower() or (
                    contact.channel == "text" and re.sub(r"\D", "", contact.address) == local
                ):
                    return contact
        return None


def with_phones(site: Starlette, stage: Stage) -> Starlette:
    """The site with the page of the phones before it."""
    parts: SiteParts = site.state.parts
    page = PhonesPage(stage, parts)
    phones = [
        Route("/demo/phones", page.list_phones),
        Route("/demo/phones/{id:int}", page.show_phone),
        Route("/demo/phones/{id:int}", page.reply, methods=["POST"]),
    ]
    return Starlette(routes=[*phones, Mount("/", site)], middleware=[Middleware(SafeHeaders, secure=parts.secure)])


def _named(contact: Contact) -> str:
    relation = contact.relation.replace("_", " ")
    return contact.name if relation == "self" else f"{contact.name}, {relation}"


def _as_message(received: Received, voice: Voice) -> Message:
    paragraphs = tuple(tuple(_LINK.split(each)) for each in _BREAK.split(received.words()) if each.strip())
    subject = str(received.mail()["Subject"] or "")
    return Message(voice.told(received.at), received.at, subject, paragraphs)
