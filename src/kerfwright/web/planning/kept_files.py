"""What the pages need beside a plan, written into the folder ``pages`` of the plan."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.plan import Plan
from kerfwright.shop.files import Shop
from kerfwright.web.playback import write_playback
from kerfwright.web.price_files import NO_PRICE_FILE, QUOTE_FILES, write_price
from kerfwright.web.sheet_files import write_sheets

PAGES_FOLDER = "pages"

Writer = Callable[[Shop, Plan, Path, Kept], None]


def _price(shop: Shop, plan: Plan, folder: Path, _kept: Kept) -> None:
    write_price(shop, plan, folder)


def _sheets(shop: Shop, plan: Plan, folder: Path, _kept: Kept) -> None:
    write_sheets(shop, plan, folder)


def _playback(_shop: Shop, plan: Plan, folder: Path, kept: Kept) -> None:
    write_playback(plan, folder, kept)


WRITERS: tuple[Writer, ...] = (_price, _sheets, _playback)
"""Each gets the order, its plan, the plan's folder and what is kept, and writes into the folder."""


def write_for_pages(
    shop: Shop, plan: Plan, folder: Path, kept: Kept = NOTHING_KEPT
) -> Sequence[str]:
    """Write what the pages need of a plan; what an earlier plan left for them goes first.

    Returns the names of all that such a plan may leave in its folder.

    What is shown of a sheet that is equal to one written before is taken from what is ``kept``.
    """
    shutil.rmtree(folder / PAGES_FOLDER, ignore_errors=True)
    (folder / PAGES_FOLDER).mkdir()
    for write in WRITERS:
        write(shop, plan, folder, kept)
    return (PAGES_FOLDER, *QUOTE_FILES, NO_PRICE_FILE)
