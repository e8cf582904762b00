"""A headless browser for tests of pages: Chromium as the system has it, driven through Playwright."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
# drawn by the processor alone, the same everywhere; the browser's own calls home are off
ARGUMENTS = [
    "--no-sandbox",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-background-networking",
    "--disable-component-update",
    "--no-first-run",
]


@contextmanager
def browser() -> Iterator:
    """A running browser; the test is skipped where none is installed."""
    from playwright.sync_api import sync_playwright

    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("no Chromium is installed")
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        try:
            yield running
        finally:
            running.close()


DRAWN = "byId('flat').childElementCount > 0"


def until(page, true: str, seconds: float = 30.0) -> None:
    """Wait until an expression is true in a page. The page's own policy forbids it to wait by itself."""
    from playwright.sync_api import Error

    end = time.monotonic() + seconds
    while True:
        try:
            if page.evaluate(true):
                return
        except Error as error:  # the page is being loaded anew
            if "navigation" not in str(error):
                raise
        assert time.monotonic() < end, f"not true in {seconds:g} s: {true}"
        page.wait_for_timeout(50)


class Watched:
    """A page, what it asked for and what went wrong in it."""

    def __init__(self, running, address: str, **look):
        self.page = running.new_page(**({"viewport": {"width": 1280, "height": 900}} | look))
        self.requests: list[str] = []
        self.errors: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("console", lambda said: self.errors.append(said.text) if said.type in ("error", "warning") else None)
        self.page.goto(address)
        until(self.page, DRAWN)
