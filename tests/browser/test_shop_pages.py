"""Stock, recipes, runs and calibration as pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, expect

from small_workshop import SmallWorkshop


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("shop")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KERFWRIGHT_RECORDS", str(folder / "records.sqlite"))
        with served(SmallWorkshop(folder).folder) as at:
            yield at


def test_a_sheet_comes_in_and_goes_out(browser: Browser, address: str) -> None:
    opened = Opened(browser, f"{address}/stock")
    page = opened.page
    expect(page.get_by_text("Nothing is in stock yet")).to_be_visible()
    expect(page.get_by_role("button", name="Labels for the ticked pieces")).to_be_hidden()
    page.get_by_text("Put sheets or an offcut into stock").click()
    page.get_by_label("Material, as its file names it").fill("board")
    page.get_by_label("Size in mm").fill("600x400")
    page.get_by_label("How many").fill("2")
    page.get_by_label("One of these is worth").fill("12.50")
    page.get_by_role("button", name="Put into stock", exact=True).click()
    row = page.get_by_role("row", name="S-001")
    expect(row).to_contain_text("600 × 400")
    expect(row).to_contain_text("12.50 EUR")
    expect(page.get_by_role("row", name="Worth in all")).to_contain_text("25.00 EUR")
    expect(page.get_by_role("button", name="Labels for the ticked pieces")).to_be_visible()
    row.get_by_role("button", name="Change S-001").click()
    page.get_by_label("What happens").select_option("scrap")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(row.get_by_role("cell").nth(4)).to_have_text("1")
    assert opened.complaints == []


@pytest.mark.parametrize(
    "path", ["stock", "recipes", "quotes", "runs", "calibration", "", "help/index"]
)
@pytest.mark.parametrize("width", [320, 1100])
def test_no_page_scrolls_sideways_or_complains(
    browser: Browser, address: str, path: str, width: int
) -> None:
    opened = Opened(browser, f"{address}/{path}", viewport={"width": width, "height": 700})
    opened.page.wait_for_load_state("networkidle")
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.complaints == []


def test_recipes_are_shown_with_how_far_they_can_be_trusted(browser: Browser, address: str) -> None:
    page = Opened(browser, f"{address}/recipes").page
    row = page.get_by_role("row", name="trial machine").first
    expect(row).to_contain_text("cut")
    expect(row).to_contain_text("untested")
    # 0.72 in the material's file
    expect(row).to_contain_text("power 72 %")
    expect(page.get_by_text("No recipe for photo: where to begin").first).to_be_attached()


def test_help_opens_by_a_key_for_what_has_the_focus(browser: Browser, address: str) -> None:
    page = Opened(browser, f"{address}/stock").page
    page.get_by_label("Material", exact=True).focus()
    with page.expect_popup() as opened:
        page.keyboard.press("F1")
    opened.value.wait_for_load_state()
    assert opened.value.url.endswith("/help/stock")
