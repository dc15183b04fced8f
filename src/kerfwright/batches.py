"""Every copy of a batch prepared, and what was found in them told once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath as FilePath

from kerfwright.drawing.svg.gaps import fields_of
from kerfwright.drawing.svg.xml import read_root
from kerfwright.findings import Finding, Severity
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.prepare import Prepared, prepare_item
from kerfwright.shop.batch_rows import (
    BatchRow,
    Field,
    doubtful_rows,
    require_columns,
    rows_in_words,
    rows_of,
)
from kerfwright.shop.files import Shop
from kerfwright.shop.order import Item


@dataclass(frozen=True, eq=False, slots=True)
class Copies:
    """An item's copies that differ; one without a ``row`` where the item has no batch."""

    all: tuple[tuple[BatchRow | None, Prepared], ...]
    findings: tuple[Finding, ...]


def prepare_copies(shop: Shop, item: Item, kept: Kept = NOTHING_KEPT) -> Copies:
    """Prepare an item: once, or for each row of its batch, as far as it is not ``kept``.

    Raises:
        KerfwrightError: the drawing or the table cannot be read, or they do not fit together.
    """
    if item.batch is None:
        prepared = prepare_item(shop, item, kept=kept)
        return Copies(((None, prepared),), prepared.findings)
    table = shop.folder / item.batch.rows
    rows = rows_of(table, first_number=item.batch.first_number)
    fields: tuple[Field, ...] = ()
    drawing = shop.drawing_file(item)
    if drawing.suffix.lower() in {".svg", ".svgz"}:
        fields = fields_of(read_root(drawing), str(drawing))
        require_columns(rows, fields, table)
    copies = tuple((row, prepare_item(shop, item, row=row, kept=kept)) for row in rows)
    told = told_once([(row.number, one.findings) for row, one in copies])
    return Copies(copies, (*told, *_row_findings(rows, fields, FilePath(item.batch.rows).name)))


def told_once(by_row: Sequence[tuple[int | None, Iterable[Finding]]]) -> tuple[Finding, ...]:
    """What was found in copies, once: stops with their row, of others the first of each kind.

    What was found in every copy alike is about the drawing, and names no row.
    """
    found = [(row, tuple(dict.fromkeys(findings))) for row, findings in by_row]
    if len(found) == 1 and found[0][0] is None:
        return found[0][1]
    common = [f for f in found[0][1] if all(f in findings for _, findings in found[1:])]
    told = list(common)
    first: dict[tuple[Severity, str], tuple[Finding, list[int]]] = {}
    for row, findings in found:
        for finding in findings:
            if finding in common or row is None:
                continue
            if finding.severity is Severity.STOP:
                told.append(_in_rows(finding, [row]))
                continue
            first.setdefault((finding.severity, finding.code), (finding, []))[1].append(row)
    told += [_in_rows(finding, rows) for finding, rows in first.values()]
    return tuple(told)


def ordered_items(shop: Shop) -> tuple[Item, ...]:
    """The order's items with the quantity that is made of them: each row of a batch counts.

    Raises:
        KerfwrightError: a table cannot be read.
    """
    return tuple(
        item
        if item.batch is None
        else item.model_copy(
            update={"quantity": item.quantity * len(rows_of(shop.folder / item.batch.rows))}
        )
        for item in shop.order.items
    )


def _in_rows(finding: Finding, rows: Sequence[int]) -> Finding:
    rows = list(dict.fromkeys(rows))
    where = f"{finding.drawing}, {rows_in_words(rows)}" if finding.drawing else rows_in_words(rows)
    return replace(finding, drawing=where)


def _row_findings(
    rows: Sequence[BatchRow], fields: Sequence[Field], table: str
) -> tuple[Finding, ...]:
    empty, same = doubtful_rows(rows, fields)
    return (
        *(
            Finding(
                Severity.WARN,
                "batch/empty-cell",
                f'nothing stands under "{name}" in {rows_in_words(numbers)}.',
                "Fill it in, if it is not to stay empty.",
                drawing=table,
                count=len(numbers),
            )
            for name, numbers in empty.items()
        ),
        *(
            Finding(
                Severity.WARN,
                "batch/same-rows",
                f"{rows_in_words(numbers)} say the same; a copy is made of each.",
                "Take out what is there twice, or write the quantity in the order.",
                drawing=table,
                count=len(numbers),
            )
            for numbers in same
        ),
    )
