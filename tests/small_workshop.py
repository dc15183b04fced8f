"""A small workshop as the pages see it: machine, material, rates, an order and its plan."""

from __future__ import annotations

from pathlib import Path

from fastapi.testclient import TestClient

from kerfwright.output.writing import write_plan
from kerfwright.planner import plan_shop
from kerfwright.shop.files import load_shop
from kerfwright.web.app import make_app
from kerfwright.web.planning.kept_files import write_for_pages
from kerfwright.web.workshop import Workshop
from small_shop import BOARD, HEAD, ITEM, MACHINE, SETTINGS, STOCK, TILE, svg

RATES = """\
currency = "EUR"
locale = "en_IE"
shop = "Eiderwick harbour workshop"
invented = true
machine_per_hour = 60.00
labour_per_hour = 40.00
tax = 0.20
tax_name = "VAT"

[[sheets]]
material = "board"
price_per_m2 = 30
"""

SLUG = "small"


class SmallWorkshop:
    """A workshop with one order, ``small``: tiles on a sheet of 120 × 100 mm."""

    def __init__(self, folder: Path, *, quantity: int = 4) -> None:
        self.folder = folder
        self.order = folder / "orders" / SLUG
        self.order.mkdir(parents=True)
        (folder / "materials").mkdir()
        (folder / "machine.toml").write_text(MACHINE, encoding="utf-8")
        (folder / "materials" / "board.toml").write_text(BOARD, encoding="utf-8")
        (folder / "rates.toml").write_text(RATES, encoding="utf-8")
        (self.order / "tile.svg").write_text(svg(TILE), encoding="utf-8")
        head = HEAD.replace('"machine.toml"', '"../../machine.toml"').replace(
            '"board.toml"', '"../../materials/board.toml"'
        )
        items = ITEM.format(drawing="tile.svg") + f"quantity = {quantity}\nturns_deg = [0]\n"
        text = head + 'rates = "../../rates.toml"\n' + items + STOCK + SETTINGS
        (self.order / "order.toml").write_text(text, encoding="utf-8")
        self.workshop = Workshop(folder, str(folder / "records.sqlite"))

    def plan(self) -> None:
        """Plan the order, with all that the pages need beside it."""
        shop = load_shop(self.order / "order.toml")
        plan = plan_shop(shop)
        folder = self.order / "plan"
        write_plan(plan, folder)
        write_for_pages(shop, plan, folder)

    def client(self) -> TestClient:
        """Ask its interface as the pages do, without a guard before it."""
        return TestClient(make_app(self.workshop), raise_server_exceptions=True)
