"""Photographs the pages: the example order is planned on its page, in a real Chromium."""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

HERE = Path(__file__).parent
TOP = HERE.parents[1]
sys.path.insert(0, str(TOP / "tests" / "browser"))

from chromium import chromium, served  # noqa: E402

PATIENCE_MS = 600_000

DESK = {"width": 1180, "height": 860}
PHONE = {"width": 390, "height": 844}

DRAWN = """stage => {
  const canvas = stage.querySelector("canvas");
  const small = new OffscreenCanvas(60, 40).getContext("2d");
  small.drawImage(canvas, 0, 0, 60, 40);
  const now = small.getImageData(0, 0, 60, 40).data.join();
  const same = now === window.lastDrawn;
  window.lastDrawn = now;
  return same;
}"""
"""Whether the picture of the beam is the same as when it was last asked."""


def keep(name: str, shot: bytes) -> None:
    """Write a picture with few colours, which these pages do not need many of."""
    picture = Image.open(io.BytesIO(shot)).convert("RGB")
    few = picture.quantize(128, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(HERE / f"pages-{name}.png", optimize=True)
    print(f"pages-{name}.png: {(HERE / f'pages-{name}.png').stat().st_size / 1000:.0f} kB")


def opened(browser: Browser, address: str, size: dict[str, int]) -> Page:
    """Open a page where nothing moves by itself."""
    page = browser.new_page(viewport=size, device_scale_factor=1, reduced_motion="reduce")  # type: ignore[arg-type]
    page.goto(address)
    return page


def planned(page: Page) -> None:
    """Plan the order and wait for it."""
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.locator("#planning-state")).to_contain_text("Planned", timeout=PATIENCE_MS)


def at_top(page: Page, element: Locator) -> None:
    """Bring an element just below the links to the sections."""
    element.wait_for()
    below = page.locator(".jumps").bounding_box()["height"] + 12  # type: ignore[index]
    element.evaluate("(e, y) => scrollBy(0, e.getBoundingClientRect().top - y)", below)


def all_drawings(page: Page) -> None:
    """Wait until every drawing is seen."""
    expect(page.locator(".item .stage:has(.part)")).to_have_count(4, timeout=PATIENCE_MS)


def beam_drawn(page: Page) -> None:
    """Wait until the picture of the beam changes no more."""
    stage = page.locator(".play-stage").first
    stage.evaluate(DRAWN)
    while not stage.evaluate(DRAWN):
        page.wait_for_timeout(1000)


def photograph(browser: Browser, address: str) -> None:
    """Keep pictures of a planned order's page."""
    desk = opened(browser, address, DESK)
    all_drawings(desk)
    desk.evaluate("scrollTo(0, 0)")
    keep("order", desk.screenshot())
    at_top(desk, desk.locator("#sheets article.card").nth(2))
    keep("sheets", desk.screenshot())
    desk.get_by_role("combobox", name="Sheet", exact=True).select_option("3")
    at_top(desk, desk.locator(".play"))
    beam_drawn(desk)
    keep("beam", desk.screenshot())
    phone = opened(browser, address, PHONE)
    all_drawings(phone)
    phone.evaluate("scrollTo(0, 0)")
    keep("phone", phone.screenshot())


def main() -> None:
    """Plan the example in a folder of its own, then photograph it."""
    with tempfile.TemporaryDirectory() as folder:
        workshop = Path(folder) / "regatta"
        shutil.copytree(TOP / "examples" / "regatta", workshop)
        with chromium() as browser:
            with served(workshop) as address:
                planned(opened(browser, f"{address}/orders/regatta", DESK))
            with served(workshop) as address:
                photograph(browser, f"{address}/orders/regatta")


if __name__ == "__main__":
    main()
