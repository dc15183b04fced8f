"""Sizes, outlines and amounts as people write them on the command line and in tables."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from kerfwright.errors import KerfwrightError
from kerfwright.shop.stock_lots import Rings

SIZE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*[x×X*]\s*(\d+(?:[.,]\d+)?)\s*(?:mm)?\s*")

MOST = Decimal(100_000_000)
"""No sheet costs so much; a slip of the pen."""


def size_of(text: str, where: str) -> tuple[float, float]:
    """Width and height in mm of ``600x400``.

    Raises:
        KerfwrightError: ``stock/wrong-size``, naming ``where`` it stands.
    """
    found = SIZE.fullmatch(text)
    size = tuple(float(side.replace(",", ".")) for side in found.groups()) if found else ()
    if len(size) != 2 or not all(size):
        raise KerfwrightError(
            "stock/wrong-size",
            file=where,
            thing=f'"{text}" is no size.',
            remedy="Give width and height in mm, such as 600x400.",
        )
    return size[0], size[1]


def outline_of(text: str, where: str) -> Rings:
    """Corners of ``0,0 120,0 60,100; 20,20 40,20 40,40``: the outline, then holes.

    Raises:
        KerfwrightError: ``stock/wrong-outline``.
    """
    if not text.strip():
        return ()
    try:
        rings = tuple(
            tuple(_corner(corner) for corner in ring.split())
            for ring in text.split(";")
            if ring.strip()
        )
    except ValueError:
        raise KerfwrightError(
            "stock/wrong-outline",
            file=where,
            thing=f'"{text}" is no outline.',
            remedy='Write corners as x,y in mm with a space between, such as "0,0 120,0 60,100"; '
            "decimals with a point, holes after a ;.",
        ) from None
    return rings


def outline_in_words(rings: Rings) -> str:
    """The outline as :func:`outline_of` reads it; empty for a full rectangle."""
    return "; ".join(" ".join(f"{x:.15g},{y:.15g}" for x, y in ring) for ring in rings)


def amount_of(text: str | None, where: str) -> Decimal | None:
    """Money as ``12.50``; ``None`` for nothing.

    Raises:
        KerfwrightError: ``stock/wrong-amount``.
    """
    if text is None or not text.strip():
        return None
    try:
        amount = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        amount = Decimal(-1)
    if not amount.is_finite() or not 0 <= amount < MOST or amount != round(amount, 4):
        raise KerfwrightError(
            "stock/wrong-amount",
            file=where,
            thing=f'"{text}" is no amount of money.',
            remedy="Write a number without the currency, such as 12.50.",
        )
    return amount


def _corner(text: str) -> tuple[float, float]:
    x, y = (float(number) for number in text.split(","))
    if not (abs(x) < 1e6 and abs(y) < 1e6):
        raise ValueError
    return x, y
