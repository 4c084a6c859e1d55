"""The demo opened on a Friday morning: the first days are behind it, and what has just come in waits."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Page

from followup.app import App
from followup.core.callback import Part
from followup.demo.data import find_demo_data
from followup.demo.live import first_monday, live_stage
from followup.demo.phones_page import with_phones
from followup.demo.play import Play
from followup.errors import FollowupError
from followup.services.advance import tick
from followup.services.desk import see_desk
from followup.services.work_callbacks import see_queue
from followup.web.site import make_site
from tests.browsing import aside, served
from tests.builders import utc

pytestmark = pytest.mark.slow
FRIDAY = utc("2026-05-15 10:20")
Live = tuple[Play, App]


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    """Opened aside: the program sends by an event loop of its own, which a browser of this thread would refuse."""
    with ExitStack() as stack:
        folder = tmp_path_factory.mktemp("live") / "demo"
        opened = live_stage(1, 8080, lambda: FRIDAY, lambda line: None, folder)
        yield aside(stack.enter_context, opened)


@pytest.fixture
def phones(live: Live) -> Iterator[str]:
    """The address of the page of the phones."""
    play, app = live
    with served(with_phones(make_site(app), play.stage)) as address:
        yield f"{address}/demo/phones"


def test_the_queue_has_calls_of_several_kinds(live: Live) -> None:
    queue = see_queue(live[1].practice, FRIDAY)
    assert {entry.part for entry in queue} >= {Part.FIRST, Part.TODAY}


def test_the_desk_list_holds_the_reply_nobody_could_read(live: Live) -> None:
    assert "hoy regular" in " ".join(entry.text for entry in see_desk(live[1].practice, FRIDAY))


def test_nothing_arrived_after_now(live: Live) -> None:
    received = live[0].stage.receiver.received
    assert len(received) > 150
    assert max(each.at for each in received) <= FRIDAY


@pytest.mark.parametrize("width", [320, 1440])
def test_the_phones_can_be_read_on_any_screen(
    phones: str, page: Page, axe: Callable[[Page], list[str]], width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(phones)
    page.get_by_role("link", name="Orla Bexley").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Orla Bexley, partner"
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_reply_written_there_reaches_the_practice(live: Live, phones: str, page: Page) -> None:
    app = live[1]
    page.goto(phones)
    page.get_by_role("link", name="Rhoda Ottoway").click()
    page.get_by_label("Your reply").fill("is the shop open on Sunday?")
    page.get_by_role("button", name="Send").click()
    aside(tick, app.practice, app.transport, app.compose, app.inboxes, app.clock)
    assert "is the shop open on Sunday?" in " ".join(entry.text for entry in see_desk(app.practice, FRIDAY))


@pytest.mark.parametrize(("today", "monday"), [("2026-05-14", "2026-05-04"), ("2026-05-15", "2026-05-11")])
def test_the_story_begins_on_a_monday_with_four_days_after_it(today: str, monday: str) -> None:
    assert first_monday(date.fromisoformat(today)) == date.fromisoformat(monday)


def test_without_its_data_the_demo_says_where_to_run_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(FollowupError, match="Run deploy/run in a checkout"):
        find_demo_data(tmp_path)


def test_ctrl_c_stops_it_cleanly() -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = str(free.getsockname()[1])
    command = [sys.executable, "-c", "from followup.cli import run; run()", "demo", "--port", port]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as demo:
        assert demo.stdout is not None
        said = []
        while "Ctrl-C stops" not in (line := demo.stdout.readline()):
            said.append(line)
            assert line, demo.stderr.read() if demo.stderr else ""
        demo.send_signal(signal.SIGINT)
        rest = demo.communicate(timeout=30)
    assert demo.returncode == 0, rest
    assert any("signs in as runa with " in line for line in said)
