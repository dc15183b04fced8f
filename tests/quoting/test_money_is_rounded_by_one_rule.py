"""Amounts are rounded once, half a unit upwards, and shares add up to the last cent.

The rule is that of Council Regulation (EC) No 1103/97, article 5: rounded up or down to the
nearest cent, and up "if the application of the conversion rate gives a result which is exactly
half-way". Digits by currency are those of ISO 4217: none for JPY, three for KWD.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.quoting.money import divided, in_words, rounded


@pytest.mark.parametrize(
    ("exact", "currency", "paid"),
    [
        ("0.005", "EUR", "0.01"),
        ("0.015", "EUR", "0.02"),
        ("0.025", "EUR", "0.03"),
        ("2.675", "EUR", "2.68"),
        ("1.005", "EUR", "1.01"),
        ("0.0049999999", "EUR", "0.00"),
        ("-0.005", "EUR", "-0.01"),
        ("0.5", "JPY", "1"),
        ("2.5", "JPY", "3"),
        ("0.0005", "KWD", "0.001"),
        ("12.3445", "KWD", "12.345"),
    ],
)
def test_half_a_unit_goes_up(exact: str, currency: str, paid: str) -> None:
    assert rounded(Decimal(exact), currency) == Decimal(paid)


def test_a_credit_mirrors_a_charge() -> None:
    for cents in range(-50, 51):
        amount = Decimal(cents) / 1000
        assert rounded(-amount, "EUR") == -rounded(amount, "EUR")


@given(
    st.integers(-(10**9), 10**9),
    st.lists(st.decimals(0, 10**6, places=4, allow_nan=False), min_size=1, max_size=12),
)
def test_shares_add_up_and_none_is_off_by_a_cent(cents: int, weights: list[Decimal]) -> None:
    total = Decimal(cents) / 100
    shares = divided(total, weights, "EUR")
    assert sum(shares) == total
    whole = sum(weights)
    for share, weight in zip(shares, weights, strict=True):
        fair = total * weight / whole if whole else total / len(weights)
        assert abs(share - fair) < Decimal("0.01")
        assert share == rounded(share, "EUR")


def test_three_equal_shares_of_a_euro() -> None:
    assert divided(Decimal(1), [Decimal(1)] * 3, "EUR") == (
        Decimal("0.34"),
        Decimal("0.33"),
        Decimal("0.33"),
    )


def test_nobody_to_share_with_is_a_fault() -> None:
    with pytest.raises(ValueError, match="weights"):
        divided(Decimal(1), [], "EUR")
    with pytest.raises(ValueError, match="below zero"):
        divided(Decimal(1), [Decimal(-1)], "EUR")


def test_amounts_are_written_as_in_the_shop_s_country() -> None:
    # as Unicode CLDR has it: the sign before or behind, the point or the comma
    assert in_words(Decimal("1234.50"), "EUR", "en_IE") == "€1,234.50"
    assert in_words(Decimal("1234.50"), "EUR", "de_DE") == "1.234,50\xa0€"
    assert in_words(Decimal(1234), "JPY", "en") == "¥1,234"
