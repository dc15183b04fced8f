"""The price of a plan's work by the shop's rates, every line shown."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from kerfwright.errors import KerfwrightError
from kerfwright.findings import number_of
from kerfwright.quoting.model import ItemPrice, ItemWork, Quote, QuoteLine, SheetWork, Work
from kerfwright.quoting.money import divided, in_words, rate_in_words, rounded
from kerfwright.quoting.work import exact
from kerfwright.shop.faults import nearest
from kerfwright.shop.rates import Rates

MM2_PER_M2 = Decimal(1_000_000)
MINUTES_PER_HOUR = Decimal(60)
SECONDS_PER_HOUR = Decimal(3600)


def price(work: Work, rates: Rates, *, title: str, rates_file: str, invented: bool) -> Quote:
    """Work out the price: costs, margin, discounts, minimum, tax; each amount rounded once.

    Items share each cost by what causes it: material and sheets by area, the machine's time and
    the setting up by beam time, handling by parts. Their prices add up to the net price.

    Raises:
        KerfwrightError: ``rates/material-without-price``.
    """
    reckoning = _Reckoning(work, rates)
    reckoning.add_material(rates_file)
    reckoning.add_machine()
    reckoning.add_labour()
    raw = [share * (1 + rates.margin) for share in reckoning.by_item]
    discounts = [rates.discount(item.pieces) for item in work.items]
    cost = sum((line.amount for line in reckoning.lines), Decimal(0))
    surcharges = [
        QuoteLine(
            "margin",
            f"{_percent(rates.margin)} of {reckoning.words(cost)}",
            rounded(cost * rates.margin, rates.currency),
        )
    ]
    surcharges += [
        QuoteLine(
            f"discount on {item.item}",
            f"{_percent(share)} of {reckoning.words(full)} for {item.pieces} pieces",
            -rounded(full * share, rates.currency),
        )
        for item, full, share in zip(
            work.items, (rounded(one, rates.currency) for one in raw), discounts, strict=True
        )
        if share > 0
    ]
    net = cost + sum((line.amount for line in surcharges), Decimal(0))
    minimum = rounded(rates.minimum, rates.currency)
    if net < minimum:
        how = f"no order below {reckoning.words(minimum)}"
        surcharges.append(QuoteLine("up to the minimum", how, minimum - net))
        net = minimum
    tax = rounded(net * rates.tax, rates.currency)
    weights = [full * (1 - share) for full, share in zip(raw, discounts, strict=True)]
    return Quote(
        title=title,
        currency=rates.currency,
        locale=rates.locale,
        costs=tuple(reckoning.lines),
        surcharges=tuple(surcharges),
        items=_item_prices(work.items, net, weights, discounts, rates.currency),
        net=net,
        tax=QuoteLine(rates.tax_name, f"{_percent(rates.tax)} of {reckoning.words(net)}", tax),
        total=net + tax,
        beam_s=work.beam_s,
        sheets=len(work.sheets),
        invented=invented or rates.invented,
    )


def _item_prices(
    items: Sequence[ItemWork],
    net: Decimal,
    weights: Sequence[Decimal],
    discounts: Sequence[Decimal],
    currency: str,
) -> tuple[ItemPrice, ...]:
    return tuple(
        ItemPrice(
            item=item.item,
            material=item.material,
            pieces=item.pieces,
            price=share,
            each=rounded(share / item.pieces, currency),
            discount=discount,
        )
        for item, share, discount in zip(
            items, divided(net, weights, currency), discounts, strict=True
        )
    )


@dataclass(slots=True)
class _Reckoning:
    """Cost lines as they are added, and what each item causes of them, not rounded."""

    work: Work
    rates: Rates
    lines: list[QuoteLine] = field(default_factory=list)
    by_item: list[Decimal] = field(init=False)

    def __post_init__(self) -> None:
        self.by_item = [Decimal(0)] * len(self.work.items)

    def words(self, amount: Decimal) -> str:
        return in_words(amount, self.rates.currency, self.rates.locale)

    def rate(self, rate: Decimal) -> str:
        return rate_in_words(rate, self.rates.currency, self.rates.locale)

    def add(self, what: str, how: str, amount: Decimal, weights: Sequence[float]) -> None:
        """Add a line, unless it costs nothing, and charge it to items by ``weights``."""
        if amount == 0:
            return
        paid = rounded(amount, self.rates.currency)
        self.lines.append(QuoteLine(what, how, paid))
        exact_weights = [exact(weight) for weight in weights]
        whole = sum(exact_weights, Decimal(0))
        for i, weight in enumerate(exact_weights):
            share = weight / whole if whole else Decimal(1) / len(exact_weights)
            self.by_item[i] += paid * share

    def add_material(self, rates_file: str) -> None:
        for material in dict.fromkeys(sheet.material for sheet in self.work.sheets):
            items = [i.area_mm2 if i.material == material else 0.0 for i in self.work.items]
            if not any(items):
                continue  # only blanks lie there: the tray is no material that is used
            sheets = [sheet for sheet in self.work.sheets if sheet.material == material]
            by_price: defaultdict[Decimal, list[SheetWork]] = defaultdict(list)
            for sheet in sheets:
                by_price[self._per_m2(sheet, rates_file)].append(sheet)
            for per_m2, alike in by_price.items():
                if self.rates.material_by == "area":
                    self._add_area(alike, per_m2, items)
                else:
                    self._add_sheets(alike, per_m2, items)

    def _per_m2(self, sheet: SheetWork, rates_file: str) -> Decimal:
        """What a square metre of a sheet costs: its own price, the rates', or the sheet's share."""
        per_m2 = sheet.price_per_m2
        if per_m2 is None:
            per_m2 = self.rates.price_per_m2(sheet.material)
        if per_m2 is None and sheet.price is not None:
            per_m2 = sheet.price * MM2_PER_M2 / exact(sheet.area_mm2)
        if per_m2 is None:
            raise without_price(sheet.material, self.rates, rates_file)
        return per_m2

    def _add_area(
        self, sheets: Sequence[SheetWork], per_m2: Decimal, items: Sequence[float]
    ) -> None:
        area_m2 = exact(sum(sheet.parts_mm2 for sheet in sheets)) / MM2_PER_M2
        waste = f" + {_percent(self.rates.waste)} waste" if self.rates.waste else ""
        how = f"{_square_metres(area_m2)} of parts{waste}, {self.rate(per_m2)} a m²"
        self.add(sheets[0].material, how, area_m2 * (1 + self.rates.waste) * per_m2, items)

    def _add_sheets(
        self, sheets: Sequence[SheetWork], per_m2: Decimal, items: Sequence[float]
    ) -> None:
        material = sheets[0].material
        for name in dict.fromkeys(sheet.name for sheet in sheets):
            alike = [sheet for sheet in sheets if sheet.name == name]
            prices = [
                exact(sheet.area_mm2) / MM2_PER_M2 * per_m2 if sheet.price is None else sheet.price
                for sheet in alike
            ]
            each = f", {self.words(prices[0])} each" if len(set(prices)) == 1 else ""
            how = f"{number_of(len(alike), 'whole sheet')}{each}"
            self.add(f"{material}, {name}", how, sum(prices, Decimal(0)), items)
        offcut_m2 = exact(sum(sheet.offcut_mm2 for sheet in sheets)) / MM2_PER_M2
        if offcut_m2 and self.rates.offcut_credit:
            how = (
                f"{_square_metres(offcut_m2)} come back, at {_percent(self.rates.offcut_credit)} "
                f"of {self.rate(per_m2)} a m²"
            )
            credit = offcut_m2 * per_m2 * self.rates.offcut_credit
            self.add(f"{material}, offcut", how, -credit, items)

    def add_machine(self) -> None:
        # whole seconds, so that the time shown is the time charged
        beam_s = exact(self.work.beam_s).quantize(Decimal(1), ROUND_HALF_UP)
        beam_h = beam_s / SECONDS_PER_HOUR
        minutes = f"{beam_s // 60} min {beam_s % 60:02} s"
        weights = [item.beam_s for item in self.work.items]
        for what, rate in (
            ("machine", self.rates.machine_per_hour),
            ("consumables", self.rates.consumables_per_hour),
        ):
            self.add(what, f"{minutes}, {self.rate(rate)} an hour", beam_h * rate, weights)

    def add_labour(self) -> None:
        rates, work = self.rates, self.work
        self._add_minutes(
            "setting up", Decimal(1), "", rates.setup_minutes, [item.beam_s for item in work.items]
        )
        count = len(work.sheets)
        self._add_minutes(
            "sheets",
            Decimal(count),
            number_of(count, "sheet"),
            rates.sheet_minutes,
            [item.area_mm2 for item in work.items],
        )
        parts = sum(item.parts for item in work.items)
        self._add_minutes(
            "parts",
            Decimal(parts),
            number_of(parts, "part"),
            rates.part_minutes,
            [float(item.parts) for item in work.items],
        )

    def _add_minutes(
        self, what: str, count: Decimal, things: str, minutes: Decimal, weights: Sequence[float]
    ) -> None:
        per_hour = self.rates.labour_per_hour
        times = f"{things} of " * bool(things) + f"{minutes.normalize():f} min"
        how = f"{times}, {self.rate(per_hour)} an hour"
        self.add(what, how, count * minutes / MINUTES_PER_HOUR * per_hour, weights)


def without_price(material: str, rates: Rates, rates_file: str) -> KerfwrightError:
    """Return the error that nobody has said what a material costs."""
    like = nearest(material, (sheet.material for sheet in rates.sheets))
    hint = f'There is a price for "{like}"; is that the one? Else add' if like else "Add"
    return KerfwrightError(
        "rates/material-without-price",
        file=rates_file,
        thing=f'"{material}" has no price.',
        remedy=f'{hint} a [[sheets]] block with material = "{material}" and price_per_m2 = …',
    )


def _square_metres(area_m2: Decimal) -> str:
    """Area to a square centimetre; what is smaller in square centimetres."""
    cm2 = area_m2 * 10_000
    return f"{area_m2:.4f} m²" if cm2 >= 1000 else f"{cm2:.2f} cm²"


def _percent(share: Decimal) -> str:
    return f"{(share * 100).normalize():f} %"
