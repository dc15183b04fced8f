"""The small workshop, planned once for all that only look at it."""

from __future__ import annotations

from pathlib import Path

import pytest

from small_workshop import SmallWorkshop


@pytest.fixture
def workshop(tmp_path: Path) -> SmallWorkshop:
    return SmallWorkshop(tmp_path)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> SmallWorkshop:
    made = SmallWorkshop(tmp_path_factory.mktemp("planned"))
    made.plan()
    return made
