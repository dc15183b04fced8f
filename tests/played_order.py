"""A small order, planned, with what playing it needs beside its plan. All numbers are invented."""

from __future__ import annotations

from pathlib import Path

from kerfwright.output.writing import write_plan
from kerfwright.plan import Plan
from kerfwright.planner import plan_order
from kerfwright.web.playback import write_playback
from small_shop import SmallShop

BOARDS = """
<g id="Outline" fill="none" stroke="black">
  <rect x="1" y="1" width="30" height="20"/><rect x="31" y="1" width="30" height="20"/>
  <rect x="1" y="24" width="30" height="7"/>
</g>
<g id="Score" fill="none" stroke="black"><path d="M 4,18 H 28 M 4,27 H 28"/></g>
<g id="Engrave">
  <rect x="6" y="5" width="14" height="4"/><rect x="40" y="5" width="6" height="9"/>
</g>
"""
"""Two boards that share an edge and one apart; two are scored, two engraved."""

AS_DRAWN = 'place = "as-drawn"\nname = "boards"'


def played_order(folder: Path, body: str = BOARDS, item: str = AS_DRAWN) -> tuple[SmallShop, Plan]:
    """Make and plan the order in a folder, as the pages would."""
    shop = SmallShop(folder)
    shop.write(
        "drawn.svg",
        f'<svg xmlns="http://www.w3.org/2000/svg" width="64mm" height="32mm" '
        f'viewBox="0 0 64 32">{body}</svg>',
    )
    shop.order("drawn.svg", item=item)
    plan = plan_order(shop.order_file)
    write_plan(plan, folder / "plan")
    write_playback(plan, folder / "plan")
    return shop, plan
