"""The command that prints labels for what is in stock."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from kerfwright.cli.records import RecordsPlace


def label(
    labels: Annotated[list[str], typer.Argument(help="Labels of lots or offcuts, such as E-014.")],
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("labels.pdf"),
    small_pages: Annotated[
        bool, typer.Option("--small-pages", help="A page of 90 × 50 mm for each, no A4 sheet.")
    ] = False,
    place: RecordsPlace = None,
) -> None:
    """Write labels to print and stick on: size, outline, material, place, and a code."""
    from kerfwright.cli.stock import opened_stock
    from kerfwright.findings import number_of
    from kerfwright.output.labels import label_of_lot, labels_pdf
    from kerfwright.output.whole_file import whole_file

    with opened_stock(place) as kept:
        found = [kept.lot(one) for one in labels]
    pdf = labels_pdf([label_of_lot(one) for one in found], small_pages=small_pages)
    with whole_file(out) as path:
        path.write_bytes(pdf)
    typer.echo(f"{number_of(len(found), 'label')} written to {out}.")
