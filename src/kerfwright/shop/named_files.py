"""Files that an order names and that must be there."""

from __future__ import annotations

from pathlib import Path

from kerfwright.shop.faults import Fault
from kerfwright.shop.order import Order
from kerfwright.shop.toml_files import where_else


def paths_of(order: Order) -> tuple[str, ...]:
    """Every path that an order file gives, as it stands there."""
    own = (order.machine, *order.materials, *order.fixture_files)
    own += () if order.rates is None else (order.rates,)
    tables = (item.batch.rows for item in order.items if item.batch is not None)
    drawings = (item.drawing for item in order.items)
    pockets = (fixture.drawing for fixture in order.fixtures if fixture.drawing is not None)
    return (*own, *drawings, *tables, *pockets)


def file_faults(order: Order, folder: Path) -> list[Fault]:
    """Files that the order names and that are not there."""
    named: list[tuple[tuple[str | int, ...], str, str]] = [(("machine",), order.machine, "file")]
    named += [(("rates",), order.rates, "file")] if order.rates is not None else []
    named += [(("materials", n), path, "file") for n, path in enumerate(order.materials)]
    for n, item in enumerate(order.items):
        named.append((("items", n, "drawing"), item.drawing, "drawing"))
        if item.batch is not None:
            named.append((("items", n, "batch", "rows"), item.batch.rows, "file"))
    named += [
        (("fixtures", n, "drawing"), fixture.drawing, "drawing")
        for n, fixture in enumerate(order.fixtures)
        if fixture.drawing is not None
    ]
    return [
        Fault(
            f"{kind}-missing",
            at,
            f'names "{path}", and {_what_is_there(folder / path)}.',
            where_else(folder / path) or "Paths start from the folder of the order file.",
        )
        for at, path, kind in named
        if not _is_file(folder / path)
    ]


def _what_is_there(path: Path) -> str:
    try:
        return "that is a folder" if path.is_dir() else "there is no such file"
    except (OSError, ValueError):
        return "there is no such file"


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
