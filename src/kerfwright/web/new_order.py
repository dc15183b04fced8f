"""Begins an order: its folder, its drawings and an order file that people can read on."""

from __future__ import annotations

import datetime
import json
import os
import secrets
import shutil
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from fastapi import UploadFile

from kerfwright.errors import KerfwrightError
from kerfwright.output.text import encodable, printable, short_number
from kerfwright.shop.files import load_material, load_shop
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.stock_lots import StockOf
from kerfwright.web.uploads import take
from kerfwright.web.workshop import ORDER_FILE, OrderFolder, Workshop

UNFINISHED = ".unfinished"
"""Folder in the workshop where an order is put together before it is moved to its place."""

_PLACING = threading.Lock()


@dataclass(frozen=True, slots=True)
class Sheets:
    """Sheets of one size to work on."""

    width_mm: float
    height_mm: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Wish:
    """What a new order is to be; without ``sheets`` it takes the stock on record."""

    title: str
    machine_file: Path
    material: str
    due: datetime.date | None = None
    sheets: Sheets | None = None


def begin_order(
    workshop: Workshop, wish: Wish, files: Sequence[UploadFile], stock_of: StockOf
) -> OrderFolder:
    """Make an order's folder with its drawings and order file, wholly or not at all.

    Raises:
        KerfwrightError: a drawing is refused, or the order would be none that can be planned.
    """
    title = printable(wish.title).strip()
    with unfinished_folder(workshop) as folder:
        names = take(files, folder)
        text = order_text(workshop, wish, title, names)
        file = folder / ORDER_FILE
        file.write_text(text, encoding="utf-8")
        try:
            load_shop(file, stock_of)
        except KerfwrightError as error:
            thing = error.thing.replace(str(folder), title)
            raise KerfwrightError(
                error.code,
                file=title if error.file == str(file) else error.file,
                thing=thing,
                remedy=error.remedy,
            ) from None
        return moved_into_place(workshop, folder, title)


@contextmanager
def unfinished_folder(workshop: Workshop) -> Iterator[Path]:
    """Give a folder as deep in the workshop as an order's; what is left in it at the end goes.

    Raises:
        KerfwrightError: ``pages/cannot-write``.
    """
    above = workshop.folder / UNFINISHED
    folder = above / secrets.token_hex(8)
    try:
        folder.mkdir(parents=True)
        yield folder
    except OSError as error:
        raise KerfwrightError(
            "pages/cannot-write",
            file=str(workshop.folder),
            thing=f"nothing can be written in the workshop's folder ({error.strerror or error}).",
            remedy="See that the folder is yours and that the disk has room.",
        ) from error
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        with suppress(OSError):
            above.rmdir()


def moved_into_place(workshop: Workshop, folder: Path, title: str) -> OrderFolder:
    """Move a finished folder to where the orders are, under a name that is free."""
    with _PLACING:
        order = workshop.new_order_folder(title)
        order.folder.parent.mkdir(exist_ok=True)
        folder.rename(order.folder)
    return order


def materials_of(workshop: Workshop) -> tuple[list[tuple[Path, Material]], list[KerfwrightError]]:
    """Materials of the workshop with their files, and what is wrong with files that are none."""
    found: list[tuple[Path, Material]] = []
    faults: list[KerfwrightError] = []
    for file in workshop.material_files():
        try:
            material = load_material(file)
        except KerfwrightError as error:
            faults.append(error)
        else:
            if material.name not in {other.name for _, other in found}:
                found.append((file, material))
    return found, faults


def order_text(workshop: Workshop, wish: Wish, title: str, drawings: Sequence[str]) -> str:
    """Return the order file's text, to lie two folders below the workshop's."""
    rates = workshop.rates_file()
    materials = [_path(workshop, file) for file, _ in materials_of(workshop)[0]]
    head = [
        "# Begun with the pages; change it here or there, comments are kept.",
        "# Paths start from the folder of this file; every key is described in",
        "# docs/schema/order.schema.json.",
        "",
        f"title = {_quoted(title)}",
        f"machine = {_path(workshop, wish.machine_file)}",
        *([] if rates is None else [_line(f"rates = {_path(workshop, rates)}", "for quotes")]),
        "materials = [",
        *(f"  {path}," for path in materials),
        "]",
    ]
    if wish.sheets is None:
        head.append(_line('stock_from = "records"', "sheets are taken from the stock on record"))
    made = [_ruled("What is to be made: one [[items]] block for each drawing")]
    for drawing in drawings:
        made += ["", "[[items]]", f"drawing = {_quoted(drawing)}"]
        made += [f"material = {_quoted(wish.material)}", "quantity = 1"]
        if wish.due is not None:
            made.append(_line(f"due = {wish.due.isoformat()}", "the day it must be ready"))
    made += [
        "",
        "# Shapes that no rule names go by the words in their layer's name (Outline, Holes, Score,",
        "# Engrave, Guides …), and else by their paint: filled is engraved, a line alone is cut.",
        "# Rules for the whole order would stand here as [[rules]].",
    ]
    worked = [
        _ruled("How it is worked; every line can be left out"),
        "",
        "[settings]",
        _line("margin_mm = 5.0", "parts keep this far from the edge of the sheet"),
    ]
    blocks = [head, made, _sheet_lines(wish), worked]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def bed_sheet(machine: Machine) -> Sheets:
    """A sheet as large as the machine takes."""
    return Sheets(machine.bed_width_mm, machine.bed_height_mm)


def _sheet_lines(wish: Wish) -> list[str]:
    if wish.sheets is None:
        return []
    sheets = wish.sheets
    size = f"{short_number(sheets.width_mm)} × {short_number(sheets.height_mm)}"
    return [
        _ruled("The sheets that may be used"),
        "",
        "[[stock]]",
        f"material = {_quoted(wish.material)}",
        f"name = {_quoted(f'sheet {size}')}",
        f"width_mm = {short_number(sheets.width_mm, 3)}",
        f"height_mm = {short_number(sheets.height_mm, 3)}",
        f"count = {sheets.count}",
    ]


def _path(workshop: Workshop, file: Path) -> str:
    return _quoted("../../" + os.fspath(file.relative_to(workshop.folder).as_posix()))


def _quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are TOML's too, save that TOML has DEL escaped."""
    return json.dumps(encodable(text), ensure_ascii=False).replace("\x7f", "\\u007f")


def _line(text: str, comment: str) -> str:
    return f"{text:<35} # {comment}"


def _ruled(words: str) -> str:
    return f"# --- {words} ".ljust(96, "-")
