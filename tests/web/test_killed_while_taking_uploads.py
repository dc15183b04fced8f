"""Killed while drawings come in, the server leaves whole orders that name files that are there."""

from __future__ import annotations

import gzip
import io
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import UploadFile

from kerfwright.shop.files import load_order
from kerfwright.web.api.batches import upload_batch
from kerfwright.web.left_over import clear_unfinished
from kerfwright.web.moved_in import moved_in
from kerfwright.web.new_order import Sheets, Wish, begin_order, unfinished_folder
from kerfwright.web.order_items import add_items, replace_drawing
from kerfwright.web.reading import READERS
from killed import every_step, files_of
from small_shop import OUTLINE, svg
from small_workshop import SLUG, SmallWorkshop

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="ends forks")

OTHER = svg(OUTLINE).encode()

FORMER_TABLE = b"boat\nKittiwake\n"

SHEETS = Sheets(120.0, 100.0)

TABLE = b"boat\nAuk\nDavit\n"


@pytest.fixture(autouse=True)
def _readers_are_begun_by_those_who_ask() -> None:
    """A fork can neither ask nor end the processes of the one that it was forked from."""
    READERS.close()


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


def strays(made: SmallWorkshop) -> set[str]:
    """Files beside the order file that it does not name; what is unfinished goes later."""
    named = {"order.toml", *(item.drawing for item in load_order(made.order / "order.toml").items)}
    there = {path.name for path in made.order.glob("[!.]*") if path.is_file()}
    return there - named


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
        assert strays(made) == set()
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


def test_a_drawing_of_another_kind_leaves_no_stray_beside_the_order(tmp_path: Path) -> None:
    def put(made: SmallWorkshop) -> object:
        (file,) = sent("other.svgz", data=gzip.compress(OTHER))
        return replace_drawing(made.workshop, made.workshop.order(SLUG), 0, file)

    names = []
    for made in killed_everywhere(tmp_path, put):
        names.append(load_order(made.order / "order.toml").items[0].drawing)
        assert strays(made) <= {"tile.svg"}
    assert (names[0], names[-1]) == ("tile.svg", "other.svgz")


def test_what_somebody_else_made_of_it_or_named_meanwhile_stays(tmp_path: Path) -> None:
    made = SmallWorkshop(tmp_path)
    order = made.workshop.order(SLUG)
    with pytest.raises(SystemExit), unfinished_folder(made.workshop) as folder:
        for name in ("edited.svg", "named.svg", "stray.svg"):
            (folder / name).write_bytes(OTHER)
        with moved_in(order, folder, ["edited.svg", "named.svg", "stray.svg"]) as moved:
            kept = tmp_path / ".unfinished" / "left"
            shutil.copytree(folder, kept)
            texts = [path.read_bytes() for path in moved]
            raise SystemExit
    for path, text in zip(moved, texts, strict=True):
        path.write_bytes(text)
    moved[0].write_bytes(OTHER + b"<!-- by hand -->")
    text = order.file.read_text(encoding="utf-8")
    order.file.write_text(text.replace('"tile.svg"', '"named.svg"'), encoding="utf-8")
    clear_unfinished(made.workshop)
    assert [path.exists() for path in moved] == [True, True, False]
    assert (made.order / "replaced" / "stray.svg").read_bytes() == OTHER
    assert not kept.exists()


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
