"""The clock that drives the work: one in-memory tick in UTC. A missed or doubled tick does no harm."""

from __future__ import annotations

import logging
import threading
import traceback
from collections.abc import Callable
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


def safe_tick(app: App) -> Callable[[], None]:
    """A tick that reports a fault and lets the next one try again."""

    def run() -> None:
        try:
            done = tick(app.practice, app.transport, app.compose, app.inboxes, app.clock)
        except Exception as error:
            # The place, not the words: an error of the database may repeat a row, and logs carry ids only.
            place = "".join(traceback.format_tb(error.__traceback__))
            log.error("tick failed with %s; the next one tries again\n%s", type(error).__name__, place)
        else:
            log.info("tick %s", dict(done))

    return run
