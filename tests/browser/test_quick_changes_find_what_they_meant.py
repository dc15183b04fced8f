"""Changes made in quick succession on one page each reach what they were meant for.

A change waits for the one before it, which may take an item out of a list that its own place was
counted in. Requests are held back here so that the order of events is always the same.
"""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, Page, Route, expect

from small_shop import ITEM, OUTLINE, svg
from small_workshop import SLUG, SmallWorkshop

NAMES = ("buoy", "cleat", "davit", "ensign")

RULES = "".join(f'\n[[rules]]\nlayer = "{layer}"\nprocess = "score"\n' for layer in "ABC")


class FourItems(SmallWorkshop):
    """The small workshop with four drawings in its order, and three rules for all."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        file = self.order / "order.toml"
        text = file.read_text(encoding="utf-8")
        first, stock = text.index("\n[[items]]"), text.index("\n[[stock]]")
        items = "".join(f'{ITEM.format(drawing=f"{name}.svg")}name = "{name}"\n' for name in NAMES)
        file.write_text(text[:first] + items + RULES + text[stock:], encoding="utf-8")
        for name in NAMES:
            (self.order / f"{name}.svg").write_text(svg(OUTLINE), encoding="utf-8")

    def said(self) -> dict[str, object]:
        return tomllib.loads((self.order / "order.toml").read_text(encoding="utf-8"))

    def names(self) -> list[str]:
        return [item["name"] for item in self.said()["items"]]  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, FourItems, str]]:
    made = FourItems(tmp_path_factory.mktemp("quick"))
    text = (made.order / "order.toml").read_text(encoding="utf-8")
    asking = made.client()
    for n in range(len(NAMES)):  # so that pages need not wait for them
        assert asking.get(f"/api/orders/{SLUG}/items/{n}/drawing").status_code == 200
    with served(made.folder) as address:
        yield f"{address}/orders/{SLUG}", made, text


@pytest.fixture
def opened(browser: Browser, home: tuple[str, FourItems, str]) -> Iterator[Page]:
    address, made, text = home
    (made.order / "order.toml").write_text(text, encoding="utf-8")
    page = Opened(browser, address).page
    expect(page.locator("#item-3-quantity")).to_have_value("1")
    yield page
    page.context.close()


@contextmanager
def held(page: Page, method: str) -> Iterator[None]:
    """Hold the next request of that kind back until the block is over."""
    waiting: list[Route] = []

    def hold(route: Route) -> None:
        if waiting or route.request.method != method:
            route.continue_()
        else:
            waiting.append(route)

    changes = re.compile(rf"/api/orders/{SLUG}(/items/\d+)?$")
    page.route(changes, hold)
    yield
    while not waiting:
        page.wait_for_timeout(10)
    waiting[0].continue_()
    page.unroute(changes)


def remove(page: Page, name: str) -> None:
    item = page.locator("article.item").filter(has=page.get_by_role("heading", name=name))
    item.get_by_role("button", name="Remove from the order").click()


def test_two_items_removed_at_once_are_the_two_that_were_meant(
    opened: Page, home: tuple[str, FourItems, str]
) -> None:
    with held(opened, "DELETE"):
        remove(opened, "buoy")
        remove(opened, "davit")
    expect(opened.locator("article.item")).to_have_count(2)
    assert home[1].names() == ["cleat", "ensign"]
    expect(opened.locator(".elsewhere")).to_be_hidden()


def test_a_double_click_removes_one_item(opened: Page, home: tuple[str, FourItems, str]) -> None:
    # the second click comes when the next item lies under the hand already
    button = opened.get_by_role("button", name="Remove from the order").first
    button.scroll_into_view_if_needed()
    box = button.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    opened.mouse.click(x, y)
    expect(opened.locator("article.item")).to_have_count(3)
    again = opened.get_by_role("button", name="Remove from the order").first
    again.dispatch_event("click", {"detail": 2})
    opened.locator("#item-0-quantity").fill("2")
    opened.locator("#item-0-quantity").press("Tab")
    expect(opened.locator("#item-0")).to_contain_text("× 2")
    assert home[1].names() == ["cleat", "davit", "ensign"]


def test_a_value_reaches_its_item_though_one_before_it_goes(
    opened: Page, home: tuple[str, FourItems, str]
) -> None:
    with held(opened, "DELETE"):
        remove(opened, "buoy")
        opened.locator("#item-2-quantity").fill("7")
        opened.locator("#item-2-quantity").press("Tab")
    expect(opened.locator("#item-1")).to_contain_text("davit × 7")
    items = {item["name"]: item.get("quantity", 1) for item in home[1].said()["items"]}  # type: ignore[attr-defined]
    assert items == {"cleat": 1, "davit": 7, "ensign": 1}


def test_what_is_being_typed_stays_with_its_item(
    opened: Page, home: tuple[str, FourItems, str]
) -> None:
    with held(opened, "DELETE"):
        remove(opened, "buoy")
        field = opened.locator("#item-2-quantity")
        field.focus()
        field.press("ControlOrMeta+a")
        opened.keyboard.type("9")
    expect(opened.locator("article.item")).to_have_count(3)
    opened.keyboard.press("Tab")
    expect(opened.locator("#item-1")).to_contain_text("davit × 9")
    items = {item["name"]: item.get("quantity", 1) for item in home[1].said()["items"]}  # type: ignore[attr-defined]
    assert items == {"cleat": 1, "davit": 9, "ensign": 1}


def test_an_item_brought_back_stands_where_it_stood(
    opened: Page, home: tuple[str, FourItems, str]
) -> None:
    remove(opened, "cleat")
    expect(opened.locator("article.item")).to_have_count(3)
    opened.get_by_role("button", name="Undo").click()
    expect(opened.locator("article.item h3")).to_have_text(
        [f"{name} × 1, {name}.svg" for name in NAMES]
    )
    assert home[1].names() == list(NAMES)
    opened.locator("#item-2-quantity").fill("4")
    opened.locator("#item-2-quantity").press("Tab")
    expect(opened.locator("#item-2")).to_contain_text("davit × 4")


def test_two_rules_removed_at_once_are_the_two_that_were_meant(
    opened: Page, home: tuple[str, FourItems, str]
) -> None:
    item = opened.locator("article.item").first
    item.locator(".rules summary").first.click()
    with held(opened, "PATCH"):
        item.get_by_role("button", name="Remove rule 1").click()
        item.get_by_role("button", name="Remove rule 2").click()
    # the drawing is read anew by the rules that are left
    gone = item.get_by_role("button", name="Remove rule 2")
    expect(gone).to_have_count(0, timeout=60_000)
    rules = home[1].said()["rules"]
    assert [rule["layer"] for rule in rules] == ["C"]  # type: ignore[attr-defined]


def test_a_change_of_others_in_between_is_not_passed_over(
    opened: Page, home: tuple[str, FourItems, str]
) -> None:
    made = home[1]
    file = made.order / "order.toml"
    with held(opened, "DELETE"):
        remove(opened, "buoy")
        opened.locator("#item-2-quantity").fill("7")
        opened.locator("#item-2-quantity").press("Tab")
        file.write_text(file.read_text(encoding="utf-8").replace("Small order", "Other order"))
    expect(opened.get_by_role("button", name="Load the order anew")).to_be_focused()
    expect(opened.locator(".problem").first).to_be_visible()
    assert made.names() == list(NAMES)
    assert "quantity = 7" not in file.read_text(encoding="utf-8")


def test_places_are_followed_as_in_a_list_that_is_kept(opened: Page) -> None:
    """Whatever is taken out and added, in a list and in one within it."""
    some = random.Random(4)
    cases, wanted = [], []
    for _ in range(200):
        outer = [[f"{n}.{m}" for m in range(some.randint(1, 4))] for n in range(some.randint(1, 5))]
        n = some.randrange(len(outer))
        m = some.randrange(len(outer[n]))
        named, inner = outer[n][m], outer[n]
        moves: list[dict[str, object]] = []
        for _ in range(some.randint(0, 5)):
            which = some.choice(["outer", "inner"])
            if which == "inner" and not outer:
                continue
            at = some.randrange(len(outer)) if outer else 0
            values: list[object] = outer if which == "outer" else outer[at]  # type: ignore[assignment]
            path: list[object] = ["items"] if which == "outer" else ["items", at, "pinned"]
            if values and some.random() < 0.6:
                place = some.randrange(len(values))
                values.pop(place)
                moves.append({"list": path, "taken": place})
            else:
                place = some.randint(0, len(values))
                values.insert(place, [] if which == "outer" else "new")
                moves.append({"list": path, "added": place})
        place_now = next((k for k, one in enumerate(outer) if one is inner), None)
        there = place_now is not None and named in inner
        wanted.append(["items", place_now, "pinned", inner.index(named), "x"] if there else None)
        cases.append([["items", n, "pinned", m, "x"], moves])
    found = opened.evaluate(
        "async (cases) => { const { followed } = await import('/pages/moved_places.js');"
        " return cases.map(([at, moves]) => followed(at, moves)); }",
        cases,
    )
    assert found == wanted
    assert any(one is None for one in wanted)
    assert sum(one is not None for one in wanted) > 50
