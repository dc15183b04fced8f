"""What the shop charges, as its rates file says it.

Money is decimal from the file to the quote: the loader reads the file's numbers as
:class:`decimal.Decimal`, so that ``0.1`` is a tenth and no binary neighbour of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Any, Literal

from babel import Locale, UnknownLocaleError
from babel.numbers import list_currencies
from pydantic import BeforeValidator, Field, field_validator
from pydantic_core import PydanticCustomError

from kerfwright.shop.faults import Fault
from kerfwright.shop.hours import WorkingHours
from kerfwright.shop.machine import StrictModel, Switch, Text


def _decimal(value: Any) -> Any:
    """Take the numbers of a TOML file, and no texts that look like numbers."""
    if isinstance(value, bool | str):
        raise PydanticCustomError("decimal_type", "no number")
    return Decimal(str(value)) if isinstance(value, int | float) else value


Money = Annotated[Decimal, Field(ge=0, max_digits=15, decimal_places=6), BeforeValidator(_decimal)]
"""An amount in the shop's currency, or a rate in it."""

Share = Annotated[Decimal, Field(ge=0, le=1), BeforeValidator(_decimal)]
Minutes = Annotated[Decimal, Field(ge=0, le=100_000), BeforeValidator(_decimal)]
OnTop = Annotated[Decimal, Field(ge=0, le=10), BeforeValidator(_decimal)]


class SheetPrice(StrictModel):
    """What the sheets of a material cost the shop."""

    material: Text
    """Name of the material, as its file says it."""
    price_per_m2: Money
    """Price of a square metre, as bought."""


class QuantityBreak(StrictModel):
    """A lower price for items ordered in number."""

    pieces: Annotated[int, Field(ge=2, strict=True)]
    """From how many of an item on."""
    discount: Share
    """Share of the item's price that is taken off."""


class Rates(StrictModel):
    """What work and material cost, and what a quote must say."""

    shop: Text
    """The shop's name, as quotes show it."""
    address: tuple[Text, ...] = ()
    """Lines below the name: street, town, telephone, tax number."""
    currency: Text
    """Currency by its ISO 4217 code, such as "EUR"."""
    locale: Text = "en"
    """How amounts are written: a language, with a country after _ where it matters ("de_DE")."""
    machine_per_hour: Money
    """An hour of the machine at work: depreciation, power, upkeep, rent of its place."""
    labour_per_hour: Money
    """An hour of whoever sets up, lays in, takes out and packs."""
    setup_minutes: Minutes = Decimal(0)
    """Labour once for the whole order."""
    sheet_minutes: Minutes = Decimal(0)
    """Labour for every sheet: laying in, focusing, taking out."""
    part_minutes: Minutes = Decimal(0)
    """Labour for every part: picking, cleaning, packing."""
    consumables_per_hour: Money = Decimal(0)
    """Lenses, filters, gas and tape for an hour of the beam's work."""
    material_by: Literal["sheet", "area"] = "sheet"
    """Whether whole sheets are charged, or the area of the parts with waste on top."""
    waste: OnTop = Decimal(0)
    """Share on top of the parts' area, where material is charged by area."""
    offcut_credit: Share = Decimal(0)
    """Share of its price by area at which a reusable offcut is taken back, for whole sheets."""
    margin: OnTop = Decimal(0)
    """Share on top of all costs."""
    minimum: Money = Decimal(0)
    """No order is done for less, before tax."""
    tax: Share = Decimal(0)
    """Tax as a share of the net price, such as 0.19."""
    tax_name: Text = "Tax"
    """What the tax is called on quotes."""
    valid_days: Annotated[int, Field(ge=1, le=3650, strict=True)] = 30
    """For how many days a quote holds."""
    terms: tuple[Text, ...] = ()
    """Lines at the foot of a quote: delivery, payment."""
    sheets: tuple[SheetPrice, ...] = ()
    """Prices of materials, one [[sheets]] block for each."""
    breaks: tuple[QuantityBreak, ...] = ()
    """Discounts for items in number, one [[breaks]] block for each."""
    hours: WorkingHours | None = None
    """When somebody is in the shop, for schedules; a table [hours] of its own."""
    invented: Switch = False
    """True for example files."""

    @field_validator("currency")
    @classmethod
    def _known_currency(cls, value: str) -> str:
        if value not in list_currencies():
            raise PydanticCustomError("currency", "no ISO 4217 code of a currency")
        return value

    @field_validator("locale")
    @classmethod
    def _known_locale(cls, value: str) -> str:
        try:
            return str(Locale.parse(value.replace("-", "_")))
        except (UnknownLocaleError, ValueError):
            raise PydanticCustomError("locale", "no language known here") from None

    def price_per_m2(self, material: str) -> Decimal | None:
        """Price of a material's square metre, ``None`` where the file has none."""
        return {sheet.material: sheet.price_per_m2 for sheet in self.sheets}.get(material)

    def discount(self, pieces: int) -> Decimal:
        """Share off for that many of one item: that of the highest break reached."""
        reached = [one for one in self.breaks if one.pieces <= pieces]
        return max(reached, key=lambda one: one.pieces).discount if reached else Decimal(0)


def rates_faults(rates: Rates) -> Iterator[Fault]:
    """Prices and discounts that the file gives twice: nothing says which of them is meant."""
    materials = [f'"{sheet.material}"' for sheet in rates.sheets]
    pieces = [str(one.pieces) for one in rates.breaks]
    for block, key, given in (("sheets", "material", materials), ("breaks", "pieces", pieces)):
        for n, value in enumerate(given):
            first = given.index(value)
            if first != n:
                yield Fault(
                    "price-twice",
                    (block, n, key),
                    f"is {value}, as in {block}[{first + 1}].",
                    "Keep the block that holds.",
                )
