from __future__ import annotations

import asyncio

from tests.browsing import chromium, running_browser
from tests.needed import absent


async def seven():
    return 7


def test_asyncio_runs_again_once_the_browser_is_closed():
    with running_browser(chromium() or absent("Chromium")) as opened:
        opened.new_page().goto("about:blank")
    assert asyncio.run(seven()) == 7
