"""Plans an order otherwise than its file says, without touching the order.

The playback of both ways is then shown side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import tomlkit

from kerfwright.planner import plan_order
from kerfwright.shop.database import Database, records_place
from kerfwright.shop.stock_lots import StockedLot
from kerfwright.shop.stock_records import Stock
from kerfwright.web.order_file import Change, changed_text
from kerfwright.web.playback import write_playback
from kerfwright.web.playback_triable import require_triable
from kerfwright.web.workshop import ORDER_FILE

Progress = Callable[[str], None]


def planned_otherwise(
    order_file: Path,
    changes: Sequence[Change],
    folder: Path,
    records: str | None,
    progress: Progress | None = None,
) -> None:
    """Plan an order as if its file were changed, and write the playback of that into ``folder``.

    Raises:
        KerfwrightError: a change is none that can be tried, or the order cannot be planned so.
        PlanStoppedError: a drawing cannot be made as it is drawn.
    """
    require_triable(changes, order_file)
    text = changed_text(order_file.read_text(encoding="utf-8"), changes, str(order_file))
    trial = folder / ORDER_FILE
    trial.write_text(_with_whole_paths(text, order_file.parent.resolve()), encoding="utf-8")

    def stock_of(materials: Sequence[str]) -> Sequence[StockedLot]:
        database = Database(records_place(records))
        try:
            return Stock(database).of_materials(materials)
        finally:
            database.close()

    write_playback(plan_order(trial, progress, stock_of=stock_of), folder)


def _with_whole_paths(text: str, folder: Path) -> str:
    """The order's text, its paths so that they hold from any folder."""
    order: Any = tomlkit.parse(text)

    def whole(path: str) -> str:
        return str(folder / path)

    for key in ("machine", "rates"):
        if key in order:
            order[key] = whole(order[key])
    order["materials"] = [whole(path) for path in order.get("materials", [])]
    for item in order.get("items", []):
        if "drawing" in item:
            item["drawing"] = whole(item["drawing"])
    return tomlkit.dumps(order)
