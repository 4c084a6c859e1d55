"""Staff, sessions, wearers, contacts, their consent, and the private links to their pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, func, insert, or_, select, update

from followup.core.message import Recipient
from followup.storage.rows import new_id
from followup.storage.tables import consent, contact, failed_sign_in, page_link, precaution, session, staff, wearer


@dataclass(frozen=True, slots=True)
class StaffMember:
    """Somebody who signs in. `role` is ``desk`` or ``clinician``."""

    id: int
    user: str
    name: str
    role: str
    password_hash: str


@dataclass(frozen=True, slots=True)
class Contact:
    """Somebody who speaks for a wearer, or the wearer; `consents` is the newest recorded word."""

    id: int
    wearer_id: int
    name: str
    relation: str
    channel: str
    address: str
    phone: str
    language: str
    zone: str
    may_be_told: bool
    on_duty: bool
    suspended_at: datetime | None
    consents: bool

    def as_recipient(self) -> Recipient:
        """The contact as far as sending is concerned."""
        return Recipient(
            self.id,
            self.channel,
            self.address,
            self.language,
            self.zone,
            self.on_duty,
            self.may_be_told,
            self.consents,
            self.suspended_at is not None,
        )


def add_staff(connection: Connection, user: str, name: str, role: str, password_hash: str) -> int:
    """A new member of staff; the id."""
    values = {"user": user, "name": name, "role": role, "password_hash": password_hash}
    return new_id(connection.execute(insert(staff).values(values)))


def staff_by_user(connection: Connection, user: str) -> StaffMember | None:
    """The member of staff who signs in under that name."""
    row = connection.execute(select(staff).where(staff.c.user == user)).mappings().first()
    return StaffMember(**row) if row else None


def staff_names(connection: Connection) -> dict[int, str]:
    """Names of staff by id."""
    return {row.id: row.name for row in connection.execute(select(staff.c.id, staff.c.name))}


def add_session(connection: Connection, digest: str, staff_id: int, csrf: str, expires_at: datetime) -> None:
    """Keep a signed-in session by the digest of its token."""
    connection.execute(insert(session).values(token_digest=digest, staff_id=staff_id, csrf=csrf, expires_at=expires_at))


def session_of(connection: Connection, digest: str, now: datetime) -> Mapping[str, Any] | None:
    """The session of that digest, with its member of staff, unless it has run out."""
    joined = session.join(staff, session.c.staff_id == staff.c.id)
    query = select(session.c.csrf, staff.c.id.label("staff_id"), staff.c.name, staff.c.role).select_from(joined)
    found = connection.execute(query.where(session.c.token_digest == digest, session.c.expires_at > now))
    row = found.mappings().first()
    return dict(row) if row else None


def end_session(connection: Connection, digest: str) -> None:
    """Forget a session."""
    connection.execute(delete(session).where(session.c.token_digest == digest))


def note_failed_sign_in(connection: Connection, user: str, at: datetime) -> None:
    """Remember a wrong password, to slow guessing."""
    connection.execute(insert(failed_sign_in).values(user=user[:60], at=at))


def failed_sign_ins(connection: Connection, user: str, since: datetime) -> int:
    """How many wrong passwords were given for that name since then."""
    query = select(func.count()).where(failed_sign_in.c.user == user[:60], failed_sign_in.c.at > since)
    return connection.execute(query).scalar_one()


def put_wearer(connection: Connection, values: Mapping[str, Any], precautions: Mapping[str, bool]) -> int:
    """Add the wearer of that reference or bring the record up to date; the id."""
    known: int | None = connection.execute(
        select(wearer.c.id).where(wearer.c.reference == values["reference"])
    ).scalar()
    if known is None:
        known = new_id(connection.execute(insert(wearer).values(dict(values))))
    else:
        connection.execute(update(wearer).where(wearer.c.id == known).values(dict(values)))
    for name, present in precautions.items():
        connection.execute(delete(precaution).where(precaution.c.wearer_id == known, precaution.c.precaution == name))
        connection.execute(insert(precaution).values(wearer_id=known, precaution=name, present=present))
    return known


def wearer_called(connection: Connection, reference: str) -> Mapping[str, Any] | None:
    """The wearer of that reference."""
    row = connection.execute(select(wearer).where(wearer.c.reference == reference)).mappings().first()
    return dict(row) if row else None


def wearer_row(connection: Connection, wearer_id: int) -> Mapping[str, Any]:
    """The wearer's record."""
    return dict(connection.execute(select(wearer).where(wearer.c.id == wearer_id)).mappings().one())


def precautions_of(connection: Connection, wearer_id: int) -> dict[str, bool]:
    """The recorded precautions; one that is absent here was not recorded."""
    rows = connection.execute(select(precaution).where(precaution.c.wearer_id == wearer_id))
    return {row.precaution: row.present for row in rows}


def put_contact(connection: Connection, values: Mapping[str, Any]) -> int:
    """Add a contact of a wearer or bring it up to date; the id."""
    same = (
        (contact.c.wearer_id == values["wearer_id"])
        & (contact.c.name == values["name"])
        & (contact.c.address == values["address"])
    )
    known: int | None = connection.execute(select(contact.c.id).where(same)).scalar()
    if known is None:
        return new_id(connection.execute(insert(contact).values(dict(values))))
    connection.execute(update(contact).where(contact.c.id == known).values(dict(values)))
    return known


def record_consent(connection: Connection, contact_id: int, given: bool, method: str, at: datetime) -> None:
    """Append what a contact said about being sent messages."""
    connection.execute(insert(consent).values(contact_id=contact_id, given=given, method=method, at=at))


def contacts_of(connection: Connection, wearer_ids: Sequence[int]) -> dict[int, list[Contact]]:
    """The contacts of those wearers, who is on duty first."""
    found: dict[int, list[Contact]] = {wearer_id: [] for wearer_id in wearer_ids}
    query = _contacts().where(contact.c.wearer_id.in_(wearer_ids)).order_by(contact.c.on_duty.desc(), contact.c.id)
    for row in connection.execute(query).mappings():
        found[row["wearer_id"]].append(Contact(**row))
    return found


def contact_of(connection: Connection, contact_id: int) -> Contact | None:
    """The contact of that id."""
    row = connection.execute(_contacts().where(contact.c.id == contact_id)).mappings().first()
    return Contact(**row) if row else None


def contacts_at(connection: Connection, address: str) -> list[Contact]:
    """Everyone who gave that address, in either letter case."""
    query = _contacts().where(func.lower(contact.c.address) == address.lower()).order_by(contact.c.id)
    return [Contact(**row) for row in connection.execute(query).mappings()]


def on_duty_at(connection: Connection, where: str) -> list[Contact]:
    """Contacts on duty who may be told and gave that address or phone number; letter case and spaces do not matter."""
    wanted = where.replace(" ", "").lower()
    same = (func.lower(func.replace(column, " ", "")) == wanted for column in (contact.c.address, contact.c.phone))
    willing = contact.c.on_duty & contact.c.may_be_told & or_(*same)
    return [Contact(**row) for row in connection.execute(_contacts().where(willing).order_by(contact.c.id)).mappings()]


def drop_contact(connection: Connection, contact_id: int) -> None:
    """Tell a contact nothing more; they may still report."""
    values = {"on_duty": False, "may_be_told": False}
    connection.execute(update(contact).where(contact.c.id == contact_id).values(values))


def suspend_contact(connection: Connection, contact_id: int, at: datetime) -> None:
    """Send nothing more to an address the network refused."""
    connection.execute(update(contact).where(contact.c.id == contact_id).values(suspended_at=at))


def _contacts() -> Any:
    newest = (
        select(consent.c.given)
        .where(consent.c.contact_id == contact.c.id)
        .order_by(consent.c.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    return select(contact, func.coalesce(newest, False).label("consents"))


def add_link(
    connection: Connection, contact_id: int, orthosis_id: int, generation: int, digest: str, expires_at: datetime
) -> int:
    """Keep the digest of a private link; the id."""
    values = {
        "contact_id": contact_id,
        "orthosis_id": orthosis_id,
        "generation": generation,
        "token_digest": digest,
        "expires_at": expires_at,
    }
    return new_id(connection.execute(insert(page_link).values(values)))


def newest_link(connection: Connection, contact_id: int, orthosis_id: int) -> Mapping[str, Any] | None:
    """The newest link of a contact to an orthosis."""
    query = select(page_link).where(page_link.c.contact_id == contact_id, page_link.c.orthosis_id == orthosis_id)
    row = connection.execute(query.order_by(page_link.c.generation.desc()).limit(1)).mappings().first()
    return dict(row) if row else None


def link_by_digest(connection: Connection, digest: str) -> Mapping[str, Any] | None:
    """The link whose token has that digest."""
    row = connection.execute(select(page_link).where(page_link.c.token_digest == digest)).mappings().first()
    return dict(row) if row else None


def revoke_links(connection: Connection, orthosis_id: int, at: datetime) -> None:
    """End every link to an orthosis."""
    open_ones = (page_link.c.orthosis_id == orthosis_id) & page_link.c.revoked_at.is_(None)
    connection.execute(update(page_link).where(open_ones).values(revoked_at=at))
