"""Errors that carry facts. The words for people are made from `code` and `facts` where they are shown."""

from __future__ import annotations


class FollowupError(Exception):
    """Something the person at the other end can mend.

    `code` is stable, `path` names the place, `message` says what to do.
    """

    def __init__(self, code: str, message: str, path: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.path = path


class InvalidInput(FollowupError):
    """Given data cannot be used; nothing was changed."""


class UnknownId(FollowupError):
    """A protocol, rule, finding or record of that id does not exist."""


class Conflict(FollowupError):
    """Somebody else changed the same thing first; nothing was changed."""
