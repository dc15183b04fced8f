"""Sheets on an order's page: parts are moved, lined up and pinned by pointer and by keys alone."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, Locator, Page, expect

from small_workshop import SLUG, SmallWorkshop


@pytest.fixture
def workshop(tmp_path: Path) -> SmallWorkshop:
    made = SmallWorkshop(tmp_path)
    made.plan()
    return made


@pytest.fixture
def opened(browser: Browser, workshop: SmallWorkshop) -> Iterator[Opened]:
    with served(workshop.folder) as address:
        page = Opened(browser, f"{address}/orders/{SLUG}")
        page.page.locator(".sheet .part").first.wait_for()
        yield page


def order(workshop: SmallWorkshop) -> dict[str, Any]:
    return tomllib.loads((workshop.order / "order.toml").read_text(encoding="utf-8"))


def part(page: Page, number: int = 0) -> Locator:
    return page.locator(".sheet .part").nth(number)


def at(page: Page) -> tuple[float, float]:
    x, y = (page.get_by_label(name, exact=True).input_value() for name in ("x", "y"))
    return float(x), float(y)


def test_a_part_is_moved_by_keys(opened: Opened) -> None:
    page = opened.page
    part(page).focus()
    x, y = at(page)
    for key in ("ArrowRight", "Shift+ArrowUp", "Alt+ArrowRight"):
        page.keyboard.press(key)
    assert at(page) == pytest.approx((x + 1.1, y + 10.0), abs=0.011)
    page.keyboard.press("Escape")
    assert at(page) == pytest.approx((x, y), abs=0.011)
    assert opened.complaints == []


def test_a_part_is_dragged_and_snaps_to_the_margin(opened: Opened) -> None:
    page = opened.page
    page.locator(".sheet").scroll_into_view_if_needed()
    box = part(page).locator(".outline").bounding_box()
    sheet = page.locator(".sheet-area").bounding_box()
    assert box is not None
    assert sheet is not None
    px_per_mm = sheet["width"] / 120.0
    page.mouse.move(box["x"] + 3, box["y"] + 3)
    page.mouse.down()
    # its right edge to 4 mm from the sheet's, where the margin of 5 mm is near
    right = sheet["x"] + sheet["width"] - 4.0 * px_per_mm
    page.mouse.move(box["x"] + 3 + right - (box["x"] + box["width"]), box["y"] + 3, steps=5)
    expect(page.locator(".snapped").first).to_be_attached()
    page.mouse.up()
    assert at(page)[0] == pytest.approx(120.0 - 5.0 - 40.0, abs=0.02)


def test_where_a_part_cannot_lie_is_said(opened: Opened) -> None:
    page = opened.page
    part(page).focus()
    page.get_by_label("x", exact=True).fill("-10")
    page.get_by_label("x", exact=True).press("Enter")
    expect(page.get_by_text("It cannot lie there")).to_be_visible()
    expect(page.get_by_role("button", name="Pin here and lay the rest anew")).to_be_disabled()
    page.get_by_role("button", name="Put back").click()
    expect(page.get_by_text("It cannot lie there")).to_be_hidden()


def test_a_part_is_lined_up_and_pinned(browser: Browser, tmp_path: Path) -> None:
    workshop = SmallWorkshop(tmp_path, quantity=1)
    workshop.plan()
    with served(workshop.folder) as address:
        page = Opened(browser, f"{address}/orders/{SLUG}").page
        pin_in_the_corner(page)
    (kept,) = order(workshop)["items"][0]["pinned"]
    assert kept["at_mm"] == pytest.approx([75.0, 65.0])
    assert (kept["part"], kept["on_sheet"]) == (1, "offcut")


def pin_in_the_corner(page: Page) -> None:
    part(page).focus()
    page.get_by_role("button", name="Right", exact=True).click()
    page.get_by_role("button", name="Top", exact=True).click()
    expect(page.get_by_label("x", exact=True)).to_have_value("75.00")
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.get_by_role("button", name="Pin here and lay the rest anew").click()


def test_a_whole_sheet_is_kept_as_it_lies(opened: Opened, workshop: SmallWorkshop) -> None:
    page = opened.page
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.get_by_role("button", name="Keep this sheet as it lies").click()
    pins = order(workshop)["items"][0]["pinned"]
    assert len(pins) == 4
    assert {one["sheet_number"] for one in pins} == {1}


def test_an_area_is_kept_free_by_drawing_it(opened: Opened, workshop: SmallWorkshop) -> None:
    page = opened.page
    page.get_by_text("Areas to keep free").click()
    page.get_by_role("button", name="Draw it on the sheet").click()
    page.locator(".sheet").scroll_into_view_if_needed()
    sheet = page.locator(".sheet-area").bounding_box()
    assert sheet is not None
    px = sheet["width"] / 120.0
    x, y = sheet["x"] + 90 * px, sheet["y"] + 10 * px
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20 * px, y + 15 * px, steps=4)
    page.mouse.up()
    page.get_by_label("What is there").fill("clamp")
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.get_by_role("button", name="Keep free, and lay all anew").click()
    (area,) = order(workshop)["stock"][0]["keep_out"]
    assert area["why"] == "clamp"
    assert [area[key] for key in ("x_mm", "y_mm", "width_mm", "height_mm")] == pytest.approx(
        [90.0, 75.0, 20.0, 15.0], abs=1.0
    )


def test_a_guide_line_is_laid_and_never_planned(opened: Opened, workshop: SmallWorkshop) -> None:
    page = opened.page
    page.get_by_text("Guide lines").click()
    page.get_by_label("at mm").fill("60")
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.get_by_role("button", name="Lay the line").click()
    assert order(workshop)["guides"] == [{"sheet": "offcut", "x_mm": 60}]
    expect(page.locator(".sheet .guide")).to_have_count(1)


def test_a_change_elsewhere_asks_for_no_sheets_and_leaves_the_focus(opened: Opened) -> None:
    page = opened.page
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    part(page).focus()
    page.evaluate("document.activeElement.dataset.before = 'yes'")  # only this very element has it
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        page.evaluate(
            """() => {
              const title = document.querySelector('#drawings input[maxlength="200"]');
              title.value = "Another title";
              title.dispatchEvent(new Event("change"));
            }"""
        )
    expect(page.locator("h1")).to_have_text("Another title")
    expect(page.locator("#sheets .banner")).to_be_visible()
    assert not [url for url in asked if url.endswith("/sheets")]
    assert page.evaluate("document.activeElement.dataset.before") == "yes"
