"""Printed pages hold what was decided, black on white, and nothing to press."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import pypdfium2 as pdfium
import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, Page

from small_workshop import SLUG, SmallWorkshop

READY = {
    "": "article.order",
    "stock": "[data-help=stock] .scroll",
    "recipes": "table",
    "quotes": "table",
    "runs": "section table",
    "calibration": "#main h1",
    f"orders/{SLUG}": ".play-stage[data-drawn]",
}
"""The pages, and what is there last."""

HEADINGS = "() => [...document.querySelectorAll('h1, h2, h3, h4')].map(e => e.innerText.trim())"

CONTROLS = """() => [...document.querySelectorAll(
  'button, input, select, textarea, summary, nav, a.button, .jumps, .drop, dialog')]
  .filter(e => e.checkVisibility() && !e.matches('.printed, .sign, .folded > summary'))
  .map(e => e.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    workshop = SmallWorkshop(tmp_path_factory.mktemp("eiderwick"))
    workshop.plan()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KERFWRIGHT_RECORDS", str(workshop.folder / "records.sqlite"))
        with served(workshop.folder) as at:
            client = workshop.client()
            sheets = {"material": "board", "size": "600x400", "count": 2, "kind": "sheet"}
            client.post("/api/stock", json={**sheets, "location": "rack 3"}).raise_for_status()
            client.put(f"/api/orders/{SLUG}/on-record", json={}).raise_for_status()
            run = {"sheet": 1, "minutes": "0:42", "note": "lay well", "sure": True}
            client.post(f"/api/orders/{SLUG}/runs", json=run).raise_for_status()
            yield at


def complete(browser: Browser, address: str, path: str, **context: object) -> Page:
    page = Opened(browser, f"{address}/{path}", reduced_motion="reduce", **context).page
    for selector in READY[path].split(", "):
        page.locator(selector).first.wait_for()
    page.wait_for_load_state("networkidle")
    return page


def printed(page: Page) -> pdfium.PdfDocument:
    return pdfium.PdfDocument(page.pdf(prefer_css_page_size=True))


def words(document: pdfium.PdfDocument) -> list[str]:
    """The text of each page."""
    return [sheet.get_textpage().get_text_bounded() for sheet in document]


def whiteness(document: pdfium.PdfDocument) -> list[float]:
    """Mean of every page, 0 is black and 1 white."""
    pages = (sheet.render(scale=0.5, grayscale=True).to_numpy() for sheet in document)
    return [float(np.mean(page)) / 255.0 for page in pages]


@dataclass(frozen=True)
class Sides:
    """A page on the screen and on paper: what there is to press, its headings, its words."""

    to_press: list[str]
    pressed_on_paper: list[str]
    headings: set[str]
    paper: pdfium.PdfDocument


@pytest.fixture(scope="module")
def sides(browser: Browser, address: str) -> Callable[[str], Sides]:
    """Each page, opened and printed once for all that look at it."""

    @cache
    def of(path: str) -> Sides:
        page = complete(browser, address, path)
        to_press, headings = page.evaluate(CONTROLS), set(page.evaluate(HEADINGS))
        paper = printed(page)
        page.emulate_media(media="print")
        return Sides(to_press, page.evaluate(CONTROLS), headings, paper)

    return of


@pytest.mark.parametrize("path", READY)
def test_nothing_to_press_is_printed(sides: Callable[[str], Sides], path: str) -> None:
    assert sides(path).to_press, "on the screen there is something to press"
    assert sides(path).pressed_on_paper == []


@pytest.mark.parametrize("path", READY)
def test_paper_is_white_in_the_dark_scheme_too(
    browser: Browser, address: str, sides: Callable[[str], Sides], path: str
) -> None:
    light = sides(path).paper
    dark = printed(complete(browser, address, path, color_scheme="dark"))
    assert words(dark) == words(light)
    assert whiteness(dark) == pytest.approx(whiteness(light), abs=0.03)
    assert min(whiteness(dark)) > 0.7


@pytest.mark.parametrize("path", READY)
def test_no_heading_stands_last_on_a_page(sides: Callable[[str], Sides], path: str) -> None:
    texts = words(sides(path).paper)
    last = [text.strip().splitlines()[-1].strip() for text in texts if text.strip()]
    assert not sides(path).headings.intersection(last)


def test_an_order_is_printed_with_all_that_was_decided(browser: Browser, address: str) -> None:
    page = complete(browser, address, f"orders/{SLUG}")
    title = page.locator("h1").inner_text()
    text = "\n".join(words(printed(page)))
    for wanted in (
        title,
        "board",
        "Machine time",
        "Cost of sheets and machine",
        "Sheet 1",
        "Findings",
        "Beam order",
        "Run",
    ):
        assert wanted in text
    for unwanted in ("Plan again", "Replace the file", "Ticket to print", "More about this"):
        assert unwanted in page.locator("main").inner_text()
        assert unwanted not in text


def test_where_a_sheet_lies_is_printed_though_it_is_a_button(
    browser: Browser, address: str
) -> None:
    (text,) = words(printed(complete(browser, address, "stock")))
    assert "S-001" in text
    assert "rack 3" in text


def test_notes_that_are_folded_on_the_screen_are_printed(browser: Browser, address: str) -> None:
    page = complete(browser, address, f"orders/{SLUG}")
    page.evaluate(
        """async () => {
          const { findings } = await import("/pages/ui.js");
          const note = (n) => ({ severity: "note", what: `seen ${n} times`, remedy: "", count: 1,
            drawing: "tile.svg", shape: "", code: "parts/alike", x_mm: null });
          document.querySelector("main").prepend(findings([1, 2, 3, 4].map(note)));
        }"""
    )
    assert not page.get_by_text("Seen 4 times").is_visible()
    assert "Seen 4 times" in words(printed(page))[0]
