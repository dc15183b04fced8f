"""The small workshop with key fobs in a fixture: thirteen of them in four pockets."""

from __future__ import annotations

from pathlib import Path

from small_shop import HEAD, svg
from small_workshop import SmallWorkshop

MARKS = '<g id="Engrave"><rect x="4" y="4" width="12" height="7"/></g>'

BOARD = """
[[fixtures]]                           # lies against the stop
name = "fob board"
width_mm = 110
height_mm = 60
at_mm = [15, 20]
out_of_use = [4]                       # worn

[fixtures.grid]
columns = 2
rows = 2
first_mm = [30, 15]
pitch_mm = [50, 30]
width_mm = 40
height_mm = 18
"""

ITEM = """
[[items]]
name = "fob"
drawing = "fob.svg"
material = "board"
fixture = "fob board"
fit = "centre"
quantity = 7
"""


def fobs(folder: Path) -> SmallWorkshop:
    made = SmallWorkshop(folder)
    head = HEAD.replace('"machine.toml"', '"../../machine.toml"').replace(
        '"board.toml"', '"../../materials/board.toml"'
    )
    (made.order / "fob.svg").write_text(svg(MARKS, 40, 18), encoding="utf-8")
    (made.order / "order.toml").write_text(head + ITEM + BOARD, encoding="utf-8")
    return made
