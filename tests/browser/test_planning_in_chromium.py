"""An order planned from its page: by keyboard, across a reload, and with a choice overruled."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, Page, Route, expect

from small_shop import STOCK, SmallShop

PATIENCE_MS = 240_000
"""On a new machine kernels are compiled first."""

MANY = '\n[[items]]\ndrawing = "tile.svg"\nmaterial = "board"\nquantity = 6\n'

LARGE = STOCK.replace("count = 1", "count = 3").replace("width_mm = 120", "width_mm = 180")

SECTION = """
import { decisions } from "./decisions.js";
import { fill, h } from "./ui.js";
export const id = "beam", title = "Beam order";
export function create(order) {
  const element = h("div", {});
  const show = () => fill(element, decisions(order, order.data.plan_document?.decisions ?? []));
  return { element, show };
}
"""
"""A section that shows every decision there is."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> SmallShop:
    return SmallShop(tmp_path_factory.mktemp("eiderwick"))


@pytest.fixture(scope="module")
def address(shop: SmallShop) -> Iterator[str]:
    with served(shop.folder) as at:
        yield f"{at}/orders/{shop.folder.name}"


def opened(browser: Browser, address: str, **context: object) -> Opened:
    page = Opened(browser, "about:blank", **context)
    page.page.route(
        "**/pages/beam.js",
        lambda route: route.fulfill(content_type="text/javascript", body=SECTION),
    )
    page.page.goto(address)
    page.page.get_by_role("region", name="Plan").wait_for()
    return page


def state(page: Page, words: str) -> None:
    expect(page.locator("#planning-state")).to_contain_text(words, timeout=PATIENCE_MS)


def test_an_order_is_planned_by_keyboard_and_across_a_reload(
    browser: Browser, shop: SmallShop, address: str
) -> None:
    shop.order(items=MANY, stock=LARGE)
    shop.change("order.toml", "nest_seconds = 0.2", "nest_seconds = 600")
    with_page = opened(browser, address)
    page = with_page.page
    state(page, "Not planned yet.")
    page.get_by_role("button", name="Plan", exact=True).focus()
    page.keyboard.press("Enter")
    page.get_by_role("img", name=re.compile("^Sheet 1 of board, offcut: 6 pieces")).wait_for(
        timeout=PATIENCE_MS
    )
    page.reload()
    page.get_by_role("img", name=re.compile("^Sheet 1 of board")).wait_for()
    state(page, "Placing parts")
    page.get_by_role("button", name="Stop and keep the best").press("Space")
    state(page, "Planned")
    expect(page.get_by_role("button", name="Plan again")).to_be_enabled()
    assert page.get_by_role("region", name="Plan").get_by_text("Machine time").is_visible()
    assert page.locator(".nest svg").count() == 0
    assert with_page.complaints == []


def test_a_choice_is_overruled_and_given_back(
    browser: Browser, shop: SmallShop, address: str
) -> None:
    shop.order(items=MANY.replace("quantity = 6", "quantity = 2"))
    page = opened(browser, address).page
    page.get_by_role("button", name=re.compile("^Plan")).click()
    state(page, "Planned in")
    about = page.get_by_role("article", name="order of the work, sheet 1")
    taken = about.get_by_role("row").filter(has_text="(taken)")
    expect(taken).to_contain_text("process by process", timeout=PATIENCE_MS)
    about.get_by_role("button", name="Take this way: part by part").press("Enter")
    expect(taken).to_contain_text("part by part", timeout=PATIENCE_MS)
    state(page, "kept from before")
    assert 'order_of_work = "part"' in shop.order_file.read_text(encoding="utf-8")
    about.get_by_role("button", name="Let Kerfwright choose").press("Enter")
    expect(taken).to_contain_text("process by process", timeout=PATIENCE_MS)
    assert "order_of_work" not in shop.order_file.read_text(encoding="utf-8")


def test_what_stops_a_plan_is_listed(browser: Browser, shop: SmallShop, address: str) -> None:
    shop.draw('<g id="Cut" fill="none" stroke="black"><path d="M 1,1 H 30 V 20"/></g>')
    page = opened(browser, address, viewport={"width": 320, "height": 700}).page
    page.get_by_role("button", name=re.compile("^Plan")).click()
    state(page, "Not planned")
    strip = page.get_by_role("region", name="Plan")
    expect(strip.get_by_role("listitem").first).to_contain_text("Stop", timeout=PATIENCE_MS)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_an_answer_that_comes_after_the_news_of_the_end_changes_nothing(
    browser: Browser, shop: SmallShop, address: str
) -> None:
    shop.draw('<g id="Cut" fill="none" stroke="black"><path d="M 1,1 H 30 V 20"/></g>')
    page = opened(browser, address).page
    shown = page.locator("#planning-state")

    def late(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        answer = route.fetch()
        state(page, "Not planned")
        route.fulfill(response=answer)

    page.route("**/planning", late)
    with page.expect_response(lambda one: one.request.method == "POST") as answered:
        page.get_by_role("button", name=re.compile("^Plan")).click()
    assert answered.value.json()["state"] == "planning"
    page.evaluate("() => new Promise((done) => setTimeout(done, 200))")
    expect(shown).to_contain_text("Not planned")
    expect(shown).to_have_attribute("aria-busy", "false")
