"""The demo live: the first days played quickly up to this moment, then the program at work on the real clock."""

from __future__ import annotations

import secrets
import shutil
import signal
import socket
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import uvicorn
from starlette.applications import Starlette

from followup.app import App, make_app
from followup.demo.data import find_demo_data
from followup.demo.phones_page import with_phones
from followup.demo.play import Play, Telling
from followup.demo.stage import Stage, set_up
from followup.demo.story import Story
from followup.errors import FollowupError
from followup.scheduler.run import start_ticking
from followup.services.links import make_link, page_address
from followup.web.site import make_site

PLAYED_DAYS = 4
"""At least so many whole days are played before the demo opens; it begins on a Monday, as the story does."""
FOLDER = Path("var") / "demo"
HOST = "127.0.0.1"
SHOWN = ("W01", "W13", "W14", "W09", "W20", "W02")


@dataclass(frozen=True)
class Doorway:
    """How people get in: staff by name and password, families by their page's address."""

    address: str
    staff: tuple[tuple[str, str, str, str], ...]
    families: tuple[tuple[str, str, str], ...]


def run_live(
    seed: int, port: int, clock: Callable[[], datetime], say: Telling, show: Callable[[Doorway], None]
) -> None:
    """Play up to now, then serve until told to stop. `show` is given the way in once the pages answer."""
    with _listening(port) as door:
        say("Playing the first days of an invented practice; this takes a moment.")
        with live_stage(seed, port, clock, say) as (play, app):
            site = with_phones(make_site(app), play.stage)
            with suppress(KeyboardInterrupt):
                show(_doorway(play, app))
                _serve(app, site, door)
    say("Stopped. What was played stays in var/demo until the demo starts again.")


@contextmanager
def live_stage(
    seed: int, port: int, clock: Callable[[], datetime], say: Telling, folder: Path | None = None
) -> Iterator[tuple[Play, App]]:
    """The story played up to now, and the program over it on `clock`; nothing ticks or serves yet."""
    now = clock()
    place = _fresh(folder or find_demo_data().parent / FOLDER / str(port))
    stage = set_up(place, seed, lambda story: _first_midnight(story, now), port, secrets.token_hex(32))
    try:
        play = Play(stage, stage.now.astimezone(stage.zone).date(), say)
        _play_up_to(play, now)
        stage.receiver.use_clock(clock)
        yield play, make_app(stage.app.settings, clock, stage.practice.store)
    finally:
        stage.receiver.stop()
        stage.app.close()


def first_monday(today: date) -> date:
    """The day the story begins for a demo opened on `today`: the last Monday with enough days after it."""
    back = today.weekday()
    return today - timedelta(days=back if back >= PLAYED_DAYS else back + 7)


def _play_up_to(play: Play, now: datetime) -> None:
    """Everybody works until the evening before; what came in since then is there to be worked."""
    stage = play.stage
    today = now.astimezone(stage.zone).date()
    play.staff_until = datetime.combine(today, time(), stage.zone) - timedelta(hours=6)
    days = (today - play.begins_on).days + 1
    play.play(days, now - timedelta(minutes=max(each.minutes_ago for each in stage.story.just_now) + 1))
    play.play_just_now(now)
    stage.clock.at = now


def _first_midnight(story: Story, now: datetime) -> datetime:
    zone = ZoneInfo(story.practice.zone)
    return datetime.combine(first_monday(now.astimezone(zone).date()), time(), zone)


def _fresh(folder: Path) -> Path:
    """The folder, empty: what an earlier demo left there is gone."""
    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    return folder


@contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    try:
        door = socket.create_server((HOST, port))
    except OSError as error:
        raise FollowupError("port_taken", f"Port {port} is in use here; choose another with --port.", "port") from error
    with closing(door):
        yield door


def _serve(app: App, site: Starlette, door: socket.socket) -> None:
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    ticking = start_ticking(app)
    server = uvicorn.Server(uvicorn.Config(site, log_level="warning", access_log=False, server_header=False, ws="none"))
    try:
        server.run(sockets=[door])
    finally:
        ticking.shutdown(wait=True)


def _doorway(play: Play, app: App) -> Doorway:
    staff = tuple((each.user, play.staff.passwords[each.user], each.name, each.role) for each in play.stage.story.staff)
    return Doorway(app.settings.public_address, staff, tuple(_page_of(play.stage, app, who) for who in SHOWN))


def _page_of(stage: Stage, app: App, who: str) -> tuple[str, str, str]:
    household = stage.household_of(who)
    contact = household.contacts[0]
    token = make_link(app.practice, contact.id, household.orthosis_id, app.clock())
    return contact.name, contact.language, page_address(app.practice, token)
