"""From a drawing file to its parts: read, mended, given its processes, taken apart."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath

from kerfwright.drawing.copies import Copy
from kerfwright.drawing.model import Drawing
from kerfwright.drawing.read import Choice, read_drawing
from kerfwright.findings import Finding
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.processes import give_processes
from kerfwright.parts.recognise import recognise_parts
from kerfwright.repair.mend import mend
from kerfwright.shop.batch_rows import BatchRow, rows_of
from kerfwright.shop.files import Shop
from kerfwright.shop.order import Item, Rule, Settings


@dataclass(frozen=True, eq=False, slots=True)
class Prepared:
    """A drawing read, mended, given its processes and taken apart."""

    drawing: Drawing
    shapes: tuple[ProcessedShape, ...]
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]


def prepare_drawing(
    path: FilePath | str,
    *,
    rules: Sequence[Rule] = (),
    item_rules: int = 0,
    name: str | None = None,
    unit_mm: float | None = None,
    choice: Choice | None = None,
    blank: bool = False,
    settings: Settings | None = None,
) -> Prepared:
    """Read a drawing, mend it, give every shape its process and recognise its parts.

    Raises:
        KerfwrightError: the file cannot be read as a drawing.
    """
    return taken_apart(
        mended_drawing(path, unit_mm=unit_mm, choice=choice, settings=settings),
        rules=rules,
        item_rules=item_rules,
        name=name,
        blank=blank,
    )


def mended_drawing(
    path: FilePath | str,
    *,
    unit_mm: float | None = None,
    choice: Choice | None = None,
    settings: Settings | None = None,
) -> Drawing:
    """Read a drawing and mend it, which depends on no rule.

    Raises:
        KerfwrightError: the file cannot be read as a drawing.
    """
    settings = settings or Settings()
    return mend(
        read_drawing(path, settings.chord_mm, unit_mm=unit_mm, choice=choice),
        join_mm=settings.join_mm,
        gap_mm=settings.gap_mm,
    )


def taken_apart(
    drawing: Drawing,
    *,
    rules: Sequence[Rule] = (),
    item_rules: int = 0,
    name: str | None = None,
    blank: bool = False,
) -> Prepared:
    """Give every shape of a mended drawing its process and recognise the parts."""
    shapes, by_process = give_processes(drawing, rules, item_rules=item_rules)
    parts, by_containment = recognise_parts(
        shapes, drawing, name=name or FilePath(drawing.name).stem, blank=blank
    )
    return Prepared(drawing, shapes, parts, (*drawing.findings, *by_process, *by_containment))


def prepare_item(
    shop: Shop,
    item: Item,
    drawing: FilePath | None = None,
    row: BatchRow | None = None,
    kept: Kept = NOTHING_KEPT,
) -> Prepared:
    """Prepare an item's drawing, or another, as the order says; errors as for a drawing.

    Where the item is mirrored its parts are; the drawing and its findings stay as they are. Of a
    batch it is the copy of ``row``, by default of the first; its parts are named after the row.
    What is ``kept`` of an equal file prepared alike is taken from there.

    Raises:
        KerfwrightError: the drawing or the table of a batch cannot be read.
    """
    file = drawing or shop.drawing_file(item)
    rules = (*item.rules, *shop.order.rules)
    name, choice = asked_of_item(shop, item, row)
    settings = shop.order.settings

    def prepare() -> Prepared:
        return prepare_drawing(
            file,
            rules=rules,
            item_rules=len(item.rules),
            name=name,
            unit_mm=item.unit_mm,
            choice=choice,
            blank=item.is_blank,
            settings=settings,
        )

    data = _whole_drawing(file) if kept is not NOTHING_KEPT else None
    if data is None:
        prepared = prepare()
    else:
        lengths = (settings.chord_mm, settings.join_mm, settings.gap_mm)
        asked = (rules, len(item.rules), name, item.unit_mm, choice, item.is_blank, lengths)
        prepared = kept.of("drawing", (file, data, asked), prepare)
    if not item.mirror:
        return prepared
    width_mm = prepared.drawing.width_mm
    return replace(prepared, parts=tuple(part.mirrored(width_mm) for part in prepared.parts))


def asked_of_item(shop: Shop, item: Item, row: BatchRow | None = None) -> tuple[str | None, Choice]:
    """Name of an item's parts and what is read of its drawing: of a batch, the copy of a row.

    Raises:
        KerfwrightError: the table of a batch cannot be read.
    """
    name, copy = item.name, None
    if item.batch is not None:
        table = shop.folder / item.batch.rows
        if row is None:
            row = rows_of(table, first_number=item.batch.first_number)[0]
        name = f"{item.name or FilePath(item.drawing).stem} (row {row.number})"
        copy = Copy(row, item.batch, table)
    return name, Choice(item.page, item.width_mm, item.pictures, copy)


def _whole_drawing(file: FilePath) -> bytes | None:
    """A drawing file's bytes; ``None`` where it cannot be read or may draw on other files."""
    try:
        data = file.read_bytes()
    except OSError:
        return None
    if file.suffix.lower() not in {".svg", ".svgz"}:
        return data
    coded = data.startswith((b"\x1f\x8b", b"\xff\xfe", b"\xfe\xff")) or b"<!ENTITY" in data
    elsewhere = b"image" in data and _HREF_ELSEWHERE.search(data) is not None
    return None if coded or elsewhere else data


_HREF_ELSEWHERE = re.compile(rb"""href\s*=\s*["']\s*(?!\s*(?:#|data:))""")
