"""One delivery as it comes in from a file or a form: read column by column, every fault named with what to do."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, time
from enum import StrEnum
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from email_validator import EmailNotValidError, validate_email

from followup.core.contact import LANGUAGES, Channel, Relation
from followup.core.fixed_points import read_fixed_points
from followup.core.orthosis import (
    Fastening,
    Footplate,
    Heel,
    Material,
    Shell,
    Side,
    Strut,
    StrutPosition,
    WalkingAid,
)
from followup.core.precaution import Precaution, WithoutOrthosis
from followup.core.wearing_goal import Activity, FixedPoint

ORTHOSIS_COLUMNS: Mapping[str, type[StrEnum]] = {
    "side": Side,
    "shell": Shell,
    "strut": Strut,
    "strut_position": StrutPosition,
    "material": Material,
    "footplate": Footplate,
    "heel": Heel,
    "fastening": Fastening,
}
WEARER_COLUMNS = (
    "wearer_reference",
    "wearer_name",
    "walking_aid",
    "without_orthosis",
    "one_handed",
    "shin_bears_pressure",
)
PRECAUTION_COLUMNS = ("precautions_present", "precautions_absent", "protective")
PLAN_COLUMNS = ("identifier", "lot", "protocol", "full_wear_minutes", "window", "range_end", "zone", "delivered_on")
CONTACT_FIELDS = (
    "name",
    "relation",
    "channel",
    "address",
    "phone",
    "language",
    "zone",
    "may_be_told",
    "consent",
    "on_duty",
)
CONTACTS = ("contact1", "contact2")
COLUMNS = (
    *WEARER_COLUMNS,
    *ORTHOSIS_COLUMNS,
    *PRECAUTION_COLUMNS,
    *PLAN_COLUMNS,
    *(f"{contact}_{name}" for contact in CONTACTS for name in CONTACT_FIELDS),
)
OPTIONAL_COLUMNS = ("fixed_points", "activity", "checker", "replaces")
"""A file may leave these out: nothing fixes the day, mostly on their feet, whoever is on duty looks, none replaced."""
NO_POINTS: tuple[FixedPoint, ...] = ()
EARLIEST, LATEST = date(1990, 1, 1), date(2199, 12, 31)
_YES_NO = {"yes": True, "no": False}
_PHONE = re.compile(r"^\+?[0-9 ()./-]{5,24}$")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")
_WINDOW = re.compile(r"^(\d\d:\d\d)-(\d\d:\d\d)$")
_Each = TypeVar("_Each", bound=StrEnum)
_Value = TypeVar("_Value")


class DeliveryFaults(Exception):
    """What is wrong with a delivery: pairs of column and what to do about it."""

    def __init__(self, faults: list[tuple[str, str]]) -> None:
        super().__init__(f"{len(faults)} to mend")
        self.faults = faults


@dataclass(frozen=True, slots=True)
class DeliveryContact:
    """A contact as given at delivery."""

    name: str
    relation: str
    channel: str
    address: str
    phone: str
    language: str
    zone: str
    may_be_told: bool
    consent: bool
    on_duty: bool


@dataclass(frozen=True, slots=True)
class Delivery:
    """Everything recorded when an orthosis is handed over. `precautions` holds those recorded either way.

    `checker` is who looks at the skin where that is not the contact on duty; `replaces` the identifier of an earlier
    orthosis. Whether it is `protective` is said of each orthosis by itself.
    """

    wearer_reference: str
    wearer_name: str
    walking_aid: str
    without_orthosis: str
    one_handed: bool
    shin_bears_pressure: bool
    side: str
    shell: str
    strut: str
    strut_position: str
    material: str
    footplate: str
    heel: str
    fastening: str
    precautions: Mapping[str, bool] = field(hash=False)
    identifier: str
    lot: str
    protocol_id: str
    full_wear_minutes: int
    window_start: time
    window_end: time
    range_end: str
    zone: str
    delivered_on: date
    contacts: tuple[DeliveryContact, ...]
    protective: bool = False
    fixed_points: tuple[FixedPoint, ...] = ()
    activity: str = Activity.MOSTLY_ON_FEET
    checker: str = ""
    replaces: str = ""


class _Row:
    """Reads the cells of one row and gathers the faults."""

    def __init__(self, cells: Mapping[str, str]) -> None:
        self.cells = cells
        self.faults: list[tuple[str, str]] = []

    def read(self, column: str, reader: Callable[[str], _Value], fallback: _Value) -> _Value:
        try:
            return reader(_printable(self.cells.get(column, "").strip()))
        except ValueError as error:
            self.faults.append((column, str(error)))
            return fallback


def parse_delivery(cells: Mapping[str, str], protocol_ids: frozenset[str]) -> Delivery:
    """The delivery of one row; raises `DeliveryFaults` naming every column that cannot be used."""
    row = _Row(cells)
    start, end = row.read("window", _window, (time(), time()))
    values: dict[str, Any] = {
        "wearer_reference": row.read("wearer_reference", _words, ""),
        "wearer_name": row.read("wearer_name", _words, ""),
        "walking_aid": row.read("walking_aid", _one_of(WalkingAid), ""),
        "without_orthosis": row.read("without_orthosis", _one_of(WithoutOrthosis), ""),
        "one_handed": row.read("one_handed", _yes_no, False),
        "shin_bears_pressure": row.read("shin_bears_pressure", _yes_no, True),
        **{column: row.read(column, _one_of(kind), "") for column, kind in ORTHOSIS_COLUMNS.items()},
        "precautions": _precautions(row),
        "identifier": row.read("identifier", _words, ""),
        "lot": row.read("lot", str, ""),
        "protocol_id": row.read("protocol", _among(protocol_ids), ""),
        "full_wear_minutes": row.read("full_wear_minutes", _minutes, 0),
        "window_start": start,
        "window_end": end,
        "range_end": row.read("range_end", _among(frozenset({"low", "high"})), "low"),
        "zone": row.read("zone", _zone, "UTC"),
        "delivered_on": row.read("delivered_on", _date, date.min),
        "contacts": tuple(filter(None, (_contact(row, prefix) for prefix in CONTACTS))),
        "protective": row.read("protective", _yes_no, False),
        "fixed_points": row.read("fixed_points", read_fixed_points, NO_POINTS),
        "activity": row.read("activity", _or_else(Activity.MOSTLY_ON_FEET, _one_of(Activity)), ""),
        "checker": row.read("checker", _or_else("", _words), ""),
        "replaces": row.read("replaces", _or_else("", _words), ""),
    }
    _check_contacts(row, values["contacts"])
    if row.faults:
        raise DeliveryFaults(row.faults)
    return Delivery(**values)


def _precautions(row: _Row) -> dict[str, bool]:
    nothing: list[str] = []
    present = row.read("precautions_present", _precaution_list, nothing)
    absent = row.read("precautions_absent", _precaution_list, nothing)
    for twice in sorted(set(present) & set(absent)):
        row.faults.append(("precautions_absent", f"{twice} is also in precautions_present; name it once"))
    return {**dict.fromkeys(present, True), **dict.fromkeys(absent, False)}


def _contact(row: _Row, prefix: str) -> DeliveryContact | None:
    if prefix != CONTACTS[0] and not any(row.cells.get(f"{prefix}_{name}", "").strip() for name in CONTACT_FIELDS):
        return None
    channel = row.read(f"{prefix}_channel", _one_of(Channel), "")
    return DeliveryContact(
        name=row.read(f"{prefix}_name", _words, ""),
        relation=row.read(f"{prefix}_relation", _one_of(Relation), ""),
        channel=channel,
        address=row.read(f"{prefix}_address", _address_of(channel), ""),
        phone=row.read(f"{prefix}_phone", _phone, ""),
        language=row.read(f"{prefix}_language", _among(frozenset(LANGUAGES)), "en"),
        zone=row.read(f"{prefix}_zone", _zone, "UTC"),
        may_be_told=row.read(f"{prefix}_may_be_told", _yes_no, False),
        consent=row.read(f"{prefix}_consent", _yes_no, False),
        on_duty=row.read(f"{prefix}_on_duty", _yes_no, False),
    )


def _check_contacts(row: _Row, contacts: tuple[DeliveryContact, ...]) -> None:
    if not any(contact.on_duty for contact in contacts):
        row.faults.append(("contact1_on_duty", "somebody must be on duty; write yes for one contact"))


def _printable(text: str) -> str:
    """The text; no database or mail header takes a line break or another control character."""
    if _CONTROL.search(text):
        raise ValueError("holds a line break or another control character; take it out")
    return text


def _words(text: str) -> str:
    if not text:
        raise ValueError("is empty; it must be given")
    if len(text) > 60:
        raise ValueError("is longer than 60 characters; shorten it")
    return text


def _or_else(nothing: str, reader: Callable[[str], str]) -> Callable[[str], str]:
    """A reader of a cell that may be empty, which then means `nothing`."""
    return lambda text: reader(text) if text else str(nothing)


def _one_of(kind: type[_Each]) -> Callable[[str], str]:
    return _among(frozenset(str(each) for each in kind))


def _among(choices: frozenset[str]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in choices:
            raise ValueError(f"{text!r} is not known; write one of {', '.join(sorted(choices))}")
        return text

    return read


def _yes_no(text: str) -> bool:
    if text.lower() not in _YES_NO:
        raise ValueError(f"{text!r} is neither yes nor no; write yes or no")
    return _YES_NO[text.lower()]


def _precaution_list(text: str) -> list[str]:
    names = [name.strip() for name in text.split(";") if name.strip()]
    known = {str(each) for each in Precaution} - {Precaution.PROTECTIVE}
    for name in names:
        if name not in known:
            raise ValueError(f"{name!r} is not a precaution; write some of {', '.join(sorted(known))}, with ; between")
    return names


def _minutes(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 30 <= int(text) <= 1440:
        raise ValueError(f"{text!r} is not minutes of full wear a day; write a whole number from 30 to 1440")
    return int(text)


def _window(text: str) -> tuple[time, time]:
    match = _WINDOW.match(text)
    try:
        if match is None:
            raise ValueError
        return time.fromisoformat(match[1]), time.fromisoformat(match[2])
    except ValueError:
        raise ValueError(f"{text!r} is not a day window; write it as 07:30-21:30") from None


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError):
        raise ValueError(f"{text!r} is not a time zone; write an IANA name such as Europe/Lisbon") from None
    return text


def _date(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date; write it as 2026-03-02") from None
    if not EARLIEST <= found <= LATEST:
        raise ValueError(f"{text!r} is no year of a delivery; write one from {EARLIEST.year} to {LATEST.year}")
    return found


def _phone(text: str) -> str:
    if not _PHONE.match(text):
        raise ValueError(f"{text!r} is not a telephone number; write digits, such as +44 1632 960157")
    return text


def _address_of(channel: str) -> Callable[[str], str]:
    return {Channel.EMAIL: _mail_address, Channel.TEXT: _mail_or_phone}.get(Channel(channel), str) if channel else str


def _mail_or_phone(text: str) -> str:
    return _mail_address(text) if "@" in text else _phone(text)


def _mail_address(text: str) -> str:
    try:
        found = validate_email(text, check_deliverability=False, test_environment=True, allow_smtputf8=False)
        return found.ascii_email or found.normalized
    except EmailNotValidError as error:
        raise ValueError(f"{text!r} is not a mail address ({error})") from None
