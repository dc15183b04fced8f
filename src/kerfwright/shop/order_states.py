"""Where an order can stand."""

from __future__ import annotations

from typing import Literal, get_args

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import listed

OrderState = Literal["quoted", "ordered", "planned", "running", "done", "delivered", "cancelled"]

STATES: tuple[OrderState, ...] = get_args(OrderState)

TO_BE_RUN: tuple[OrderState, ...] = ("ordered", "planned", "running")
"""States in which an order's sheets wait for the machine."""


def state_of(word: str) -> OrderState:
    """The state of that name.

    Raises:
        KerfwrightError: ``orders/no-such-state``.
    """
    for state in STATES:
        if state == word.strip().lower():
            return state
    raise KerfwrightError(
        "orders/no-such-state",
        file="kerfwright orders",
        thing=f'an order cannot be "{word}".',
        remedy=f"It is {listed(STATES)}.",
    )
