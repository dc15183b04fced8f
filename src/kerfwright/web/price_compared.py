"""Prices an order in other numbers and other materials, beside its plan; the order stays."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from kerfwright.output.whole_file import whole_file
from kerfwright.web.beside import Beside, Tell, tell_while
from kerfwright.web.planning.working import runs_reader, stock_reader
from kerfwright.web.workshop import OrderFolder

LINES_FILE = "lines.json"

MOST_WAYS = 12
"""Each way is a plan of its own."""


class Asked(BaseModel):
    """What to compare with: so many times everything, and all of it in another material."""

    model_config = ConfigDict(extra="forbid")

    times: Annotated[
        tuple[Annotated[int, Field(ge=1, le=10_000)], ...], Field(max_length=MOST_WAYS)
    ] = ()
    materials: Annotated[
        tuple[Annotated[str, Field(min_length=1, max_length=200)], ...],
        Field(max_length=MOST_WAYS),
    ] = ()

    def ways(self) -> Iterator[tuple[int, str]]:
        """Each way once: how many times, and the material or nothing."""
        named = [*((n, "") for n in self.times), *((1, one) for one in self.materials)]
        yield from dict.fromkeys(named)


class ItemPrice(BaseModel):
    """What one piece of an item is sold for, before tax."""

    item: str
    each: str


class Line(BaseModel):
    """The order made one way; where it has no price, ``why_not`` says why."""

    way: str
    net: str = ""
    """Price before tax."""
    total: str = ""
    """What is to be paid."""
    currency: str = ""
    items: tuple[ItemPrice, ...] = ()
    beam_s: float | None = None
    sheets: int | None = None
    why_not: str = ""


class Comparison(BaseModel):
    """How far a comparison is, and the lines that are there already."""

    state: Literal["idle", "planning", "ready", "failed"] = "idle"
    words: str = ""
    """How far it is, or why it failed."""
    remedy: str = ""
    """What can be done where it failed."""
    asked: Asked = Asked()
    lines: tuple[Line, ...] = ()


LINES = TypeAdapter(tuple[Line, ...])


class Comparisons:
    """The comparison of the workshop: a new one takes the place of the last, once it is over."""

    def __init__(self, records: str | None = None) -> None:
        self._beside: Beside[Asked] = Beside(run_comparison, records)

    def start(self, order: OrderFolder, asked: Asked) -> None:
        """Begin to price an order otherwise.

        Raises:
            KerfwrightError: ``pages/trial-runs``: another one is not over.
        """
        self._beside.start(order, asked)

    def state(self, slug: str) -> Comparison:
        """How far the comparison of an order is."""
        standing = self._beside.standing(slug)
        if standing is None:
            return Comparison()
        return Comparison(
            state=standing.state,
            words=standing.told.words,
            remedy=standing.told.remedy,
            asked=standing.about,
            lines=_lines(standing.folder),
        )

    def stop(self, slug: str | None = None) -> None:
        """End the comparison of an order, or of any, and forget it."""
        self._beside.stop(slug)


def run_comparison(order_file: str, asked: Asked, folder: str, records: str | None) -> None:
    """Plan and price each way, and write its line as soon as it is there."""

    def work(tell: Tell) -> None:
        _compare(Path(order_file), asked, Path(folder), records, tell)

    tell_while(work, Path(order_file), Path(folder))


def _compare(order_file: Path, asked: Asked, folder: Path, records: str | None, tell: Tell) -> None:
    """Price each way.

    Raises:
        KerfwrightError: the order cannot be read, or names no rates.
    """
    from kerfwright.quotation import compared, rates_of, require_materials  # noqa: PLC0415
    from kerfwright.shop.files import load_shop  # noqa: PLC0415

    shop = load_shop(order_file, stock_reader(records))
    rates = rates_of(shop)
    require_materials(shop, asked.materials)
    ways = list(asked.ways())
    lines: list[Line] = []
    for number, (times, material) in enumerate(ways, start=1):
        head = f"{number} of {len(ways)}, {material or f'{times} × everything'}"

        def progress(words: str, head: str = head) -> None:
            tell(f"{head}: {words}")

        progress("reading")
        (variant,) = compared(
            shop,
            rates,
            times=() if material else (times,),
            materials=(material,) if material else (),
            progress=progress,
            runs_of=runs_reader(records),
        )
        quote = variant.quote
        if quote is None:
            lines.append(Line(way=variant.name, why_not=variant.why_not))
        else:
            lines.append(
                Line(
                    way=variant.name,
                    net=f"{quote.net:f}",
                    total=f"{quote.total:f}",
                    currency=quote.currency,
                    items=tuple(
                        ItemPrice(item=one.item, each=f"{one.each:f}") for one in quote.items
                    ),
                    beam_s=quote.beam_s,
                    sheets=quote.sheets,
                )
            )
        with whole_file(folder / LINES_FILE) as path:
            path.write_bytes(LINES.dump_json(tuple(lines)))


def _lines(folder: Path) -> tuple[Line, ...]:
    with suppress(OSError, ValidationError):
        return LINES.validate_json((folder / LINES_FILE).read_bytes())
    return ()
