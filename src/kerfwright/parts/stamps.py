"""Stamps are read from what they print: a drawing that is not mirrored is worth a word."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.findings import Finding, Severity
from kerfwright.parts.model import Part
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.order import Item
from kerfwright.toolpath import Process


def stamp_findings(
    parts: Sequence[Part], material: Material, machine: Machine, item: Item
) -> list[Finding]:
    """Say whether what an inverted engraving leaves standing is mirrored or not."""
    recipe = material.recipe(machine.name, Process.ENGRAVE)
    marked = [part for part in parts if part.engraves]
    if recipe is None or not recipe.invert or not marked:
        return []
    if item.mirror:
        what, remedy = (
            "is mirrored, so that a stamp prints it as it is drawn.",
            ("Take mirror = true out of the item if the drawing is mirrored already."),
        )
    else:
        what, remedy = (
            "is not mirrored: a stamp would print it the wrong way round.",
            ("Set mirror = true at the item, unless the drawing is mirrored already."),
        )
    return [
        Finding(
            Severity.NOTE if item.mirror else Severity.WARN,
            "engraving/stamp-mirrored" if item.mirror else "engraving/stamp-not-mirrored",
            f"the engraving is inverted, and what it leaves standing {what}",
            remedy,
            drawing=parts[0].drawing,
            count=len(marked),
        )
    ]
