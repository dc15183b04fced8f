"""What an order's items need, and are checked for, before any of their parts is placed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from kerfwright.batches import told_once
from kerfwright.findings import Finding
from kerfwright.kept import Kept
from kerfwright.parts.checks import checked_for_plan
from kerfwright.placing import ItemParts
from kerfwright.shop.cut_recipes import require_focus_axis, require_tab_width
from kerfwright.shop.files import (
    Shop,
    missing_recipe_error,
    require_plausible_widths,
    require_reachable_speed,
)
from kerfwright.shop.material import Material, Recipe
from kerfwright.toolpath import Process


def checked(items: Sequence[ItemParts], shop: Shop, kept: Kept) -> list[Finding]:
    """Findings about the items' parts as they are drawn, once for all copies of a batch."""
    return [
        finding
        for _, copies in groupby(items, key=lambda one: one.number)
        for finding in told_once([(one.row, _checked(one, shop, kept)) for one in copies])
    ]


def _checked(one: ItemParts, shop: Shop, kept: Kept) -> list[Finding]:
    # the checks look at shapes and sizes, whatever way they are engraved
    usual: dict[str, object] = {"engrave": None, "engrave_layers": {}, "photo_rows": "fastest"}
    item = one.item.model_copy(update=usual)
    order, material = shop.order, shop.material(item.material)
    inputs = (one.parts, item, order.stock, order.settings, shop.machine, material)
    return kept.of("checks", inputs, lambda: checked_for_plan(one.parts, shop, item))


def used_materials(shop: Shop) -> list[Material]:
    """Materials that something is made from."""
    used = {item.material for item in shop.order.items}
    return [material for material in shop.materials if material.name in used]


def require_recipes(shop: Shop, items: Sequence[ItemParts]) -> None:
    """Refuse items without a recipe for everything that is burned on them, or with a wrong one.

    Raises:
        KerfwrightError: a recipe is missing, or does not go with the machine.
    """
    for one in items:
        material = shop.material(one.item.material)
        for process in sorted({p for part in one.parts for p in part.processes}):
            file = shop.material_file(material.name)
            recipe = material.recipe(shop.machine.name, process)
            if recipe is None:
                raise missing_recipe_error(material, shop.machine, process, file)
            require_reachable_speed(recipe, material, shop.machine, file)
            require_plausible_widths(recipe, material, shop.machine, file)
            require_focus_axis(recipe, material, shop.machine, shop.machine_file)
            require_tab_width(recipe, material, one.item.tabs, file)


def recipes_of(shop: Shop, material: Material) -> dict[Process, Recipe]:
    """Recipes of a material for the order's machine, by process."""
    by_process = {
        process: material.recipe(shop.machine.name, process)
        for process in (Process.ENGRAVE, Process.PHOTO, Process.SCORE, Process.CUT)
    }
    return {process: recipe for process, recipe in by_process.items() if recipe is not None}
