"""Fixtures of an order: those in files of their own, and what may be wrong with their use."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from kerfwright.shop.faults import Fault, Location, listed, nearest
from kerfwright.shop.fixture import Fixture
from kerfwright.shop.order import Item, Order
from kerfwright.shop.toml_files import read_table, validated


def load_fixture(path: Path | str) -> Fixture:
    """Read a fixture's file.

    Raises:
        KerfwrightError: the file is missing or no TOML, or keys or values in it are wrong.
    """
    table = read_table("fixtures", Path(path))
    return validated("fixtures", Path(path), Fixture, table)


def with_fixture_files(order: Order, folder: Path) -> Order:
    """Return the order with the fixtures of the files that it names behind its own.

    The drawings that those name are looked for beside them.

    Raises:
        KerfwrightError: a file is wrong, see :func:`load_fixture`.
    """
    found = []
    for path in order.fixture_files:
        fixture = load_fixture(folder / path)
        if fixture.drawing is not None:
            beside = (Path(path).parent / fixture.drawing).as_posix()
            fixture = fixture.model_copy(update={"drawing": beside})
        found.append(fixture)
    return order.model_copy(update={"fixtures": (*order.fixtures, *found)})


def fixtures_in(path: Path) -> tuple[Fixture, ...]:
    """Fixtures of an order file, those of its fixture files counted, or of a fixture's own file.

    Raises:
        KerfwrightError: the file is missing or wrong.
    """
    table = read_table("order", path)
    if ("items" not in table and "grid" in table) or {
        "pockets",
        "placed",
        "drawing",
    } & table.keys():
        return (load_fixture(path),)
    order = validated("order", path, Order, table)
    return with_fixture_files(order, path.parent).fixtures


def fixture_faults(order: Order) -> list[Fault]:
    """Fixtures named twice or not there, and wishes that have no meaning in a fixture."""
    names = [fixture.name for fixture in order.fixtures]
    faults = [
        Fault(
            "fixture-twice",
            ("fixtures",),
            f'holds "{name}" {count} times, files of fixtures counted.',
            "Give each fixture a name of its own, and list a file once.",
        )
        for name, count in Counter(names).items()
        if count > 1
    ]
    for n, item in enumerate(order.items):
        faults += _item_faults(("items", n), item, names)
    return faults


def _item_faults(at: Location, item: Item, names: list[str]) -> Iterator[Fault]:
    if item.fixture is None:
        for key in ("fit", "inset_mm", "turned_deg"):
            if key in item.model_fields_set:
                yield Fault(
                    "wishes-contradict",
                    (*at, key),
                    "means nothing without a fixture.",
                    f'Add fixture = "…", or take {key} out.',
                )
        return
    if item.fixture not in names:
        like = nearest(item.fixture, names)
        known = f"There is {listed(names)}." if names else "The order has no fixture."
        yield Fault(
            "fixture-unknown",
            (*at, "fixture"),
            f'is "{item.fixture}", and no fixture has that name.',
            f'Did you mean "{like}"?'
            if like
            else f"{known} Add a [[fixtures]] block, or its file under fixture_files.",
        )
    for key, told in _NOT_IN_FIXTURES.items():
        if getattr(item, key) not in (None, False):
            yield Fault(
                "wishes-contradict",
                (*at, key),
                f"cannot hold for blanks in a fixture: {told}.",
                f"Take {key} out, or take the item out of the fixture.",
            )


_NOT_IN_FIXTURES = {
    "at_mm": "their places are its pockets",
    "kit": "they lie on no sheet",
    "one_sheet": "they lie on no sheet",
    "fill": "as many pockets are used as copies are wanted",
    "may_turn_over": "a blank lies as it is put in",
    "tabs": "nothing is cut",
    "fit_mm": "nothing is cut",
}
