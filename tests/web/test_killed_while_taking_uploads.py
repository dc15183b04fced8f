"""Killed while drawings come in, the server leaves whole orders that name files that are there."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import UploadFile

from kerfwright.shop.files import load_order
from kerfwright.web.api.batches import upload_batch
from kerfwright.web.left_over import clear_unfinished
from kerfwright.web.new_order import Sheets, Wish, begin_order
from kerfwright.web.order_items import add_items, replace_drawing
from killed import every_step, files_of
from small_shop import OUTLINE, svg
from small_workshop import SLUG, SmallWorkshop

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="ends forks")

OTHER = svg(OUTLINE).encode()

FORMER_TABLE = b"boat\nKittiwake\n"

SHEETS = Sheets(120.0, 100.0)

TABLE = b"boat\nAuk\nDavit\n"


def sent(*names: str, data: bytes = OTHER) -> list[UploadFile]:
    return [UploadFile(io.BytesIO(data), filename=name) for name in names]


class BatchWorkshop(SmallWorkshop):
    """The small workshop with a table for its item."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        (self.order / "boats.csv").write_bytes(FORMER_TABLE)
        order = self.order / "order.toml"
        text = order.read_text(encoding="utf-8")
        order.write_text(text.replace("quantity = 4", 'batch = {rows = "boats.csv"}'), "utf-8")


def killed_everywhere(
    folder: Path,
    work: Callable[[SmallWorkshop], object],
    kind: type[SmallWorkshop] = SmallWorkshop,
) -> Iterator[SmallWorkshop]:
    """Workshops, each with the work killed before another of its changes, and one done."""
    made: list[SmallWorkshop] = []

    def prepare() -> Callable[[], object]:
        made.append(kind(folder / f"shop-{len(made)}"))
        return lambda: work(made[-1])

    for _ in every_step(prepare):
        clear_unfinished(made[-1].workshop)
        yield made[-1]
    yield made[-1]


def drawings_of(file: Path) -> list[bytes]:
    return [(file.parent / item.drawing).read_bytes() for item in load_order(file).items]


def test_a_new_order_is_there_with_its_drawings_or_not_at_all(tmp_path: Path) -> None:
    def begin(made: SmallWorkshop) -> object:
        wish = Wish("Quay names", made.folder / "machine.toml", "board", sheets=SHEETS)
        return begin_order(made.workshop, wish, sent("a.svg", "b.svg"), lambda _: ())

    counts = []
    for made in killed_everywhere(tmp_path, begin):
        orders = {order.slug: order.file for order in made.workshop.orders()}
        counts.append(len(orders))
        assert SLUG in orders
        if "quay-names" in orders:
            assert drawings_of(orders["quay-names"]) == [OTHER, OTHER]
    assert counts == sorted(counts)
    assert (counts[0], counts[-1]) == (1, 2)


def test_drawings_are_added_all_or_none(tmp_path: Path) -> None:
    def add(made: SmallWorkshop) -> object:
        order = made.workshop.order(SLUG)
        return add_items(made.workshop, order, sent("a.svg", "b.svg"), "board")

    counts = []
    for made in killed_everywhere(tmp_path, add):
        file = made.order / "order.toml"
        drawings = drawings_of(file)
        counts.append(len(drawings))
        assert drawings[1:] in ([], [OTHER, OTHER])
        # whoever asks again gets what was asked for
        add(made)
        assert drawings_of(file)[len(drawings) :] == [OTHER, OTHER]
    assert (counts[0], counts[-1]) == (1, 3)


def test_a_replaced_drawing_is_the_former_or_the_new_one_and_neither_is_lost(
    tmp_path: Path,
) -> None:
    def put(made: SmallWorkshop) -> object:
        (file,) = sent("other.svg")
        return replace_drawing(made.workshop, made.workshop.order(SLUG), 0, file)

    drawings = []
    former = (SmallWorkshop(tmp_path / "before").order / "tile.svg").read_bytes()
    for made in killed_everywhere(tmp_path, put):
        (now,) = drawings_of(made.order / "order.toml")
        drawings.append(now)
        assert now in (former, OTHER)
        assert former in files_of(made.order).values()
    assert (drawings[0], drawings[-1]) == (former, OTHER)


def test_a_replaced_table_is_the_former_or_the_new_one(tmp_path: Path) -> None:
    def put(made: SmallWorkshop) -> object:
        (file,) = sent("boats.csv", data=TABLE)
        return upload_batch(made.workshop, made.workshop.order(SLUG), None, 0, file)

    tables = []
    for made in killed_everywhere(tmp_path, put, BatchWorkshop):
        item = load_order(made.order / "order.toml").items[0]
        assert item.batch is not None
        tables.append((made.order / item.batch.rows).read_bytes())
        assert FORMER_TABLE in files_of(made.order).values()
    assert set(tables) == {FORMER_TABLE, TABLE}
    assert (tables[0], tables[-1]) == (FORMER_TABLE, TABLE)
