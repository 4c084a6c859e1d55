from __future__ import annotations

import itertools
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, TypeVar

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, Page

from followup.storage.engine import Store, migrate, open_store
from tests.browsing import chromium, running_browser, served, violations
from tests.needed import absent, in_ci, judged
from tests.postgres import PrivatePostgres, binaries, private_postgres

T = TypeVar("T")
_numbers = itertools.count(1)

# No deadline: a busy machine is no fault of the program. In CI the same examples every time.
settings.register_profile("followup", deadline=None, derandomize=in_ci(), print_blob=True)
settings.load_profile("followup")


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


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file with all tables and no rows, to be copied."""
    path = tmp_path_factory.mktemp("template") / "followup.db"
    return _migrated(f"sqlite:///{path}", path)


@pytest.fixture(scope="session")
def migrated_database(postgres: PrivatePostgres) -> str:
    """The name of a PostgreSQL database with all tables and no rows, to be copied."""
    return _migrated(postgres.create("migrated"), "migrated")


def _migrated(url: str, copied_from: T) -> T:
    store = open_store(url)
    migrate(store)
    store.close()
    return copied_from


@contextmanager
def _new_database(server: PrivatePostgres, template: str) -> Iterator[str]:
    name = f"followup_{next(_numbers)}"
    yield server.create(name, template)
    server.drop(name)


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The URL of a new database without tables, once on SQLite and once on PostgreSQL."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
        return
    with _new_database(request.getfixturevalue("postgres"), "template0") as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The URL of a new database with all tables and no rows, once on SQLite and once on PostgreSQL."""
    if request.param == "sqlite":
        copy = shutil.copy(request.getfixturevalue("migrated_file"), tmp_path / "followup.db")
        yield f"sqlite:///{copy}"
        return
    server, template = request.getfixturevalue("postgres"), request.getfixturevalue("migrated_database")
    with _new_database(server, template) as url:
        yield url


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    """A store with all tables and no rows, once on SQLite and once on PostgreSQL."""
    opened = open_store(store_url)
    yield opened
    opened.close()


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
