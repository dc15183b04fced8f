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
