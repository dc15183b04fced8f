"""The list of orders and an order's page in a real browser."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser

REGATTA = Path(__file__).parents[2] / "examples" / "regatta"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("workshop") / "regatta"
    shutil.copytree(REGATTA, folder)
    with served(folder) as at:
        yield at


def test_an_order_opens_from_the_list_without_complaint(browser: Browser, address: str) -> None:
    opened = Opened(browser, address)
    opened.page.get_by_role("link", name="Eiderwick regatta").click()
    opened.page.get_by_role("heading", name="Eiderwick regatta", level=1).wait_for()
    headings = opened.page.get_by_role("heading", level=2).all_inner_texts()
    assert headings == ["Drawings", "Parts", "Sheets", "Beam order", "Price", "Run"]
    assert opened.complaints == []
