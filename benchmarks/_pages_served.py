"""The pages served to a real Chromium, and frames counted in it."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import numpy.typing as npt
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from kerfwright.web.app import guarded, make_app
from kerfwright.web.serving import PageServer
from kerfwright.web.workshop import Workshop

REGATTA = Path(__file__).parents[1] / "examples" / "regatta"

QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]

FRAMES = """async (seconds) => {
  const times = [];
  await new Promise((done) => {
    const begun = performance.now();
    const frame = (now) => {
      times.push(now);
      if (now - begun < 1000 * seconds) requestAnimationFrame(frame);
      else done();
    };
    requestAnimationFrame(frame);
  });
  return times;
}"""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve a workshop's folder from this process; gives the address without a slash behind."""
    pages = make_app(Workshop(folder))
    config = uvicorn.Config(guarded(pages), port=0, log_level="warning", lifespan="on")
    server = PageServer(config, pages.state.plannings.hush)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not (server.started and server.servers):
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(timeout=20)


@contextmanager
def chromium() -> Iterator[Browser]:
    """Give the Chromium of this computer, without a graphics processor."""
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=QUIET)
        try:
            yield browser
        finally:
            browser.close()


def frames_apart_ms(page: Page, seconds: float) -> npt.NDArray[np.float64]:
    """Milliseconds between the frames of some seconds."""
    return np.asarray(np.diff(page.evaluate(FRAMES, seconds)))


def first_paint_ms(page: Page) -> float | None:
    """First Contentful Paint (W3C Paint Timing) of what the page was opened with."""
    painted: float | None = page.evaluate(
        "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime"
    )
    return painted
