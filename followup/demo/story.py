"""The story of the demo as data: who does what on which day, read once and checked."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date, time, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from followup.core.delivery_check import DeliveryCheck
from followup.errors import InvalidInput
from followup.services.sign_in import Role


class Deed(StrEnum):
    """What somebody in the story does: answers on the page, replies by mail, rings, or says nothing."""

    PAGE = "page"
    REPLY = "reply"
    PHONE = "phone"
    SILENT = "silent"


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class PracticeWords(_Part):
    """The invented practice's own values."""

    name: str
    phone: str
    out_of_hours_phone: str
    emergency_number: str
    zone: str
    clinic_hours: str
    mail_sender: str
    on_call_address: str


class StoryStaff(_Part):
    """Somebody who signs in; the password is made when the demo starts and stands in no file."""

    user: str
    name: str
    role: Role


class Release(_Part):
    """When a clinician lets a plan start in spite of an exception, at a local time of the practice."""

    day: int
    at: time
    note: str


class CheckException(_Part):
    """A delivery check of a wearer that could not be confirmed."""

    who: str
    check: DeliveryCheck
    reason: str
    released: Release | None = None


class Act(_Part):
    """What one contact of a wearer says. `leaves_after` ends an interview after so many answers, unfinished."""

    who: str
    does: Deed
    contact: int = 1
    text: str = ""
    findings: Mapping[str, bool | int | str] = Field(default_factory=dict)
    leaves_after: int | None = None


class Moment(Act):
    """An act on a day of the story (1 is the first) at a local time of the wearer; `next_day`: told the day after."""

    day: int = Field(ge=1)
    days: int = Field(1, ge=1)
    at: time = time(18, 45)
    next_day: bool = False

    def on(self, begins_on: date) -> date:
        """The local date on which it is told."""
        return begins_on + timedelta(days=self.day - 1 + self.next_day)

    def covers(self, on: date, begins_on: date) -> bool:
        """True for the days this moment stands for, on which the family does nothing by itself."""
        first = begins_on + timedelta(days=self.day - 1)
        return first <= on < first + timedelta(days=self.days)


class JustNow(Act):
    """An act so many minutes before the live demo opens."""

    minutes_ago: int = Field(ge=1)


class Network(_Part):
    """What the demo's receiver does not take."""

    refuses: frozenset[str] = frozenset()


class Story(_Part):
    """The whole story, in days from `begins_on`."""

    begins_on: date
    practice: PracticeWords
    network: Network
    staff: tuple[StoryStaff, ...]
    exception: tuple[CheckException, ...] = ()
    moment: tuple[Moment, ...] = ()
    just_now: tuple[JustNow, ...] = ()

    def quiet_on(self, who: str, on: date) -> bool:
        """True if the story itself says what the family of `who` does on that local date."""
        return any(each.who == who and each.covers(on, self.begins_on) for each in self.moment)

    def silent_on(self, who: str, on: date) -> bool:
        """True if nobody there answers anything that day, a ringing telephone included."""
        return any(
            each.who == who and each.does is Deed.SILENT and each.covers(on, self.begins_on) for each in self.moment
        )


def load_story(path: Path) -> Story:
    """The story of a TOML file; `InvalidInput` names the part that cannot be used."""
    try:
        raw: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
        return Story(**raw)
    except tomllib.TOMLDecodeError as error:
        raise InvalidInput("bad_story", f"Not readable as TOML: {error}", str(path)) from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise InvalidInput("bad_story", f"{where}: {first['msg']}", str(path)) from error
