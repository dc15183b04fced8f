"""The commands for the stock on record. Everything heavy is imported by the command itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kerfwright.cli.records import By, RecordsPlace
from kerfwright.cli.stock_labels import label
from kerfwright.errors import KerfwrightError

if TYPE_CHECKING:
    from shapely import Polygon

    from kerfwright.shop.stock_ledger import Cause
    from kerfwright.shop.stock_lots import Lot, StockedLot, StockOf
    from kerfwright.shop.stock_records import Stock

Command = Callable[..., Any]

OFFCUT_SHARE = 0.5

Label = Annotated[str, typer.Argument(help="Label of the lot or offcut, such as E-014.")]
Count = Annotated[int, typer.Option(min=1, help="How many sheets.")]
Note = Annotated[str, typer.Option(help="Anything worth remembering.")]
Share = Annotated[
    float,
    typer.Option(
        "--offcut-share", min=0.0, max=1.0, help="Worth of an offcut, as a share of its price new."
    ),
]


def add_stock_commands(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the command ``stock`` with its own commands."""
    stock = typer.Typer(
        help="Sheets and offcuts on record: what is there, for whom, and what became of it.",
        no_args_is_help=True,
    )
    for command in (receive, reserve, release, use, scrap, put, show, label):
        stock.command()(told_plainly(command))
    stock.command("list")(told_plainly(list_lots))
    stock.command("return")(told_plainly(give_back))
    stock.command("import")(told_plainly(take_in))
    stock.command("export")(told_plainly(write_out))
    app.add_typer(stock, name="stock")


def stock_reader(place: str | None) -> StockOf:
    """Return what reads the stock of some materials as the planner asks for it."""

    def stock_of(materials: Sequence[str]) -> Sequence[StockedLot]:
        with opened_stock(place) as kept:
            return kept.of_materials(materials)

    return stock_of


def receive(  # noqa: PLR0913, PLR0917 – all that can be said of a sheet, most of it optional
    material: Annotated[
        str | None, typer.Argument(help="The material, as its file calls it.")
    ] = None,
    size: Annotated[str | None, typer.Argument(help="Width and height in mm: 600x400.")] = None,
    count: Count = 1,
    offcut: Annotated[bool, typer.Option("--offcut", help="It is left over from work.")] = False,
    outline: Annotated[
        str, typer.Option(help='Corners of an odd piece: "0,0 120,0 60,100"; holes after a ;.')
    ] = "",
    location: Annotated[str, typer.Option(help="Where it lies.")] = "",
    cost: Annotated[str | None, typer.Option(help="What one of these is worth.")] = None,
    price_per_m2: Annotated[str | None, typer.Option(help="What a square metre costs new.")] = None,
    label: Annotated[
        str | None, typer.Option(help="Its label; by default the next free one.")
    ] = None,
    more: Annotated[
        str | None,
        typer.Option(help="Label of a lot that these are like; only with --count and --note."),
    ] = None,
    date: Annotated[str | None, typer.Option(help="Day it came, as 2026-05-04.")] = None,
    note: Note = "",
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Put sheets into stock, or an offcut."""
    from kerfwright.output.stock_list import lot_in_words
    from kerfwright.shop.faults import nearest
    from kerfwright.shop.stock_lots import Lot
    from kerfwright.shop.stock_words import amount_of, outline_of, size_of
    from kerfwright.shop.stopwatch import day_of

    if (more is None) == (material is None or size is None):
        raise _unclear("either material and size are needed, or --more with a label.")
    if more is not None and any((offcut, outline, location, cost, price_per_m2, label, date)):
        raise _unclear("--more adds sheets that are alike; only --count and --note go with it.")
    with opened_stock(place) as kept:
        if more is not None:
            typer.echo(lot_in_words(kept.receive_more(more, count, _cause(by, note=note))))
            return
        assert material is not None and size is not None
        if offcut and count > 1:
            raise _unclear("offcuts have a label each: receive them one by one.")
        lot = Lot(
            material,
            *size_of(size, "size"),
            day_of(date),
            "offcut" if offcut else "sheet",
            outline_of(outline, "--outline"),
            location,
            amount_of(cost, "--cost"),
            amount_of(price_per_m2, "--price-per-m2"),
            note,
        )
        known = {one.lot.material for one in kept.lots(gone=True)}
        for one in kept.receive([(lot, count, label)], _cause(by)):
            typer.echo(lot_in_words(one))
    like = None if material in known else nearest(material, known)
    if like is not None:
        typer.echo(
            f'Nothing of "{material}" was in stock before, but of "{like}". If that is what is '
            f"meant, scrap this and receive it anew: orders go by the name.",
            err=True,
        )


def list_lots(
    material: Annotated[
        str | None, typer.Option(help="Only materials with these words in their name.")
    ] = None,
    fits: Annotated[
        str | None,
        typer.Option(help="Only free pieces that a rectangle fits in, turned or not: 200x150."),
    ] = None,
    gone: Annotated[bool, typer.Option("--all", help="Also what is used up.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    offcut_share: Share = OFFCUT_SHARE,
    place: RecordsPlace = None,
) -> None:
    """List what is in stock, and what it is worth."""
    from kerfwright.output.stock_list import print_stock, stock_json
    from kerfwright.shop.stock_fits import fits as fits_in
    from kerfwright.shop.stock_words import size_of

    size = None if fits is None else size_of(fits, "--fits")
    with opened_stock(place) as kept:
        lots = kept.lots(gone=gone)
        if material is not None:
            words = material.casefold().split()
            lots = [one for one in lots if all(w in one.lot.material.casefold() for w in words)]
        if size is not None:
            lots = [one for one in lots if one.free > 0 and fits_in(one.lot.area, *size)]
            # the smallest piece that will do comes first
            lots.sort(key=lambda one: one.lot.area.area)
        if json:
            typer.echo(stock_json(lots, offcut_share))
        else:
            print_stock(lots, kept.place, offcut_share)


def show(
    label: Annotated[str | None, typer.Argument(help="Label; by default all.")] = None,
    place: RecordsPlace = None,
) -> None:
    """Print what was done with a lot, line by line of the ledger."""
    from kerfwright.output.stock_list import lot_in_words, print_movements

    with opened_stock(place) as kept:
        if label is not None:
            typer.echo(lot_in_words(kept.lot(label)))
        print_movements(kept.movements(label))


def reserve(
    plan: Annotated[Path, typer.Argument(help="The plan's folder, or the plan.json in it.")],
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Reserve the sheets that a plan took from stock, instead of those of an earlier plan."""
    from kerfwright.output.planned_runs import WrittenPlan
    from kerfwright.output.stock_list import lot_in_words

    written = WrittenPlan(plan)
    if not written.labels:
        raise KerfwrightError(
            "stock/no-labels",
            file=str(written.file),
            thing="the plan takes no sheet from the stock on record.",
            remedy='Write stock_from = "records" into the order file and plan it again.',
        )
    cause = _cause(by, order=written.title, reference=written.reference, plan_sha256=written.sha256)
    with opened_stock(place) as kept:
        for one in kept.reserve(written.labels, cause):
            typer.echo(lot_in_words(one))


def release(
    label: Annotated[str | None, typer.Argument(help="Label; by default all of --order.")] = None,
    order: Annotated[
        str, typer.Option(help="Only what is reserved for the order of this title or reference.")
    ] = "",
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Release what is reserved: of one lot, for one order, or both."""
    from kerfwright.output.stock_list import lot_in_words

    if label is None and not order:
        raise _unclear("neither a label nor --order was given.")
    cause = _cause(by, order=order)
    with opened_stock(place) as kept:
        lots = kept.release_order(cause) if label is None else [kept.release(label, cause)]
        for one in lots:
            typer.echo(lot_in_words(one))
        if not lots:
            typer.echo(f'Nothing is reserved for "{order}".')


def use(
    label: Label,
    count: Count = 1,
    left: Annotated[
        str | None, typer.Option(help="Size of the rectangle that is left, as 310x290.")
    ] = None,
    left_outline: Annotated[
        str, typer.Option(help='Corners of what is left: "0,0 120,0 60,100"; holes after a ;.')
    ] = "",
    order: Annotated[str, typer.Option(help="Title or reference of the order it is for.")] = "",
    note: Note = "",
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Take sheets out for work without a plan; what is left goes back as an offcut."""
    from shapely import Polygon, box

    from kerfwright.output.stock_list import lot_in_words, size_in_words
    from kerfwright.shop.stock_lots import offcut_of
    from kerfwright.shop.stock_words import outline_of, size_of
    from kerfwright.shop.stopwatch import day_of

    rings = outline_of(left_outline, "--left-outline")
    if rings and any(len(ring) < 3 for ring in rings):
        raise _unclear("an outline needs three corners or more.")
    rest = Polygon(rings[0], rings[1:]) if rings else None
    if left is not None:
        rest = box(0.0, 0.0, *size_of(left, "--left"))
    if rest is not None and count > 1:
        raise _unclear("what is left belongs to one sheet: use them one by one.")
    with opened_stock(place) as kept:
        parent = kept.lot(label).lot
        if rest is not None and not _can_be_left(parent, rest):
            raise _unclear(f"that cannot be left of {label}, {size_in_words(parent)}.")
        offcut = None if rest is None else offcut_of(parent, rest, left_on=day_of(None))
        taken, back = kept.use(label, count, _cause(by, order=order, note=note), offcut)
        for one in (taken, back):
            if one is not None:
                typer.echo(lot_in_words(one))


def give_back(
    label: Label, count: Count = 1, note: Note = "", by: By = None, place: RecordsPlace = None
) -> None:
    """Put back what was taken out and not cut."""
    from kerfwright.output.stock_list import lot_in_words

    with opened_stock(place) as kept:
        typer.echo(lot_in_words(kept.give_back(label, count, _cause(by, note=note))))


def scrap(
    label: Label, count: Count = 1, note: Note = "", by: By = None, place: RecordsPlace = None
) -> None:
    """Take out what is good for nothing any more."""
    from kerfwright.output.stock_list import lot_in_words

    with opened_stock(place) as kept:
        typer.echo(lot_in_words(kept.scrap(label, count, _cause(by, note=note))))


def put(
    label: Label,
    location: Annotated[str, typer.Argument(help="Where it lies now.")],
    place: RecordsPlace = None,
) -> None:
    """Note where a lot or offcut lies now."""
    from kerfwright.output.stock_list import lot_in_words

    with opened_stock(place) as kept:
        typer.echo(lot_in_words(kept.put(label, location)))


def take_in(
    table: Annotated[Path, typer.Argument(help="A CSV table, as export writes it.")],
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Put every row of a CSV table into stock, all or none."""
    from kerfwright.findings import number_of
    from kerfwright.shop.stock_csv import lots_of_csv
    from kerfwright.shop.stopwatch import day_of

    try:
        text = table.read_bytes().decode("utf-8")
    except (OSError, ValueError) as error:
        raise KerfwrightError(
            "stock/wrong-table",
            file=str(table),
            thing=f"the table cannot be read ({getattr(error, 'strerror', None) or 'no UTF-8'}).",
            remedy="Give a CSV file in UTF-8, as kerfwright stock export writes it.",
        ) from None
    rows = lots_of_csv(text, str(table), today=day_of(None))
    with opened_stock(place) as kept:
        lots = kept.receive(rows, _cause(by, note=f"from {table.name}"))
    labels = f": {lots[0].label} to {lots[-1].label}" if len(lots) > 1 else ""
    typer.echo(f"{number_of(len(lots), 'lot')} put into stock{labels}.")


def write_out(
    table: Annotated[Path, typer.Argument(help="Where to write the CSV table; - prints it.")],
    place: RecordsPlace = None,
) -> None:
    """Write what is in stock as a CSV table."""
    from kerfwright.findings import number_of
    from kerfwright.shop.stock_csv import csv_of

    with opened_stock(place) as kept:
        lots = kept.lots()
    if str(table) == "-":
        typer.echo(csv_of(lots), nl=False)
        return
    try:
        table.write_text(csv_of(lots), encoding="utf-8", newline="")
    except OSError as error:
        raise KerfwrightError(
            "stock/table-not-written",
            file=str(table),
            thing=f"the table could not be written ({error.strerror}).",
            remedy="Give the path of a file in a folder that you may write to.",
        ) from None
    typer.echo(f"{number_of(len(lots), 'lot')} written to {table}.")


def _can_be_left(parent: Lot, rest: Polygon) -> bool:
    """Whether a piece may come from its parent: no more of it, and no longer either way."""
    from kerfwright.shop.stock_fits import SLACK_MM

    x_low, y_low, x_high, y_high = rest.bounds
    left = sorted((x_high - x_low, y_high - y_low))
    whole = sorted((parent.width_mm, parent.height_mm))
    return rest.area <= parent.area.area and all(
        part <= side + SLACK_MM for part, side in zip(left, whole, strict=True)
    )


@contextmanager
def opened_stock(place: str | None) -> Iterator[Stock]:
    """Open the stock on record, and close it again."""
    from kerfwright.shop.database import Database, records_place
    from kerfwright.shop.stock_records import Stock

    database = Database(records_place(place))
    try:
        yield Stock(database)
    finally:
        database.close()


def _cause(
    by: str | None,
    *,
    order: str = "",
    reference: str = "",
    plan_sha256: str | None = None,
    note: str = "",
) -> Cause:
    from kerfwright.shop.stock_ledger import Cause
    from kerfwright.shop.stock_records import whoever

    return Cause(by or whoever(), order, plan_sha256, note=note, reference=reference)


def _unclear(what: str) -> KerfwrightError:
    return KerfwrightError(
        "stock/unclear",
        file="kerfwright stock",
        thing=what,
        remedy='Write, for example: kerfwright stock receive "birch plywood 3 mm" 600x400 --count '
        "5; kerfwright stock use E-014 --left 200x150; kerfwright stock release E-014.",
    )
