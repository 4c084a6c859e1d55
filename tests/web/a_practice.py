"""An invented practice with one wearer, its pages behind a test client, and a clock that tests move by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.testclient import TestClient

from followup.app import App, make_app
from followup.core.delivery import parse_delivery
from followup.core.delivery_check import CheckAnswer, DeliveryCheck, Outcome
from followup.services.check_delivery import record_checks
from followup.services.deliver import take_delivery
from followup.services.links import make_link
from followup.services.see_wearers import see_wearer
from followup.services.sign_in import Role, Session, add_staff
from followup.settings import Settings
from followup.web.site import make_site
from tests.builders import local

ZONE = "Europe/Lisbon"
DELIVERED = local("2026-05-11 08:30", ZONE)
PASSWORD = "a long enough password"
ADDRESS = "http://testserver"

MAJ = {
    "wearer_reference": "A-17",
    "wearer_name": "Aldo Torvenn",
    "walking_aid": "cane",
    "without_orthosis": "with_help",
    "one_handed": "no",
    "shin_bears_pressure": "yes",
    "side": "left",
    "shell": "front",
    "strut": "stiff",
    "strut_position": "outer",
    "material": "carbon",
    "footplate": "full",
    "heel": "open",
    "fastening": "one_hand",
    "precautions_present": "diabetes",
    "precautions_absent": "anticoagulant;spinal_cord_injury_high;reduced_sensation;cannot_report;child",
    "protective": "no",
    "identifier": "K-2041",
    "lot": "L-7",
    "protocol": "s01",
    "full_wear_minutes": "480",
    "window": "07:30-21:30",
    "range_end": "low",
    "zone": ZONE,
    "delivered_on": "2026-05-11",
    "contact1_name": "Maj Torvenn",
    "contact1_relation": "child",
    "contact1_channel": "email",
    "contact1_address": "maj@example.org",
    "contact1_phone": "+44 1632 960157",
    "contact1_language": "en",
    "contact1_zone": ZONE,
    "contact1_may_be_told": "yes",
    "contact1_consent": "yes",
    "contact1_on_duty": "yes",
}


@dataclass
class Clock:
    """A clock that stands still until it is told to go on."""

    at: datetime

    def __call__(self) -> datetime:
        return self.at

    def set(self, text: str) -> None:
        self.at = local(text, ZONE)

    def wait(self, **by: float) -> None:
        self.at += timedelta(**by)


@dataclass
class PracticeAtWork:
    """One practice with its pages. `site` is the application, `client` a browser without scripts."""

    app: App
    clock: Clock
    site: Starlette
    client: TestClient

    @property
    def practice(self) -> Any:
        return self.app.practice

    def deliver(self, **changed: str) -> int:
        """Take a delivery in, MAJ's father's unless a column is changed; its plan waits for the checks."""
        row = {**MAJ, **changed}
        delivery = parse_delivery(row, frozenset(self.practice.protocols))
        return take_delivery(self.practice, delivery, "test", self.clock())[0]

    def check(self, orthosis_id: int, **exceptions: str) -> None:
        """Confirm every delivery check but the named ones, which are recorded as exceptions with that reason.

        The test message was not sent.
        """
        exceptions = {"test_message": "phone only today", **exceptions}
        answers = {
            check: CheckAnswer(check, Outcome.EXCEPTION, exceptions[check])
            if check in exceptions
            else CheckAnswer(check, Outcome.CONFIRMED)
            for check in DeliveryCheck
        }
        record_checks(self.practice, orthosis_id, answers, self.staff().staff_id, self.clock())

    def start(self, **changed: str) -> int:
        """A delivery whose plan has started."""
        orthosis_id = self.deliver(**changed)
        self.check(orthosis_id)
        return orthosis_id

    def link(self, orthosis_id: int, contact: int = 0) -> str:
        """The path of a contact's page."""
        contacts = see_wearer(self.practice, orthosis_id, self.clock()).facts.contacts
        return f"/c/{make_link(self.practice, contacts[contact].id, orthosis_id, self.clock())}"

    def staff(self, user: str = "runa", role: Role = Role.CLINICIAN) -> Session:
        """A member of staff, made on first use."""
        if user not in self._known:
            name = {"runa": "Runa Castellow", "bettany": "Bettany Orrin"}.get(user, user.capitalize())
            self._known[user] = Session(add_staff(self.practice, user, name, role, PASSWORD), name, role, "")
        return self._known[user]

    def sign_in(self, user: str = "runa", role: Role = Role.CLINICIAN) -> None:
        """The client signs in through the page."""
        self.staff(user, role)
        answer = self.client.post("/sign-in", data={"user": user, "password": PASSWORD}, follow_redirects=False)
        assert answer.status_code == 303, answer.text

    def send(self, path: str, **fields: str | list[str]) -> Any:
        """Send a staff form with the token of the page it stands on; not followed."""
        return self.client.post(path, data={**fields, "csrf": self.csrf()}, follow_redirects=False)

    def csrf(self) -> str:
        """The token in the forms of the session."""
        return self.client.get("/callbacks").text.split('name="csrf" value="')[1].split('"')[0]

    def press(self, path: str, **fields: str) -> Any:
        """Send a family's form and follow it."""
        return self.client.post(path, data=fields)

    def __post_init__(self) -> None:
        self._known: dict[str, Session] = {}


def open_practice(database: Path, clock: Clock | None = None, **settings: str) -> PracticeAtWork:
    """A practice on a database with tables and no rows."""
    clock = clock or Clock(DELIVERED)
    values: Mapping[str, Any] = {
        "database_url": f"sqlite:///{database}",
        "secret": "s" * 40,
        "practice_name": "Quillmere Orthotic Rooms",
        "practice_phone": "01632 960114",
        "out_of_hours_phone": "01632 960180",
        "emergency_number": "112",
        "practice_zone": ZONE,
        "public_address": ADDRESS,
        **settings,
    }
    app = make_app(Settings(**values), clock)
    site = make_site(app)
    return PracticeAtWork(app, clock, site, TestClient(site, ADDRESS, raise_server_exceptions=True))
