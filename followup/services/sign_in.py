"""Signing in and out. A session is a row that can be ended; the browser holds a random token, the table its digest."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

from followup.errors import InvalidInput
from followup.services.practice import Practice
from followup.storage import people
from followup.storage.audit import write_entry

LASTS = timedelta(hours=10)
MOST_FAILURES = 8
FAILURE_WINDOW = timedelta(minutes=15)
_HASHER = PasswordHasher()
_NOBODY = _HASHER.hash("nobody signs in with this")


class Role(StrEnum):
    """What a member of staff may do: a clinician also closes callbacks and releases exceptions."""

    DESK = "desk"
    CLINICIAN = "clinician"


@dataclass(frozen=True, slots=True)
class Session:
    """Who is signed in. `csrf` stands in every form of the session."""

    staff_id: int
    name: str
    role: Role
    csrf: str


def add_staff(practice: Practice, user: str, name: str, role: Role, password: str) -> int:
    """A new member of staff; the id."""
    if len(password) < 10:
        raise InvalidInput("weak_password", "Choose a password of at least 10 characters.", "password")
    with practice.store.write() as connection:
        if people.staff_by_user(connection, user):
            raise InvalidInput("user_taken", f"Somebody signs in as {user!r} already; choose another name.", "user")
        return people.add_staff(connection, user, name, role, _HASHER.hash(password))


def sign_in(practice: Practice, user: str, password: str, now: datetime) -> str:
    """A session token; `InvalidInput` ``wrong_password`` or ``too_many_tries``, the same for unknown names."""
    with practice.store.read() as connection:
        failures = people.failed_sign_ins(connection, user, now - FAILURE_WINDOW)
        member = people.staff_by_user(connection, user)
    if failures >= MOST_FAILURES:
        raise InvalidInput("too_many_tries", "Too many wrong passwords for this name. Wait 15 minutes.", "password")
    if not _matches(member.password_hash if member else _NOBODY, password) or member is None:
        with practice.store.write() as connection:
            people.note_failed_sign_in(connection, user, now)
        raise InvalidInput("wrong_password", "Name and password do not fit together. Try again.", "password")
    token = secrets.token_urlsafe(32)
    with practice.store.write() as connection:
        people.add_session(connection, _digest(token), member.id, secrets.token_urlsafe(24), now + LASTS)
        write_entry(connection, now, f"staff:{member.id}", "signed_in", f"staff:{member.id}")
    return token


def see_session(practice: Practice, token: str, now: datetime) -> Session | None:
    """The session of a token, unless it has ended."""
    with practice.store.read() as connection:
        found = people.session_of(connection, _digest(token), now)
    return Session(found["staff_id"], found["name"], Role(found["role"]), found["csrf"]) if found else None


def sign_out(practice: Practice, token: str) -> None:
    """End the session of a token."""
    with practice.store.write() as connection:
        people.end_session(connection, _digest(token))


def _matches(password_hash: str, password: str) -> bool:
    try:
        return _HASHER.verify(password_hash, password)
    except VerificationError:
        return False


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
