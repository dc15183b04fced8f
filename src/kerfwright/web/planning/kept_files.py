"""What the pages need beside a plan, written into the folder ``pages`` of the plan."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from kerfwright.plan import Plan
from kerfwright.shop.files import Shop
from kerfwright.web.playback import write_playback
from kerfwright.web.price_files import write_price
from kerfwright.web.sheet_files import write_sheets

PAGES_FOLDER = "pages"

Writer = Callable[[Shop, Plan, Path], None]


def _playback(_shop: Shop, plan: Plan, folder: Path) -> None:
    write_playback(plan, folder)


WRITERS: tuple[Writer, ...] = (write_price, write_sheets, _playback)
"""Each gets the order, its plan and the plan's folder, and writes what it has into that."""


def write_for_pages(shop: Shop, plan: Plan, folder: Path) -> None:
    """Write what the pages need of a plan; what an earlier plan left for them goes first."""
    shutil.rmtree(folder / PAGES_FOLDER, ignore_errors=True)
    (folder / PAGES_FOLDER).mkdir()
    for write in WRITERS:
        write(shop, plan, folder)
