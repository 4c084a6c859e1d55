"""The clock that drives the work: one in-memory tick in UTC. A missed or doubled tick does no harm."""

from __future__ import annotations

import logging
import threading
import traceback
from collections.abc import Callable, Iterator
from datetime import UTC

from apscheduler.schedulers.background import BackgroundScheduler

from followup.app import App
from followup.services.advance import tick

log = logging.getLogger(__name__)


def start_ticking(app: App) -> BackgroundScheduler:
    """Tick in the background from now on; shut the result down to stop."""
    scheduler = BackgroundScheduler(timezone=UTC)
    scheduler.add_job(
        safe_tick(app),
        "interval",
        seconds=app.settings.tick_seconds,
        coalesce=True,
        max_instances=1,
        misfire_grace_time=None,
        next_run_time=app.clock(),
    )
    scheduler.start()
    return scheduler


def tick_until(app: App, stopped: threading.Event) -> None:
    """Tick until told to stop; the tick under way is finished first."""
    scheduler = start_ticking(app)
    stopped.wait()
    scheduler.shutdown(wait=True)


def safe_tick(app: App) -> Callable[[], bool]:
    """A tick that reports its faults and lets the next one try again; True if there were none."""

    def run() -> bool:
        try:
            done = tick(app.practice, app.transport, app.compose, app.inboxes, app.clock)
        except Exception as error:
            for fault in _single(error):
                # The place, not the words: an error of the database may repeat a row, and logs carry ids only.
                place, whose = "".join(traceback.format_tb(fault.__traceback__)), getattr(fault, "__notes__", [])
                log.error("tick failed with %s %s; the next one tries again\n%s", type(fault).__name__, whose, place)
            return False
        log.info("tick %s", dict(done))
        return True

    return run


def _single(error: Exception) -> Iterator[Exception]:
    if isinstance(error, ExceptionGroup):
        for each in error.exceptions:
            yield from _single(each)
    else:
        yield error
