"""Reads the shop's TOML files and checks that they fit together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import Fault, listed, nearest, raise_faults
from kerfwright.shop.fixture import Fixture
from kerfwright.shop.fixture_files import fixture_faults, with_fixture_files
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.named_files import file_faults
from kerfwright.shop.order import Item, Order, StockSheet
from kerfwright.shop.photo_recipes import WITHOUT_PHOTO_RECIPE
from kerfwright.shop.rates import Rates, rates_faults
from kerfwright.shop.recipe_checks import recipe_faults
from kerfwright.shop.stock import bed_faults, stock_faults
from kerfwright.shop.stock_lots import StockOf
from kerfwright.shop.stock_sheets import NO_STOCK, StockForOrder, stock_for
from kerfwright.shop.toml_files import read_table, validated
from kerfwright.shop.wishes import wish_faults

SPOTS_APART = 20.0
"""A kerf or an interval so many times wider or narrower than the spot is a mistyped number."""


@dataclass(frozen=True, slots=True)
class Shop:
    """An order with everything that it names. ``folder`` is where its paths start."""

    order: Order
    machine: Machine
    materials: tuple[Material, ...]
    folder: Path
    order_file: Path
    machine_file: Path
    material_files: tuple[Path, ...]
    """One for each of ``materials``."""
    rates: Rates | None = None
    """What work and material cost, where the order names a rates file."""
    from_stock: StockForOrder = NO_STOCK
    """What of the order's sheets came from the stock on record."""

    @property
    def stock(self) -> tuple[StockSheet, ...]:
        """Sheets of the order, priced by the rates where they have no price of their own."""
        if self.rates is None:
            return self.order.stock
        return tuple(
            sheet
            if sheet.price_per_m2 is not None
            else sheet.model_copy(update={"price_per_m2": self.rates.price_per_m2(sheet.material)})
            for sheet in self.order.stock
        )

    def material(self, name: str) -> Material:
        """Return the material of that name; ``KeyError`` if the order lists none."""
        return {material.name: material for material in self.materials}[name]

    def material_file(self, name: str) -> Path:
        """Return the file of the material of that name."""
        return self.material_files[[material.name for material in self.materials].index(name)]

    def fixture(self, name: str) -> Fixture:
        """Return the fixture of that name; ``KeyError`` if the order has none."""
        return {fixture.name: fixture for fixture in self.order.fixtures}[name]

    def drawing_file(self, item: Item) -> Path:
        """Return where an item's drawing lies."""
        return self.folder / item.drawing


def load_machine(path: Path | str) -> Machine:
    """Read a machine file.

    Raises:
        KerfwrightError: the file is missing or no TOML, or keys or values in it are wrong.
    """
    table = read_table("machine", Path(path))
    return validated("machine", Path(path), Machine, table, _air_faults(table))


def load_material(path: Path | str) -> Material:
    """Read a material file. A recipe without the width that its process needs is an error.

    Raises:
        KerfwrightError: the file is missing or no TOML, or keys or values in it are wrong.
    """
    return material_of_table(read_table("material", Path(path)), path)


def material_of_table(table: dict[str, Any], file: Path | str) -> Material:
    """Make a material of what a file holds, or of a table from elsewhere; ``file`` says where.

    Raises:
        KerfwrightError: keys or values in it are wrong.
    """
    return validated("material", Path(file), Material, table, recipe_faults(table))


def load_rates(path: Path | str) -> Rates:
    """Read a rates file, its numbers as decimals.

    Raises:
        KerfwrightError: the file is missing or no TOML, or keys or values in it are wrong.
    """
    table = read_table("rates", Path(path), parse_float=Decimal)
    rates = validated("rates", Path(path), Rates, table)
    raise_faults("rates", str(path), list(rates_faults(rates)), table)
    return rates


def load_order(path: Path | str) -> Order:
    """Read an order file, without looking at the files that it names.

    Raises:
        KerfwrightError: the file is missing or no TOML, or keys or values in it are wrong.
    """
    return _order_and_table(Path(path))[0]


def load_shop(order_path: Path | str, stock_of: StockOf | None = None) -> Shop:
    """Read an order, its machine and its materials, and check what they say of each other.

    Where the order takes sheets from the stock on record, ``stock_of`` gives what is there.

    Raises:
        KerfwrightError: any of the files is wrong, or they do not fit together.
    """
    order_file = Path(order_path)
    folder = order_file.parent
    order, table = _order_and_table(order_file)
    raise_faults("order", str(order_file), file_faults(order, folder), table)
    machine = load_machine(folder / order.machine)
    material_files = tuple(folder / path for path in order.materials)
    materials = tuple(load_material(path) for path in material_files)
    from_stock = stock_for(order, machine, {one.name for one in materials}, stock_of)
    raise_faults("order", str(order_file), from_stock.faults, table)
    order = order.model_copy(update={"stock": (*order.stock, *from_stock.sheets)})
    order = with_fixture_files(order, folder)
    faults = [
        *_material_faults(order, materials),
        *bed_faults(order, machine),
        *stock_faults(order),
        *wish_faults(order),
        *fixture_faults(order),
    ]
    raise_faults("order", str(order_file), faults, table)
    rates = None if order.rates is None else load_rates(folder / order.rates)
    return Shop(
        order,
        machine,
        materials,
        folder,
        order_file,
        folder / order.machine,
        material_files,
        rates,
        from_stock,
    )


def missing_recipe_error(
    material: Material, machine: Machine, process: str, file: Path | str
) -> KerfwrightError:
    """Make the error for a process that the shop has no recipe for; no setting is invented."""
    others = sorted({r.machine for r in material.recipes if r.process == process})
    known = (
        f" It has one for {listed(others)}, but settings do not carry over from one machine "
        "to another."
        if others
        else ""
    )
    like = nearest(machine.name, others)
    typo = f' If "{like}" is the same machine, give it the same name in both files.' if like else ""
    typo += WITHOUT_PHOTO_RECIPE if process == "photo" else ""
    trial = "grey" if process == "photo" else "power"
    return KerfwrightError(
        "material/recipe-missing",
        file=str(file),
        thing=f'there is no {process} recipe for "{material.name}" on "{machine.name}".{known}',
        remedy=(
            f"Burn a test piece on an offcut of the same sheet (kerfwright calibrate {trial} makes "
            f"one), starting from what the machine's manual and the material's supplier allow, and "
            f"add what worked as [[recipes]] with "
            f'machine = "{machine.name}" and process = "{process}". Where you have tested other '
            f"thicknesses of it, kerfwright recipes suggest says where to begin.{typo}"
        ),
    )


def require_reachable_speed(
    recipe: Recipe, material: Material, machine: Machine, file: Path | str
) -> None:
    """Refuse a recipe that is faster than the machine burns; slower it would burn too deep.

    Raises:
        KerfwrightError: ``material/faster-than-machine``.
    """
    fastest = min(machine.cutting.speed_mm_s)  # a line may run along either axis
    if recipe.process in {"engrave", "photo"}:
        fastest = max(*machine.cutting.speed_mm_s, *machine.scanning.speed_mm_s)
    if recipe.speed_mm_s <= fastest:
        return
    raise KerfwrightError(
        "material/faster-than-machine",
        file=str(file),
        thing=f'the {recipe.process} recipe for "{material.name}" asks for '
        f'{recipe.speed_mm_s:g} mm/s, but "{machine.name}" burns at {fastest:g} mm/s at most.',
        remedy="Burn a test piece at a speed that the machine reaches and put that recipe in, or "
        "correct the machine file if it states too little.",
    )


def require_plausible_widths(
    recipe: Recipe, material: Material, machine: Machine, file: Path | str
) -> None:
    """Refuse a kerf or an interval that cannot belong to the machine's spot: a slip of the pen.

    Raises:
        KerfwrightError: ``material/implausible-width``.
    """
    widths = {"kerf_mm": recipe.kerf_mm, "interval_mm": recipe.interval_mm}
    for key, width in widths.items():
        if not width or 1.0 / SPOTS_APART <= width / machine.spot_mm <= SPOTS_APART:
            continue
        raise KerfwrightError(
            "material/implausible-width",
            file=str(file),
            thing=f'the {recipe.process} recipe for "{material.name}" has {key} = {width:g}, but '
            f'the spot of "{machine.name}" is {machine.spot_mm:g} mm wide.',
            remedy=f"Measure again and correct {key}, or spot_mm in the machine file.",
        )


def _order_and_table(path: Path) -> tuple[Order, dict[str, Any]]:
    table = read_table("order", path)
    return validated("order", path, Order, table), table


def _air_faults(table: dict[str, Any]) -> list[Fault]:
    """Air that a program could switch on and never off."""
    controller = table.get("controller")
    if not isinstance(controller, dict) or not controller.get("air_on"):
        return []
    if controller.get("air_off"):
        return []
    return [
        Fault(
            "air-off-missing",
            ("controller", "air_off"),
            "is missing, and air_on switches the air on.",
            'Add air_off = "M9", or take air_on out if the air runs by itself.',
        )
    ]


def _items(order: Order) -> Iterable[tuple[int, Item]]:
    return enumerate(order.items)


def _material_faults(order: Order, materials: tuple[Material, ...]) -> list[Fault]:
    faults: list[Fault] = []
    names = [material.name for material in materials]
    quoted = [f'"{name}"' for name in names]
    for n, name in enumerate(names):
        if (first := names.index(name)) != n:
            faults.append(
                Fault(
                    "material-twice",
                    ("materials", n),
                    f'is called "{name}", and so is the material of materials[{first + 1}].',
                    "List a file once, and give every material file its own name = …",
                )
            )
    users = [(("items", n, "material"), item.material) for n, item in _items(order)]
    users += [(("stock", n, "material"), sheet.material) for n, sheet in enumerate(order.stock)]
    stocked = {sheet.material for sheet in order.stock}
    on_sheets = {("items", n) for n, item in _items(order) if item.fixture is None}
    for at, name in users:
        if name not in names:
            like = nearest(name, names)
            hint = f'Did you mean "{like}"? ' if like else "List its file under materials. "
            faults.append(
                Fault(
                    "material-unknown",
                    at,
                    f'is "{name}", and no material file of the order has that name.',
                    f"{hint}The order's materials are {', '.join(quoted)}.",
                )
            )
        elif at[:2] in on_sheets and name not in stocked:
            faults.append(
                Fault(
                    "stock-missing",
                    at,
                    f'is "{name}", and the order has no sheet of it.',
                    f'Add a [[stock]] block with material = "{name}" and the sheet\'s size; for a '
                    "blank, the size of the tray or place that it lies in."
                    f"{_received_how(order, name)}",
                )
            )
    return faults


def _received_how(order: Order, material: str) -> str:
    if order.stock_from != "records":
        return ""
    return (
        f' Or put sheets into the stock on record: kerfwright stock receive "{material}" 600x400 '
        "--count 5."
    )
