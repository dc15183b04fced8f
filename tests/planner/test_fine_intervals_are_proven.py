"""Lines much closer than the spot is wide are burned and proven like others. Numbers invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from small_shop import OUTLINE, SmallShop

AREAS = '<g id="Engrave"><rect x="5" y="5" width="10" height="10"/></g>'


@pytest.mark.parametrize("way", ["scan", "contour-parallel"])
def test_an_interval_below_half_the_spot(tmp_path: Path, way: str) -> None:
    shop = SmallShop(tmp_path)
    shop.change("machine.toml", "power_w = 60", "power_w = 60\nspot_mm = 0.13")
    shop.change("board.toml", "interval_mm = 0.25", "interval_mm = 0.05")
    shop.draw(OUTLINE + AREAS, settings=f'engrave = "{way}"')
    ran = shop.plan()
    assert ran.exit_code == 0, ran.told
