"""Opens Chromium, and pages that remember what they asked for and what they complained of."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from kerfwright.web.app import guarded, make_app
from kerfwright.web.serving import PageServer
from kerfwright.web.workshop import Workshop

QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
QUIET += ["--disable-component-update", "--disable-sync"]

NAMES = ("chromium", "chromium-browser", "google-chrome")


@contextmanager
def chromium() -> Iterator[Browser]:
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.fail("Chromium is not installed; make test installs it")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=QUIET)
        yield browser
        browser.close()


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve a workshop's folder in this process; gives the address without a slash at its end."""
    pages = make_app(Workshop(folder))
    config = uvicorn.Config(guarded(pages), port=0, log_level="warning", lifespan="on")
    server = PageServer(config, pages.state.plannings.hush)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not (server.started and server.servers):
        if not thread.is_alive():
            pytest.fail("the server did not start")
    port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=20)


class Opened:
    """A page at an address, with what it asked for and complained of."""

    def __init__(self, browser: Browser, address: str, **context: object) -> None:
        self.page: Page = browser.new_context(**context).new_page()  # type: ignore[arg-type]
        self.page.set_default_timeout(15000)
        self.complaints: list[str] = []
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("dialog", lambda dialog: self.complaints.append(dialog.message))
        self.page.goto(address)

    def _heard(self, message: object) -> None:
        if message.type in {"error", "warning"}:  # type: ignore[attr-defined]
            self.complaints.append(message.text)  # type: ignore[attr-defined]
