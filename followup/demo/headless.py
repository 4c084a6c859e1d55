"""The story played through in one go by an injected clock, over real SMTP."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from followup.demo.outcome import export, outcome
from followup.demo.play import Play, Telling
from followup.demo.stage import Stage, secret_of, set_up
from followup.demo.story import Story

PAGES_PORT = 8080


def play_story(days: int, seed: int, folder: Path | None, say: Telling) -> dict[str, int]:
    """Play so many days and count what they came to; the same seed comes to the same. Writes it out to `folder`."""
    with played(days, seed, say) as play:
        if folder is not None:
            export(play.stage, folder)
        return outcome(play.stage, days)


@contextmanager
def played(days: int, seed: int, say: Telling) -> Iterator[Play]:
    """The story after so many days, for looking at."""
    with empty_stage(seed) as stage:
        begins_on = stage.story.begins_on
        play = Play(stage, begins_on, say)
        end = datetime.combine(begins_on + timedelta(days=days), time(), stage.zone).astimezone(UTC)
        play.play(days, end - timedelta(minutes=1))
        yield play


@contextmanager
def empty_stage(seed: int) -> Iterator[Stage]:
    """A stage in a folder of its own that is gone afterwards."""
    in_memory = Path("/dev/shm")
    place = in_memory if os.access(in_memory, os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="followup-demo-", dir=place) as folder:
        stage = set_up(Path(folder), seed, _midnight, PAGES_PORT, secret_of(seed))
        try:
            yield stage
        finally:
            stage.receiver.stop()
            stage.app.close()


def _midnight(story: Story) -> datetime:
    return datetime.combine(story.begins_on, time(), ZoneInfo(story.practice.zone)).astimezone(UTC)
