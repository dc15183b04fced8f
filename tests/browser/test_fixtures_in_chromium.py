"""A fixture is drawn by hand with pointer and keys, filled, and a table is given to an item.

Source of the limits: WCAG 2.2, success criterion 1.4.10 (no sideways scrolling at 320 px).
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, expect

from kerfwright.shop.files import load_order
from kerfwright.web.reading import READERS

expect.set_options(timeout=15_000)

EXAMPLES = Path(__file__).parents[2] / "examples"

TABLE = (
    "boat;berth;link\nMöwe;A 1;https://eiderwick.example/b/1\nAuk;;https://eiderwick.example/b/2\n"
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("workshop")
    shutil.copy(EXAMPLES / "regatta" / "machine.toml", folder)
    shutil.copytree(EXAMPLES / "regatta" / "materials", folder / "materials")
    order = folder / "orders" / "moorings"
    shutil.copytree(EXAMPLES / "batch", order)
    text = (order / "order.toml").read_text("utf-8").replace("../regatta/", "../../")
    (order / "order.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    READERS.ask("", len, "")
    with served(folder) as at:
        yield f"{at}/orders/moorings"


def test_pockets_are_drawn_moved_and_taken_out_of_use(
    browser: Browser, address: str, folder: Path
) -> None:
    opened = Opened(browser, address)
    page = opened.page
    page.locator(".fixtures > summary").click()
    page.get_by_role("button", name="Add one drawn by hand").click()
    form = page.locator(".fixture-form")
    form.get_by_label("Called").fill("fob tray")
    form.get_by_label("Draw rectangles").check()
    board = form.locator("svg.by-hand-board")
    board.scroll_into_view_if_needed()
    at = board.bounding_box()
    assert at is not None
    page.mouse.move(at["x"] + 0.2 * at["width"], at["y"] + 0.6 * at["height"])
    page.mouse.down()
    page.mouse.move(at["x"] + 0.4 * at["width"], at["y"] + 0.8 * at["height"], steps=3)
    page.mouse.up()
    form.get_by_role("button", name="Add a circle").click()
    expect(form.get_by_label("Diameter in mm")).to_have_value("50")
    page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("ArrowRight")
    form.get_by_role("button", name="Add a rectangle").click()
    page.keyboard.press("Delete")
    form.get_by_role("button", name="Add the fixture").click()
    card = page.locator(".fixture-card", has_text="fob tray")
    expect(card.get_by_text("2 pockets")).to_be_visible()
    pocket = card.get_by_role("button", name="Pocket 1, in use")
    pocket.focus()
    page.keyboard.press("Enter")
    expect(card.get_by_role("button", name="Pocket 1, out of use")).to_be_focused()
    (tray,) = load_order(folder / "orders" / "moorings" / "order.toml").fixtures
    rectangle, circle = tray.placed
    assert (circle.centre_mm, circle.diameter_mm) == ((151, 110), 50)
    # a board of 300 × 200 mm with an edge of 5 mm, drawn as large as its place is high
    px_per_mm = at["height"] / 210
    assert rectangle.width_mm == pytest.approx(0.2 * at["width"] / px_per_mm, abs=1.1)
    assert float(rectangle.width_mm or 0).is_integer()
    assert tray.out_of_use == (1,)
    assert opened.complaints == []


def test_a_table_is_shown_with_what_it_fills_and_what_is_empty(
    browser: Browser, address: str
) -> None:
    opened = Opened(browser, address, viewport={"width": 320, "height": 800})
    page = opened.page
    box = page.locator(".batch").first
    box.locator("summary").click()
    expect(box.get_by_text("boats.csv: 8 rows")).to_be_visible()
    table = {"name": "new.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    box.get_by_label("Choose a table").set_input_files(table)  # type: ignore[arg-type]
    expect(box.get_by_text("new.csv: 2 rows")).to_be_visible()
    expect(box.get_by_text("fills {berth}")).to_be_attached()
    expect(box.get_by_text("Nothing stands under “berth” in row 3.")).to_be_visible()
    box.get_by_role("button", name="Remove the table").click()
    expect(box.get_by_text("Drop a table (CSV) here.")).to_be_visible()
    box.get_by_role("button", name="Undo").click()
    expect(box.get_by_text("new.csv: 2 rows")).to_be_visible()
    laid = page.locator(".in-fixture").first
    laid.locator("summary").click()
    expect(laid.get_by_text("2 copies in 6 pockets: 1 load")).to_be_visible()
    laid.get_by_label("From the blank’s edge in mm").fill("40")
    laid.get_by_label("From the blank’s edge in mm").press("Tab")
    expect(laid.get_by_text("reach")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert opened.complaints == []
