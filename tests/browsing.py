from __future__ import annotations

import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

T = TypeVar("T")
SWITCHES = [
    "--no-sandbox",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-component-update",
    "--disable-background-networking",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
]


def chromium() -> str | None:
    """Where Debian's browser is on this machine."""
    return shutil.which("chromium")


@contextmanager
def running_browser(executable: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable, args=SWITCHES)
        yield browser
        browser.close()


def violations(page: Page) -> list[str]:
    """What the accessibility check finds wrong with the page as shown: rule, words, and where. Empty is good."""
    found = Axe().run(page).response["violations"]
    return [f"{each['id']}: {each['help']}: {node['target']}" for each in found for node in each["nodes"]]


@contextmanager
def served(site: Any) -> Iterator[str]:
    """Serve an ASGI application on a free loopback port; its address, without a slash at the end."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(uvicorn.Config(site, log_level="warning", lifespan="off", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        try:
            yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(timeout=20)


def aside(function: Callable[..., T], *arguments: Any) -> T:
    """Call in another thread: while a browser is open its event loop occupies this one, and `asyncio.run` refuses."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(function, *arguments).result()
