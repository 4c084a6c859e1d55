from __future__ import annotations

import dataclasses
import logging
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from followup.app import App, make_app
from followup.channels.recording import RecordingTransport
from followup.clock import system_clock
from followup.scheduler.run import safe_tick, tick_until
from followup.settings import read_settings
from followup.storage.tables import outbox
from tests.builders import QUILLMERE, Clinic, Letters, clinic_on

NAMED = "Maj Torvenn, maj@phones.example"


class TakesNothing(RecordingTransport):
    """Fails as a fault of the program would, with words that name somebody."""

    async def send_all(self, _batch: object) -> list[object]:  # type: ignore[override]
        raise RuntimeError(NAMED)


@pytest.fixture
def app(migrated_file: Path, tmp_path: Path) -> Iterator[App]:
    """The program with one plan begun, at the hour of its first message."""
    file = shutil.copy(migrated_file, tmp_path / "followup.db")
    settings = read_settings({**QUILLMERE, "FOLLOWUP_DATABASE_URL": f"sqlite:///{file}", "FOLLOWUP_TICK_SECONDS": "1"})
    made = make_app(settings)
    clinic = clinic_on(made.practice.store)
    clinic.start()
    yield dataclasses.replace(made, clock=clinic.clock, transport=RecordingTransport())  # type: ignore[arg-type]
    made.close()


def states(app: App) -> list[str]:
    return [each["state"] for each in Clinic(app.practice).rows(outbox.select())]


def test_a_tick_sends_what_is_due(app: App) -> None:
    safe_tick(app)()
    assert states(app) == ["accepted"]


def test_a_tick_that_fails_is_logged_without_its_words(app: App, caplog: pytest.LogCaptureFixture) -> None:
    failing = dataclasses.replace(app, transport=TakesNothing())  # type: ignore[arg-type]
    safe_tick(failing)()
    assert "tick failed with RuntimeError" in caplog.text
    assert "phones.example" not in caplog.text


def test_a_tick_is_logged_as_numbers(app: App, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    safe_tick(app)()
    assert "'plans': 1" in caplog.text


class Bell(Letters):
    """An inbox that rings when a tick looks into it."""

    def __init__(self) -> None:
        super().__init__()
        self.rang = threading.Event()

    def waiting(self, limit: int) -> list[tuple[str, str]]:
        self.rang.set()
        return super().waiting(limit)


def test_it_ticks_until_it_is_told_to_stop(app: App) -> None:
    bell, stopped = Bell(), threading.Event()
    ticking = dataclasses.replace(app, inboxes=[bell], clock=system_clock)
    worker = threading.Thread(target=tick_until, args=(ticking, stopped), daemon=True)
    worker.start()
    rang = bell.rang.wait(20)
    stopped.set()
    worker.join(20)
    assert (rang, worker.is_alive()) == (True, False)
