"""Draws the pictures of the documentation from the example order."""

from pathlib import Path

from kerfwright.output.pictures import beam_picture, sheet_picture
from kerfwright.planner import plan_order

HERE = Path(__file__).parent
EXAMPLE = HERE.parents[1] / "examples" / "regatta" / "order.toml"

plan = plan_order(EXAMPLE, print)
fullest = max(plan.sheets, key=lambda sheet: len(sheet.parts))
for name, picture in (
    ("planned-sheet", beam_picture(fullest, machine=plan.machine)),
    ("layout", sheet_picture(fullest)),
):
    (HERE / f"{name}.svg").write_text(picture + "\n", encoding="utf-8")
