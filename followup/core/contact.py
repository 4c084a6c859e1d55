"""Who speaks for a wearer, and how they are reached."""

from __future__ import annotations

from enum import StrEnum


class Channel(StrEnum):
    """How a contact is reached. `PHONE` means no messages: the desk rings."""

    EMAIL = "email"
    TEXT = "text"
    PHONE = "phone"


class Relation(StrEnum):
    """Who a contact is to the wearer."""

    SELF = "self"
    PARENT = "parent"
    CHILD = "child"
    PARTNER = "partner"
    RELATIVE = "relative"
    NEIGHBOUR = "neighbour"
    CARE_HOME = "care_home"
    SCHOOL = "school"
    OTHER = "other"


LANGUAGES = ("en", "es")
