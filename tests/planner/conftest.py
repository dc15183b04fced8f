"""The small shop that the specifications of the whole line are run in."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from small_shop import SmallShop


@pytest.fixture
def shop(tmp_path: Path) -> SmallShop:
    return SmallShop(tmp_path)


@pytest.fixture(scope="session")
def _planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    shop = SmallShop(tmp_path_factory.mktemp("planned"))
    shop.planned()
    return shop.out


@pytest.fixture
def planned(shop: SmallShop, _planned_once: Path) -> SmallShop:
    """The small shop with its order planned: as the command did it once, copied for each."""
    shutil.copytree(_planned_once, shop.out)
    return shop
