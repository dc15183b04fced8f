"""Amounts of money: one rounding rule, and sums that come out to the last cent.

Amounts are rounded to the currency's smallest unit, half of it upwards, as Council Regulation
(EC) No 1103/97, article 5, has it for sums in euro ("if … exactly half-way, the sum shall be
rounded up"). How many digits a currency has is from ISO 4217, as Unicode CLDR lists it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from babel.numbers import format_currency, get_currency_precision


def smallest_unit(currency: str) -> Decimal:
    """Smallest amount that can be paid: 0.01 EUR, 1 JPY."""
    return Decimal(1).scaleb(-get_currency_precision(currency))


def rounded(amount: Decimal, currency: str) -> Decimal:
    """Round to what can be paid; half a unit goes away from zero, so a credit mirrors a charge."""
    return amount.quantize(smallest_unit(currency), rounding=ROUND_HALF_UP)


def divided(total: Decimal, weights: Sequence[Decimal], currency: str) -> tuple[Decimal, ...]:
    """Divide a rounded total by weights into rounded amounts that add up to it.

    By largest remainders (the method of Hamilton and Hare): every share is rounded down, then
    the units left over go to those who lost most by it, the first of equals. Without any weight
    all get the same. Raises ``ValueError`` for no weights or a negative one.
    """
    if not weights or any(weight < 0 for weight in weights):
        raise ValueError("there must be weights, and none below zero")
    whole = sum(weights, Decimal(0))
    if whole == 0:
        weights, whole = [Decimal(1)] * len(weights), Decimal(len(weights))
    unit = smallest_unit(currency)
    units = int(total / unit)
    exact = [abs(units) * weight / whole for weight in weights]
    shares = [int(share) for share in exact]
    by_loss = sorted(range(len(exact)), key=lambda i: (shares[i] - exact[i], i))
    for i in by_loss[: abs(units) - sum(shares)]:
        shares[i] += 1
    sign = -1 if units < 0 else 1
    return tuple(sign * share * unit for share in shares)


def rate_in_words(rate: Decimal, currency: str, locale: str) -> str:
    """Write a rate with all of its digits, up to a millionth: rates may be finer than coins."""
    whole = rate.quantize(Decimal("0.000001"), ROUND_HALF_UP).normalize()
    if whole == rounded(whole, currency):
        return in_words(whole, currency, locale)
    return str(format_currency(whole, currency, locale=locale, decimal_quantization=False))


def in_words(amount: Decimal, currency: str, locale: str) -> str:
    """Write an amount as people of the locale do, such as ``1.234,50 €``."""
    return str(format_currency(amount, currency, locale=locale))
