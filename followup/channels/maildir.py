"""Replies from a Maildir that the practice's mail server delivers into."""

from __future__ import annotations

import mailbox
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class MaildirInbox:
    """New messages wait in ``new``; a taken one is moved to ``cur`` and marked as seen."""

    path: Path

    def waiting(self, limit: int) -> list[tuple[str, str]]:
        """Up to `limit` pairs of source id and raw text; bytes that are not UTF-8 are kept as escapes."""
        files = sorted((self.path / "new").glob("*"))[:limit]
        return [(file.name, file.read_bytes().decode("utf-8", "surrogateescape")) for file in files]

    def taken(self, source_id: str) -> None:
        """Move a kept message out of the way; one that is gone already is fine."""
        (self.path / "cur").mkdir(exist_ok=True)
        source = self.path / "new" / source_id
        if source.exists():
            source.rename(self.path / "cur" / f"{source_id}:2,S")


def make_maildir(path: Path) -> MaildirInbox:
    """The Maildir at `path`, made if it is not there."""
    mailbox.Maildir(path, create=True)
    return MaildirInbox(path)
