"""A small workshop whose orders are planned by the server's own process, and waiting for it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient

from kerfwright.web.app import make_app
from kerfwright.web.planning.plannings import Plannings
from kerfwright.web.workshop import Workshop
from small_shop import STOCK, SmallShop

PATIENCE_S = 240.0
"""On a new machine kernels are compiled first."""

LONG_SEARCH = "nest_seconds = 3000\n"

MANY = 'drawing = "tile.svg"\nmaterial = "board"\nquantity = 30\nturns_deg = [0, 17, 90, 211]\n'

LARGE = STOCK.replace("count = 1", "count = 9").replace("width_mm = 120", "width_mm = 380")


class PlannedShop:
    """A workshop with an interface; ``shop`` is its first order, others lie under orders/."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "workshop"
        self.folder.mkdir()
        self.shop = SmallShop(self.folder)
        self.app: FastAPI = make_app(Workshop(self.folder, str(folder / "records.sqlite")))
        self.plannings: Plannings = self.app.state.plannings
        self.client = TestClient(self.app)

    def add(self, slug: str) -> SmallShop:
        """Add an order, with files of its own beside it."""
        folder = self.folder / "orders" / slug
        folder.mkdir(parents=True)
        return SmallShop(folder)

    def search_long(self, shop: SmallShop) -> None:
        """Give an order a search for places that goes on until it is ended."""
        shop.order(items=f"\n[[items]]\n{MANY}", stock=LARGE)
        shop.change("order.toml", "nest_seconds = 0.2\n", LONG_SEARCH)

    def ask(self, slug: str = "workshop") -> dict[str, Any]:
        answer = self.client.post(f"/api/orders/{slug}/planning")
        assert answer.status_code == 202, answer.text
        asked: dict[str, Any] = answer.json()
        return asked

    def state(self, slug: str = "workshop") -> dict[str, Any]:
        state: dict[str, Any] = self.client.get(f"/api/orders/{slug}/planning").json()
        return state

    def wait(
        self, slug: str = "workshop", until: Callable[[dict[str, Any]], bool] | None = None
    ) -> dict[str, Any]:
        """Wait for a state, by default until the order's planning is over."""
        wanted = until or (lambda state: state["state"] == "idle")
        end_s = time.monotonic() + PATIENCE_S
        pause_s = 0.02
        while not wanted(state := self.state(slug)):
            assert time.monotonic() < end_s, state
            time.sleep(pause_s)
            # what takes long is asked for less often: each answer is work too
            pause_s = min(1.2 * pause_s, 0.3)
        return state

    def page(self, slug: str = "workshop") -> dict[str, Any]:
        page: dict[str, Any] = self.client.get(f"/api/orders/{slug}").json()
        return page


@contextmanager
def opened(folder: Path) -> Iterator[PlannedShop]:
    shop = PlannedShop(folder)
    with shop.client:
        yield shop
    assert shop.plannings.worker_pid is None


def searching(state: dict[str, Any]) -> bool:
    """Whether the search for places is on."""
    return state["state"] == "planning" and state["words"].startswith("Placing parts")
