from __future__ import annotations

import asyncio

import pytest
from sqlalchemy import create_engine, text
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route

from tests.browsing import aside
from tests.needed import judged

GOOD = "<!doctype html><html lang=en><title>A page</title><main><h1>Skin check</h1></main></html>"
BAD = "<!doctype html><html lang=en><title>A page</title><main><h1>Skin check</h1><img src=x></main></html>"


async def good(request):
    return HTMLResponse(GOOD)


async def bad(request):
    return HTMLResponse(BAD)


SITE = Starlette(routes=[Route("/good", good), Route("/bad", bad)])


async def seven():
    return 7


def test_a_new_store_is_empty_and_takes_rows(empty_store_url):
    engine = create_engine(empty_store_url)
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE mark (minutes INTEGER)"))
        connection.execute(text("INSERT INTO mark VALUES (20)"))
        assert connection.scalar(text("SELECT minutes FROM mark")) == 20
    engine.dispose()


def test_a_migrated_store_can_be_opened_read_and_written(store):
    with store.write() as connection:
        connection.execute(text("CREATE TABLE mark (minutes INTEGER)"))
    with store.read() as connection:
        assert connection.scalar(text("SELECT count(*) FROM mark")) == 0


def test_the_accessibility_check_passes_a_sound_page_and_names_a_fault(page, axe, serve):
    address = serve(SITE)
    page.goto(f"{address}/good")
    assert axe(page) == []
    page.goto(f"{address}/bad")
    assert any(each.startswith("image-alt") for each in axe(page))


def test_asyncio_runs_aside_while_a_browser_is_open(page):
    assert aside(lambda: asyncio.run(seven())) == 7


@pytest.mark.parametrize(
    ("outcome", "fixtures", "ci", "counts"),
    [
        ("skipped", {"browser"}, True, "failed"),
        ("skipped", {"store_url"}, True, "failed"),
        ("skipped", {"browser"}, False, "skipped"),
        ("skipped", {"tmp_path"}, True, "skipped"),
        ("passed", {"browser"}, True, "passed"),
    ],
)
def test_in_ci_a_skipped_browser_or_postgresql_test_counts_as_failed(outcome, fixtures, ci, counts):
    assert judged(outcome, fixtures, ci) == counts
