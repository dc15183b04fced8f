"""The example workshop, to begin with in an empty folder."""

from __future__ import annotations

import shutil
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_order
from kerfwright.web.new_order import moved_into_place, unfinished_folder
from kerfwright.web.order_file import Change, changed_text
from kerfwright.web.workshop import ORDER_FILE, OrderFolder, Workshop

NAME = "regatta"

_PACKAGE = Path(__file__).parents[1]

PLACES = (_PACKAGE / "examples" / NAME, _PACKAGE.parents[1] / "examples" / NAME)
"""Where the example lies: in an installed package, and in a checkout."""

SHOP_FILES = ("machine.toml", "rates.toml", "materials")


def is_empty(workshop: Workshop) -> bool:
    """Whether a workshop's folder has nothing yet that an example could be confused with."""
    there = any((workshop.folder / name).exists() for name in SHOP_FILES)
    return not (there or workshop.machine_files() or workshop.orders())


def begin_with_example(workshop: Workshop) -> OrderFolder:
    """Copy the example workshop into an empty one, its order among the orders.

    Raises:
        KerfwrightError: ``pages/not-empty``, or the folder cannot be written.
    """
    if not is_empty(workshop):
        raise KerfwrightError(
            "pages/not-empty",
            file=str(workshop.folder),
            thing="the workshop's folder has a machine, materials or orders already.",
            remedy="Serve an empty folder to look at the example.",
        )
    source = next(place for place in PLACES if place.is_dir())
    order = load_order(source / ORDER_FILE)
    with unfinished_folder(workshop) as folder:
        for name in (ORDER_FILE, *(item.drawing for item in order.items)):
            shutil.copyfile(source / name, folder / name)
        text = (folder / ORDER_FILE).read_text(encoding="utf-8")
        changes = [
            Change(at=("machine",), value=f"../../{order.machine}"),
            Change(at=("rates",), value=f"../../{order.rates}"),
            *(
                Change(at=("materials", n), value=f"../../{path}")
                for n, path in enumerate(order.materials)
            ),
        ]
        (folder / ORDER_FILE).write_text(changed_text(text, changes, ORDER_FILE), encoding="utf-8")
        for name in SHOP_FILES:
            _copy(source / name, workshop.folder / name)
        return moved_into_place(workshop, folder, NAME)


def _copy(source: Path, target: Path) -> None:
    if source.is_dir():
        shutil.copytree(source, target, copy_function=shutil.copyfile)
    else:
        shutil.copyfile(source, target)
