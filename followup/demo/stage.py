"""The stage of the demo: the program put together as everywhere, its clock in our hand, and who lives where."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from email.message import EmailMessage
from functools import cached_property
from pathlib import Path
from zoneinfo import ZoneInfo

from followup.app import App, make_app
from followup.demo.data import GATEWAYS, STORY, find_demo_data
from followup.demo.receiver import Received, Receiver
from followup.demo.story import Story, load_story
from followup.services.links import CaregiverLink, open_link
from followup.services.practice import Practice
from followup.services.see_wearers import list_wearers, see_wearer
from followup.settings import Settings, read_settings
from followup.storage.engine import migrate
from followup.storage.people import Contact


@dataclass
class HandClock:
    """A clock that stands where it was put."""

    at: datetime

    def __call__(self) -> datetime:
        """The instant it was put to."""
        return self.at


@dataclass(frozen=True)
class Household:
    """One orthosis in the story with the contacts that answer for it, in the order of the file."""

    orthosis_id: int
    reference: str
    side: str
    zone: ZoneInfo
    contacts: tuple[Contact, ...]

    @property
    def name(self) -> str:
        """What seeds its chances: the same on every run."""
        return f"{self.reference}:{self.side}"


@dataclass
class Stage:
    """Everything one run of the demo needs. `rings` are orthoses whose family is rung each day."""

    app: App
    clock: HandClock
    receiver: Receiver
    story: Story
    data: Path
    folder: Path
    seed: int
    households: dict[int, Household] = field(default_factory=dict)
    rings: set[int] = field(default_factory=set)
    newest: dict[tuple[int, int], tuple[CaregiverLink, Received]] = field(default_factory=dict)
    links: dict[str, CaregiverLink] = field(default_factory=dict)
    read: int = 0
    letters: int = 0

    @property
    def practice(self) -> Practice:
        """The practice at work."""
        return self.app.practice

    @property
    def now(self) -> datetime:
        """The instant the clock stands at."""
        return self.clock.at

    @cached_property
    def zone(self) -> ZoneInfo:
        """The practice's zone."""
        return ZoneInfo(self.story.practice.zone)

    def chance(self, *about: object) -> random.Random:
        """Chances that depend on the seed and on what they are about, never on the order of things."""
        return random.Random(":".join(map(str, (self.seed, *about))))

    def meet(self) -> None:
        """Get to know the households of orthoses taken in since last time."""
        for line in list_wearers(self.practice):
            if line.orthosis_id not in self.households:
                view = see_wearer(self.practice, line.orthosis_id, self.now)
                contacts = tuple(sorted(view.facts.contacts, key=lambda each: each.id))
                self.households[line.orthosis_id] = Household(
                    line.orthosis_id, line.reference, line.side, ZoneInfo(view.zone), contacts
                )

    def household_of(self, reference: str) -> Household:
        """The household of a wearer of the story; the first of two orthoses."""
        mine = (each for each in self.households.values() if each.reference == reference)
        return min(mine, key=lambda each: each.orthosis_id)

    def read_post(self) -> list[tuple[CaregiverLink, Received]]:
        """The messages that arrived since last time and lead to a page, each with what its link opens."""
        new = self.receiver.received[self.read :]
        self.read += len(new)
        opened = [(self._open(token), each) for each in new if (token := each.token())]
        for link, each in opened:
            self.newest[link.contact_id, link.orthosis_id] = (link, each)
        return opened

    def write_reply(self, letter: Received, text: str) -> None:
        """Put a reply to a message into the practice's Maildir, as its mail server would."""
        self.letters += 1
        answered = letter.mail()
        mail = EmailMessage()
        mail["From"] = letter.recipient
        mail["To"] = self.story.practice.mail_sender
        mail["Subject"] = f"Re: {answered['Subject']}"
        mail["In-Reply-To"] = str(answered["Message-ID"])
        mail.set_content(text)
        whole = self.folder / "replies" / "tmp" / f"{self.letters:06}.demo"
        whole.write_bytes(mail.as_bytes())
        whole.rename(self.folder / "replies" / "new" / whole.name)

    def _open(self, token: str) -> CaregiverLink:
        if token not in self.links:
            self.links[token] = open_link(self.practice, token, self.now)
        return self.links[token]


def set_up(folder: Path, seed: int, begins_at: Callable[[Story], datetime], port: int, secret: str) -> Stage:
    """A fresh stage in an empty folder: database, Maildir and receiver made, nobody delivered yet.

    The receiver takes mail already; stop it when done. `begins_at` says where the clock is put first.
    """
    data = find_demo_data()
    story = load_story(data / STORY)
    clock = HandClock(begins_at(story))
    receiver = Receiver(clock, story.network.refuses)
    settings = _settings(story, data, folder, receiver.port, port, secret)
    app = make_app(settings, clock)
    migrate(app.practice.store)
    receiver.start()
    return Stage(app, clock, receiver, story, data, folder, seed)


def _settings(story: Story, data: Path, folder: Path, smtp_port: int, port: int, secret: str) -> Settings:
    words = story.practice
    given = {
        "database_url": f"sqlite:///{folder / 'followup.db'}",
        "secret": secret,
        "practice_name": words.name,
        "practice_phone": words.phone,
        "out_of_hours_phone": words.out_of_hours_phone,
        "emergency_number": words.emergency_number,
        "practice_zone": words.zone,
        "clinic_hours": words.clinic_hours,
        "on_call_address": words.on_call_address,
        "public_address": f"http://127.0.0.1:{port}",
        "mail_sender": words.mail_sender,
        "smtp_port": str(smtp_port),
        "mail_gateways_file": str(data / GATEWAYS),
        "maildir": str(folder / "replies"),
        "tick_seconds": "5",
    }
    return read_settings({f"FOLLOWUP_{name.upper()}": value for name, value in given.items()})


def secret_of(seed: int) -> str:
    """A secret for a run that nobody can reach: the same for each seed, so that what leaves is the same to the byte."""
    return hashlib.sha256(f"demo {seed}".encode()).hexdigest()
