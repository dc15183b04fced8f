"""Planning with what is kept of earlier plans gives what planning from the beginning gives."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from kerfwright.kept import Kept
from kerfwright.output.files import sheet_files
from kerfwright.output.plan_json import plan_document, plan_json
from kerfwright.plan import Plan
from kerfwright.planner import plan_shop
from kerfwright.shop.files import load_shop
from small_shop import STOCK, SmallShop, svg

RATES = """\
shop = "Trial shop"
invented = true
currency = "EUR"
machine_per_hour = 30.0
labour_per_hour = 36.0

[[sheets]]
material = "board"
price_per_m2 = 20.0
"""

BADGE = """
<g id="Outline" fill="none" stroke="black"><circle cx="14" cy="14" r="12"/></g>
<g id="Engrave"><circle cx="14" cy="14" r="5"/></g>
<g id="Extra" fill="none" stroke="black"><path d="M 6,20 H 22"/></g>
"""

ITEMS = """
[[items]]
name = "tile"
drawing = "tile.svg"
material = "board"
quantity = 7

[[items]]
name = "badge"
drawing = "badge.svg"
material = "board"
quantity = 4

[[items.rules]]
layer = "Extra"
process = "score"
"""

MANY = STOCK.replace("count = 1", "count = 9")

CHANGES: dict[str, tuple[str, str, str]] = {
    "quantity": ("order.toml", "quantity = 4", "quantity = 3"),
    "way to engrave": ("order.toml", 'name = "badge"', 'name = "badge"\nengrave = "scan"'),
    "name": ("order.toml", 'name = "tile"', 'name = "plate"'),
    "rule": ("order.toml", 'process = "score"', 'process = "guide"'),
    "stock": ("order.toml", "width_mm = 120", "width_mm = 180"),
    "order of work": ("order.toml", "[settings]", '[settings]\norder_of_work = "part"'),
    "spacing": ("order.toml", "[settings]", "[settings]\nspacing_mm = 2.5"),
    "speed": ("board.toml", "speed_mm_s = 16", "speed_mm_s = 11"),
    "interval": ("board.toml", "interval_mm = 0.25", "interval_mm = 0.2"),
    "kerf": ("board.toml", "kerf_mm = 0.2", "kerf_mm = 0.3"),
    "machine": ("machine.toml", "settle_s = 0.02", "settle_s = 0.05"),
    "hour": ("rates.toml", "machine_per_hour = 30.0", "machine_per_hour = 90.0"),
    "price": ("rates.toml", "price_per_m2 = 20.0", "price_per_m2 = 35.0"),
    "drawing": ("tile.svg", 'cx="8" cy="8" r="3"', 'cx="9" cy="8" r="2.5"'),
}


class ChangingShop(SmallShop):
    """A shop whose order is planned the same way every time: the search counts its work."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.write("badge.svg", svg(BADGE, 28, 28))
        self.write("rates.toml", RATES)
        self.order(items=ITEMS, stock=MANY, settings="nest_work = 1000")
        self.change(
            "order.toml",
            'machine = "machine.toml"',
            'machine = "machine.toml"\nrates = "rates.toml"',
        )

    def plan_with(self, kept: Kept | None = None) -> tuple[Plan, list[str]]:
        said: list[str] = []
        memory = Kept(0) if kept is None else kept
        return plan_shop(load_shop(self.order_file), said.append, kept=memory), said


def text(plan: Plan) -> str:
    return plan_json(plan_document(plan, [sheet_files(sheet) for sheet in plan.sheets]))


def require_same(kept: Plan, anew: Plan) -> None:
    assert text(kept) == text(anew)
    for one, other in zip(kept.sheets, anew.sheets, strict=True):
        assert np.array_equal(one.toolpath.moves, other.toolpath.moves), "to the last bit"


@pytest.fixture(scope="module")
def changing(tmp_path_factory: pytest.TempPathFactory) -> tuple[ChangingShop, Kept]:
    shop, kept = ChangingShop(tmp_path_factory.mktemp("changing")), Kept()
    shop.plan_with(kept)
    return shop, kept


@pytest.fixture(scope="module")
def usual(changing: tuple[ChangingShop, Kept]) -> Plan:
    """The plan of the order before any change, made without a memory."""
    return changing[0].plan_with()[0]


def test_nothing_is_done_twice_where_nothing_changed(
    changing: tuple[ChangingShop, Kept], usual: Plan
) -> None:
    shop, kept = changing
    plan, said = shop.plan_with(kept)
    assert len(plan.sheets) > 1
    assert not [words for words in said if words.startswith("Planning the beam's path")]
    assert [words for words in said if "kept from before" in words]
    require_same(plan, usual)


@pytest.mark.parametrize("what", CHANGES)
def test_after_any_change_the_plan_is_the_same(
    changing: tuple[ChangingShop, Kept], usual: Plan, what: str
) -> None:
    shop, kept = changing
    file, old, new = CHANGES[what]
    shop.change(file, old, new)
    try:
        plan, _ = shop.plan_with(kept)
        require_same(plan, shop.plan_with()[0])
        assert text(plan) != text(usual), "the change must be one that is seen"
    finally:
        shop.change(file, new, old)
    require_same(shop.plan_with(kept)[0], usual)


def test_a_rate_alone_needs_no_search_and_no_path(changing: tuple[ChangingShop, Kept]) -> None:
    shop, kept = changing
    shop.plan_with(kept)
    shop.change("rates.toml", "machine_per_hour = 30.0", "machine_per_hour = 45.0")
    try:
        _, said = shop.plan_with(kept)
    finally:
        shop.change("rates.toml", "machine_per_hour = 45.0", "machine_per_hour = 30.0")
    assert not [words for words in said if words.startswith("Planning the beam's path")]


def test_one_sheet_planned_anew_is_as_if_all_were(changing: tuple[ChangingShop, Kept]) -> None:
    """Copies are engraved like the first, which may lie on a sheet that was kept."""
    shop, kept = changing
    shop.plan_with(kept)
    shop.change("order.toml", "quantity = 4", "quantity = 5")
    try:
        plan, said = shop.plan_with(kept)
        require_same(plan, shop.plan_with()[0])
    finally:
        shop.change(
            "order.toml", "quantity = 5\n\n[[items.rules]]", "quantity = 4\n\n[[items.rules]]"
        )
    assert said


def test_a_picture_beside_the_drawing_is_looked_at_again(tmp_path: Path) -> None:
    """An SVG may show a file that changes without the drawing."""
    shop = SmallShop(tmp_path)
    shop.write(
        "tile.svg",
        svg(
            '<g id="Outline" fill="none" stroke="black"><rect x="1" y="1" width="40" height="30"/>'
            '</g><image href="photo.png" x="5" y="5" width="20" height="20"/>'
        ),
    )
    shop.order(item='pictures = "trace"')
    kept = Kept()

    def areas() -> list[float]:
        plan = plan_shop(load_shop(shop.order_file), kept=kept)
        return [mark.area.area for part in plan.sheets[0].parts for mark in part.engraves]

    for size in (40, 20):
        picture = Image.new("L", (64, 64), 255)
        picture.paste(0, (0, 0, size, size))
        picture.save(shop.folder / "photo.png")
        side_mm = 20.0 * size / 64
        assert sum(areas()) == pytest.approx(side_mm**2, rel=0.1)


Value = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: (
        st.lists(inner, max_size=3).map(tuple) | st.dictionaries(st.text(), inner, max_size=3)
    ),
    max_leaves=6,
)


def apart(value: Any) -> Any:
    """The same with the types that equality does not see: True is not 1, 0.0 not -0.0."""
    if isinstance(value, tuple):
        return tuple(apart(one) for one in value)
    if isinstance(value, dict):
        return [(key, apart(one)) for key, one in value.items()]
    return type(value).__name__, repr(value)


@given(Value, Value)
@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow])
def test_only_equal_inputs_are_found(first: Any, second: Any) -> None:
    made: list[int] = []
    kept = Kept()

    def make() -> int:
        made.append(1)
        return len(made)

    kept.of("work", first, make)
    kept.of("work", second, make)
    assert (len(made) == 1) == (apart(first) == apart(second))


def test_what_cannot_be_compared_is_made_again() -> None:
    kept = Kept()
    makes: list[Callable[[], None]] = []
    for _ in range(2):
        kept.of("work", lambda: None, lambda: makes.append(lambda: None))
    assert len(makes) == 2
    assert len(kept) == 0


def test_memory_stays_within_its_bounds() -> None:
    kept = Kept(most_bytes=10_000)
    for number in range(50):
        kept.of("work", number, lambda: np.zeros(100))
    assert 5 <= len(kept) <= 10
    made: list[int] = []
    kept.of("work", 49, lambda: made.append(1))
    assert not made, "the last is still there"
    kept.of("work", 0, lambda: made.append(1))
    assert made, "the first is gone"
