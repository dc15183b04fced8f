"""Stock as a table for spreadsheets: one row a lot (RFC 4180, in UTF-8)."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Mapping, Sequence

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import listed, nearest
from kerfwright.shop.stock_lots import Lot, StockedLot, require_possible
from kerfwright.shop.stock_words import amount_of, outline_in_words, outline_of

COLUMNS = (
    "label",
    "material",
    "kind",
    "width_mm",
    "height_mm",
    "count",
    "location",
    "cost",
    "price_per_m2",
    "received_on",
    "outline",
    "note",
)

NEEDED = ("material", "width_mm", "height_mm")


def csv_of(lots: Sequence[StockedLot]) -> str:
    """Write what is on hand as CSV; ``count`` holds all of it, reserved or not."""
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS)
    table.writeheader()
    table.writerows(
        {
            "label": one.label,
            "material": one.lot.material,
            "kind": one.lot.kind,
            "width_mm": f"{one.lot.width_mm:.15g}",
            "height_mm": f"{one.lot.height_mm:.15g}",
            "count": one.on_hand,
            "location": one.lot.location,
            "cost": "" if one.lot.cost is None else f"{one.lot.cost:f}",
            "price_per_m2": "" if one.lot.price_per_m2 is None else f"{one.lot.price_per_m2:f}",
            "received_on": one.lot.received_on.isoformat(),
            "outline": outline_in_words(one.lot.rings),
            "note": one.lot.note,
        }
        for one in lots
    )
    return text.getvalue()


def lots_of_csv(text: str, file: str, *, today: datetime.date) -> list[tuple[Lot, int, str | None]]:
    """Read lots with their counts and labels; columns that are left out have their usual value.

    Commas, semicolons and tabs between columns are all read, as spreadsheets write them.

    Raises:
        KerfwrightError: ``stock/wrong-table``, or what is wrong with a value, naming its line.
    """
    text = text.removeprefix("\ufeff")
    head = text.partition("\n")[0]
    separator = max(",;\t", key=head.count)
    rows = csv.DictReader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        columns = [name.strip().lower() for name in rows.fieldnames or ()]
        _require_columns(columns, file)
        rows.fieldnames = columns
        return [
            _lot(row, f"{file}, line {rows.line_num}", today)
            for row in rows
            if any(isinstance(value, str) and value.strip() for value in row.values())
        ]
    except csv.Error as error:
        raise _wrong(f"{file}, line {rows.line_num}", f"this is no CSV ({error}).") from None


def _require_columns(columns: Sequence[str], file: str) -> None:
    missing = [name for name in NEEDED if name not in columns]
    unknown = [name for name in columns if name not in COLUMNS]
    if missing:
        raise _wrong(f"{file}, line 1", f"the column {listed(missing[:1])} is missing.")
    if unknown:
        like = nearest(unknown[0], COLUMNS)
        hint = f' Did you mean "{like}"?' if like else ""
        raise _wrong(f"{file}, line 1", f'the column "{unknown[0]}" is not known.{hint}')
    if len(set(columns)) < len(columns):
        raise _wrong(f"{file}, line 1", "a column is there twice.")


def _lot(
    row: Mapping[str, str | None], where: str, today: datetime.date
) -> tuple[Lot, int, str | None]:
    if None in row or None in row.values():
        raise _wrong(where, "it has more or fewer cells than there are columns.")
    cells = {name: (value or "").strip() for name, value in row.items()}
    kind = cells.get("kind") or "sheet"
    if kind not in ("sheet", "offcut"):
        raise _wrong(where, f'"{kind}" is neither sheet nor offcut.')
    lot = Lot(
        cells["material"],
        _length_mm(cells["width_mm"], where),
        _length_mm(cells["height_mm"], where),
        _day(cells.get("received_on", ""), where, today),
        "offcut" if kind == "offcut" else "sheet",
        outline_of(cells.get("outline", ""), where),
        cells.get("location", ""),
        amount_of(cells.get("cost"), where),
        amount_of(cells.get("price_per_m2"), where),
        cells.get("note", ""),
    )
    require_possible(lot, where)
    count = _count(cells.get("count") or "1", where)
    if kind == "offcut" and count > 1:
        raise _wrong(where, "offcuts have a label each, and so a line each.")
    return lot, count, cells.get("label") or None


def _length_mm(text: str, where: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise _wrong(where, f'"{text}" is no length in mm.') from None


def _count(text: str, where: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise _wrong(where, f'"{text}" is no whole number of sheets.') from None


def _day(text: str, where: str, today: datetime.date) -> datetime.date:
    if not text:
        return today
    try:
        day = datetime.date.fromisoformat(text)
    except ValueError:
        raise _wrong(where, f'"{text}" is no day such as 2026-05-04.') from None
    if day > today:
        raise _wrong(where, f'"{text}" is yet to come.')
    return day


def _wrong(where: str, thing: str) -> KerfwrightError:
    return KerfwrightError(
        "stock/wrong-table",
        file=where,
        thing=thing,
        remedy=f"The first line names the columns, of {', '.join(COLUMNS)}; nothing was taken in.",
    )
