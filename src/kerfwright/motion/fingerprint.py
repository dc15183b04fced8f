"""Which clock computed a time: a prediction can only be learned from by the clock that made it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from typing import Any

from kerfwright.shop.machine import Machine

CLOCK_VERSION = 1
"""Raised whenever the clock computes other seconds from the same toolpath and machine file."""

NOT_TIMED = {
    "name",
    "bed_width_mm",
    "bed_height_mm",
    "power_w",
    "laser_class",
    "spot_mm",
    "reversal_shift_mm",
    "invented",
    "controller.dialect",
    "controller.full_power_s_word",
    "controller.decimals",
}
"""Facts of a machine file that no time depends on."""


def clock_fingerprint(machine: Machine) -> str:
    """Sixteen hexadecimal digits that change with any fact of the machine that times rest on.

    A key left out counts like one that states the default.
    """
    facts = dict(_facts(machine.model_dump(mode="json", exclude_defaults=True)))
    timed = {key: fact for key, fact in facts.items() if key not in NOT_TIMED}
    text = json.dumps([CLOCK_VERSION, timed], sort_keys=True)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


def _facts(table: dict[str, Any], inside: str = "") -> Iterator[tuple[str, object]]:
    """Every fact with its dotted key."""
    for key, fact in table.items():
        if isinstance(fact, dict):
            yield from _facts(fact, f"{inside}{key}.")
        else:
            yield inside + key, fact
