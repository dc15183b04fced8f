"""An area burned by cells goes all the way to a program that is verified against the drawing."""

from __future__ import annotations

import pytest

from small_shop import SmallShop

LETTER = """\
<g id="Outline" fill="none" stroke="black"><rect x="1" y="1" width="90" height="70"/></g>
<g id="Engrave"><path d="M6 6h80v8h-74v18h74v8h-74v18h74v8h-80z"/></g>
"""


@pytest.mark.parametrize("passes", [1, 2])
def test_letter_by_cells_is_planned_and_proven(shop: SmallShop, passes: int) -> None:
    shop.draw(LETTER, settings='engrave = "mixed"')
    shop.change("machine.toml", "[16000, 3100]", "[16000, 16000]")
    shop.change("board.toml", "speed_mm_s = 400", f"passes = {passes}\nspeed_mm_s = 400")
    document = shop.planned()
    (found,) = (one for one in document["decisions"] if one["code"] == "engraving/ways")
    assert found["chosen"] == "mixed"
    (mixed,) = (way for way in found["alternatives"] if way["way"] == "mixed")
    # the part may lie turned on the sheet: three arms one way, the spine across
    assert "3 cells in rows at " in mixed["note"]
    assert "1 cell in rows at " in mixed["note"]
    assert mixed["time_s"] < min(
        way["time_s"] for way in found["alternatives"] if way["way"] != "mixed"
    )
