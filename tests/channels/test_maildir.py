from __future__ import annotations

from pathlib import Path

from followup.channels.maildir import MaildirInbox, make_maildir


def with_letters(path: Path, **letters: bytes) -> MaildirInbox:
    inbox = make_maildir(path / "replies")
    for name, content in letters.items():
        (path / "replies" / "new" / name).write_bytes(content)
    return inbox


def test_a_maildir_is_made_where_there_is_none(tmp_path: Path) -> None:
    assert with_letters(tmp_path).waiting(10) == []


def test_new_letters_wait_in_order_up_to_the_limit(tmp_path: Path) -> None:
    inbox = with_letters(tmp_path, b=b"2", a=b"1", c=b"3")
    assert inbox.waiting(2) == [("a", "1"), ("b", "2")]


def test_a_letter_waits_until_it_is_taken(tmp_path: Path) -> None:
    inbox = with_letters(tmp_path, a=b"1")
    inbox.waiting(10)
    assert inbox.waiting(10) == [("a", "1")]


def test_a_taken_letter_is_kept_as_seen(tmp_path: Path) -> None:
    inbox = with_letters(tmp_path, a=b"1")
    inbox.taken("a")
    assert inbox.waiting(10) == []
    assert (tmp_path / "replies" / "cur" / "a:2,S").read_bytes() == b"1"


def test_taking_twice_does_no_harm(tmp_path: Path) -> None:
    inbox = with_letters(tmp_path, a=b"1")
    inbox.taken("a")
    inbox.taken("a")
    assert inbox.waiting(10) == []


def test_bytes_that_are_no_text_are_handed_over_all_the_same(tmp_path: Path) -> None:
    ((_, raw),) = with_letters(tmp_path, a=b"\xff\x00\xfe").waiting(10)
    assert raw.encode("utf-8", "surrogateescape") == b"\xff\x00\xfe"
