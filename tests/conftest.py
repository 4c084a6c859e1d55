from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browsing import chromium, running_browser, served, violations
from tests.needed import absent, in_ci, judged
from tests.postgres import PrivatePostgres, binaries, private_postgres

_numbers = itertools.count(1)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Any:
    report = yield
    outcome = judged(report.outcome, set(getattr(item, "fixturenames", ())), in_ci())
    if outcome != report.outcome:
        report.outcome, report.longrepr = outcome, f"skipped in CI, which counts as a failure: {report.longrepr}"
    return report


@pytest.fixture(scope="session")
def postgres() -> Iterator[PrivatePostgres]:
    """A PostgreSQL server of this session; skipped where Debian's programs are absent, except in CI."""
    programs = binaries()
    if programs is None:
        absent("PostgreSQL")
    with private_postgres(programs) as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The URL of a new database with nothing in it, once on SQLite and once on PostgreSQL."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'followup.db'}"
        return
    server = request.getfixturevalue("postgres")
    name = f"empty_{next(_numbers)}"
    yield server.create(name)
    server.drop(name)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, headless. One for each module: while it is open, `asyncio.run` refuses in this thread."""
    executable = chromium()
    if executable is None:
        absent("Chromium")
    with running_browser(executable) as opened:
        yield opened


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page in a clean browser profile, with scripts on, in English."""
    context = browser.new_context(locale="en-GB")
    yield context.new_page()
    context.close()


@pytest.fixture
def axe() -> Callable[[Page], list[str]]:
    """The accessibility check: `assert axe(page) == []`."""
    return violations


@pytest.fixture
def serve() -> Iterator[Callable[[Any], str]]:
    """Serve an ASGI application until the test ends: `address = serve(site)`."""
    with ExitStack() as stack:
        yield lambda site: stack.enter_context(served(site))
