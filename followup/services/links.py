"""Private links to a wearer's page: opaque, short, expiring, revocable, and rebuilt for each message.

A token is an HMAC of the link's contact, orthosis and generation; only its digest is stored.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from followup.errors import InvalidInput
from followup.services.follow_plan import load_plan
from followup.services.practice import Practice
from followup.storage import orthoses, people

LASTS = timedelta(days=400)
"""Long enough for the yearly review; revoked earlier when the plan ends."""
TOKEN_LENGTH = 16


@dataclass(frozen=True, slots=True)
class CaregiverLink:
    """What an opened link gives access to: one wearer's orthosis, in one contact's language."""

    token: str
    contact_id: int
    orthosis_id: int
    language: str
    zone: str
    may_be_told: bool


def make_link(practice: Practice, contact_id: int, orthosis_id: int, now: datetime) -> str:
    """The token of a contact's page, made on first use and the same until it is revoked."""
    with practice.store.write() as connection:
        return link_for(connection, practice, contact_id, orthosis_id, now)


def link_for(connection: Connection, practice: Practice, contact_id: int, orthosis_id: int, now: datetime) -> str:
    """As `make_link`, inside a transaction."""
    in_force = known_token(connection, practice, contact_id, orthosis_id, now)
    if in_force:
        return in_force
    known = people.newest_link(connection, contact_id, orthosis_id)
    generation = known["generation"] + 1 if known else 1
    token = _token(practice.secret, contact_id, orthosis_id, generation)
    people.add_link(connection, contact_id, orthosis_id, generation, _digest(token), now + LASTS)
    return token


def known_token(
    connection: Connection, practice: Practice, contact_id: int, orthosis_id: int, now: datetime
) -> str | None:
    """The token of a contact's page where a link is in force, None otherwise; nothing is made."""
    known = people.newest_link(connection, contact_id, orthosis_id)
    if known is None or known["revoked_at"] is not None or known["expires_at"] <= now:
        return None
    return _token(practice.secret, contact_id, orthosis_id, known["generation"])


def page_address(practice: Practice, token: str) -> str:
    """Where the page of a token is."""
    return f"{practice.facts.public_address}/c/{token}"


def open_link(practice: Practice, token: str, now: datetime) -> CaregiverLink:
    """What a token opens; `InvalidInput` ``link_unknown``, ``link_expired`` or ``plan_ended`` otherwise."""
    with practice.store.read() as connection:
        known, orthosis = _behind(connection, token)
        if orthosis["ended_at"] is not None:
            raise InvalidInput("plan_ended", "This page is closed. If you would like to speak with us, ring us.")
        return _opened(connection, practice, token, known, orthosis, now)


def open_calendar_link(practice: Practice, token: str, now: datetime) -> CaregiverLink:
    """As `open_link`; a link that ended only because its plan did still opens the calendar, to cancel what it holds."""
    with practice.store.read() as connection:
        known, orthosis = _behind(connection, token)
        if orthosis["ended_at"] is not None and known["revoked_at"] == orthosis["ended_at"]:
            known = {**known, "revoked_at": None}
        return _opened(connection, practice, token, known, orthosis, now)


def _behind(connection: Connection, token: str) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """The rows of a link and its orthosis."""
    known = people.link_by_digest(connection, _digest(token))
    if known is None:
        raise InvalidInput("link_unknown", "This link is not one of ours. Use the link in our newest message.")
    orthosis = orthoses.orthosis_row(connection, known["orthosis_id"])
    assert orthosis is not None
    return known, orthosis


def _opened(
    connection: Connection,
    practice: Practice,
    token: str,
    known: Mapping[str, Any],
    orthosis: Mapping[str, Any],
    now: datetime,
) -> CaregiverLink:
    if known["revoked_at"] is not None or known["expires_at"] <= now:
        raise InvalidInput("link_expired", "This link has ended. Use the link in our newest message, or ring us.")
    contact = people.contact_of(connection, known["contact_id"])
    zone = load_plan(connection, practice, orthosis["id"], now).goal.zone
    assert contact is not None
    return CaregiverLink(token, contact.id, orthosis["id"], contact.language, str(zone), contact.may_be_told)


def _token(secret: bytes, contact_id: int, orthosis_id: int, generation: int) -> str:
    made = hmac.new(secret, f"page:{contact_id}:{orthosis_id}:{generation}".encode(), hashlib.sha256).digest()
    return base64.urlsafe_b64encode(made).decode()[:TOKEN_LENGTH]


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
