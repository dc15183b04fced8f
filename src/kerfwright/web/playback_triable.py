"""What of an order may be tried otherwise beside its plan: what the beam's way follows from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.web.order_file import Change

ITEM_KEYS = frozenset({"engrave", "engrave_layers", "photo_rows"})
SETTING_KEYS = frozenset({"engrave", "order_of_work", "shared_edges"})
"""What of an item, and of the settings, may be tried."""


def require_triable(changes: Sequence[Change], order_file: Path) -> None:
    """Refuse changes of anything but the beam's way.

    Raises:
        KerfwrightError: ``pages/not-to-try``.
    """
    for change in changes:
        if not _is_triable(change):
            key = next((step for step in reversed(change.at) if isinstance(step, str)), "this")
            raise KerfwrightError(
                "pages/not-to-try",
                file=str(order_file),
                thing=f'"{key}" cannot be tried beside the plan.',
                remedy="Change it in the order and plan again.",
            )


def _is_triable(change: Change) -> bool:
    match change.at:
        case ("items", int(), str(key), *_):
            return key in ITEM_KEYS
        case ("settings", str(key)):
            return key in SETTING_KEYS
    return False
