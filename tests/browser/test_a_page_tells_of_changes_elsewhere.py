"""A page whose order was changed elsewhere says so, loses nothing, and offers to load it anew."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, expect

from small_workshop import SLUG, SmallWorkshop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, SmallWorkshop]]:
    made = SmallWorkshop(tmp_path_factory.mktemp("two"))
    with served(made.folder) as address:
        yield address, made


def test_the_second_of_two_pages_is_told(browser: Browser, shop: tuple[str, SmallWorkshop]) -> None:
    address, made = shop
    first, second = (Opened(browser, f"{address}/orders/{SLUG}").page for _ in range(2))
    for page in (first, second):
        expect(page.locator("#item-0-quantity")).to_have_value("4")
    first.locator("#item-0-quantity").fill("5")
    first.locator("#item-0-quantity").press("Tab")
    expect(first.locator("#said")).to_have_text("Saved.")
    second.locator("#item-0-quantity").fill("9")
    second.locator("#item-0-quantity").press("Tab")
    again = second.get_by_role("button", name="Load the order anew")
    expect(again).to_be_focused()
    assert "quantity = 5" in (made.order / "order.toml").read_text()
    again.click()
    expect(second.locator("#item-0-quantity")).to_have_value("5")
    expect(again).to_be_hidden()
    second.locator("#item-0-quantity").fill("9")
    second.locator("#item-0-quantity").press("Tab")
    expect(second.locator("#said")).to_have_text("Saved.")
    assert "quantity = 9" in (made.order / "order.toml").read_text()


def test_two_changes_at_once_of_one_page_are_both_made(
    browser: Browser, shop: tuple[str, SmallWorkshop]
) -> None:
    address, made = shop
    opened = Opened(browser, f"{address}/orders/{SLUG}")
    page = opened.page
    expect(page.locator("#item-0-quantity")).not_to_have_value("")
    page.locator("#item-0-quantity").evaluate(
        "(one) => { const fire = (id, value) => { const field = document.getElementById(id);"
        " field.value = value; field.dispatchEvent(new Event('change')); };"
        " fire('item-0-quantity', '3'); fire('item-0-name', 'Pennant'); }"
    )
    expect(page.locator("#item-0")).to_contain_text("Pennant")
    text = (made.order / "order.toml").read_text()
    assert "quantity = 3" in text
    assert 'name = "Pennant"' in text
    assert opened.complaints == []
