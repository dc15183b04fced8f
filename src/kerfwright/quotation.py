"""From an order to its quote, and to quotes for other quantities or materials beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from kerfwright.batches import ordered_items
from kerfwright.errors import KerfwrightError
from kerfwright.plan import Plan
from kerfwright.planner import PlanStoppedError, plan_shop
from kerfwright.quoting.model import Quote
from kerfwright.quoting.price import price, without_price
from kerfwright.quoting.work import work_of
from kerfwright.shop.faults import listed, nearest
from kerfwright.shop.files import Shop
from kerfwright.shop.rates import Rates
from kerfwright.shop.runs import RunsOf

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Variant:
    """The order otherwise: ``times`` as many of everything, or all of it in ``material``.

    ``quote`` is ``None`` where it cannot be made; ``why_not`` says why.
    """

    times: int
    material: str
    quote: Quote | None
    why_not: str = ""

    @property
    def name(self) -> str:
        """What is different."""
        words = [f"{self.times} × everything"] if self.times != 1 else []
        return ", ".join([*words, *([self.material] if self.material else [])]) or "as ordered"


def rates_of(shop: Shop) -> Rates:
    """Return the rates that the order names.

    Raises:
        KerfwrightError: ``rates/none-named``.
    """
    if shop.rates is None:
        raise KerfwrightError(
            "rates/none-named",
            file=str(shop.order_file),
            thing="the order names no rates, and without them nothing has a price.",
            remedy='Add a line such as rates = "rates.toml" above the first [[items]] block.',
        )
    return shop.rates


def require_prices(shop: Shop, rates: Rates) -> None:
    """Refuse an order that cannot be priced whatever its plan will be, before it is planned.

    A material that is cut needs a price in the rates, or a sheet of it that has its own. Where
    only some of its sheets have one, the plan decides, and the price is asked for after it.

    Raises:
        KerfwrightError: ``rates/material-without-price``.
    """
    own = {
        sheet.material
        for sheet in shop.stock
        if sheet.cost is not None or sheet.price_per_m2 is not None
    }
    for item in shop.order.items:
        if item.blank or item.material in own:
            continue
        if rates.price_per_m2(item.material) is None:
            raise without_price(item.material, rates, _rates_file(shop))


def quoted(shop: Shop, plan: Plan, rates: Rates) -> Quote:
    """Price a planned order.

    Raises:
        KerfwrightError: a material has no price.
    """
    return price(
        work_of(plan, ordered_items(shop), shop.order.settings.offcut_least_mm),
        rates,
        title=shop.order.title,
        rates_file=_rates_file(shop),
        invented=plan.invented,
    )


def _rates_file(shop: Shop) -> str:
    return str(shop.folder / (shop.order.rates or ""))


def compared(
    shop: Shop,
    rates: Rates,
    *,
    times: Sequence[int],
    materials: Sequence[str],
    progress: Progress,
    runs_of: RunsOf | None = None,
) -> tuple[Variant, ...]:
    """Plan and price the order in other numbers and in other materials.

    ``materials`` are the order's, as :func:`require_materials` sees to.
    """
    variants = [(n, "") for n in times] + [(1, material) for material in materials]
    made = []
    for n, material in dict.fromkeys(variants):
        changed = _changed(shop, n, material)
        try:
            require_prices(changed, rates)
            quote = quoted(changed, plan_shop(changed, progress, runs_of), rates)
            made.append(Variant(n, material, quote))
        except KerfwrightError as error:
            made.append(Variant(n, material, None, error.thing))
        except PlanStoppedError as stopped:
            made.append(Variant(n, material, None, stopped.stops[0].what))
    return tuple(made)


def _changed(shop: Shop, times: int, material: str) -> Shop:
    items = tuple(
        item.model_copy(
            update={"quantity": item.quantity * times}
            | ({"material": material} if material else {})
        )
        for item in shop.order.items
    )
    return replace(shop, order=shop.order.model_copy(update={"items": items}))


def require_materials(shop: Shop, materials: Sequence[str]) -> None:
    """Refuse materials that the order does not list.

    Raises:
        KerfwrightError: ``rates/material-unknown``.
    """
    names = [one.name for one in shop.materials]
    material = next((one for one in materials if one not in names), None)
    if material is None:
        return
    like = nearest(material, names)
    hint = f'Did you mean "{like}"? ' if like else ""
    raise KerfwrightError(
        "rates/material-unknown",
        file=str(shop.order_file),
        thing=f'the order lists no material "{material}".',
        remedy=f"{hint}It lists {listed(names)}.",
    )
