"""Every page is examined by axe, light and dark, on a phone and on a desk.

Source of the rules: axe-core, which tests WCAG 2.2 A and AA and what it calls best practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from chromium import Opened, served
from playwright.sync_api import Browser, Page

from small_workshop import SLUG, SmallWorkshop

OPTIONS = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}

READY = {
    "": "article.order",
    "stock": "[data-help=stock] .scroll",
    "recipes": "table",
    "quotes": "table",
    "runs": "section table",
    "calibration": "form",
    f"orders/{SLUG}": ".drawing svg .part, .sheet .part, .play-stage, #price table, #run article",
    "help/index": "main",
}
"""The pages, and what is there once they are complete, with commas between."""


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> SmallWorkshop:
    made = SmallWorkshop(tmp_path_factory.mktemp("eiderwick"))
    made.plan()
    return made


@pytest.fixture(scope="module")
def address(workshop: SmallWorkshop) -> Iterator[str]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KERFWRIGHT_RECORDS", str(workshop.folder / "records.sqlite"))
        with served(workshop.folder) as at:
            yield at


@pytest.fixture(scope="module")
def lived_in(workshop: SmallWorkshop, address: str) -> str:
    """The workshop with something in stock, an order on the list of work, and a run on record."""
    client = workshop.client()
    sheets = {"material": "board", "size": "600x400", "count": 2, "kind": "sheet"}
    client.post("/api/stock", json=sheets).raise_for_status()
    client.put(f"/api/orders/{SLUG}/on-record", json={}).raise_for_status()
    run = {"sheet": 1, "minutes": "0:42", "note": "lay well", "sure": True}
    client.post(f"/api/orders/{SLUG}/runs", json=run).raise_for_status()
    return address


def violations(page: Page) -> list[str]:
    found: list[dict[str, Any]] = Axe().run(page, options=OPTIONS).response["violations"]
    return [
        f"{one['impact']} {one['id']}: {node['html'][:160]} {node['failureSummary']}"
        for one in found
        for node in one["nodes"]
    ]


@pytest.mark.parametrize("path", READY)
def test_axe_finds_nothing(browser: Browser, lived_in: str, path: str) -> None:
    opened = Opened(browser, f"{lived_in}/{path}", reduced_motion="reduce")
    page = opened.page
    for part in READY[path].split(", "):
        page.locator(part).first.wait_for()
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    found = []
    for scheme in ("light", "dark"):
        for width in (320, 1200):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            page.set_viewport_size({"width": width, "height": 800})
            found += [f"{scheme}, {width} px: {one}" for one in violations(page)]
            assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert found == []
    assert opened.complaints == []
