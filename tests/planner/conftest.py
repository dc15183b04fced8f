"""The small shop that the specifications of the whole line are run in."""

from __future__ import annotations

from pathlib import Path

import pytest

from small_shop import SmallShop


@pytest.fixture
def shop(tmp_path: Path) -> SmallShop:
    return SmallShop(tmp_path)
