"""One Chromium for all tests of a file."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from chromium import chromium
from playwright.sync_api import Browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture(autouse=True)
def _what_a_test_opened_is_closed(request: pytest.FixtureRequest) -> Iterator[None]:
    """Pages left open go on asking the server and drawing, beside every test that follows."""
    if "browser" not in request.fixturenames:
        yield
        return
    browser: Browser = request.getfixturevalue("browser")
    before = browser.contexts
    yield
    for context in browser.contexts:
        if context not in before:
            context.close()
