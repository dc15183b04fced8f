"""A large drawing is drawn in pieces, so that it answers at once; nothing of it is lost."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, Page, expect

from kerfwright.web.example import begin_with_example
from kerfwright.web.reading import READERS
from kerfwright.web.workshop import Workshop

SUBPATH = re.compile("M[^M]+")


def tiles(across: int) -> str:
    """A drawing of squares with a hole each: more path data than one piece takes."""
    squares = "".join(
        f"M{10 * x}.5 {10 * y}.5h8v8h-8zm2.{x % 10}1 2.{y % 10}1h3.33v3.33h-3.33z"
        for x in range(across)
        for y in range(across)
    )
    side = 10 * across
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}mm" height="{side}mm"'
        f' viewBox="0 0 {side} {side}"><path fill="none" stroke="#000" d="{squares}"/></svg>'
    )


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("workshop")
    begin_with_example(Workshop(folder))
    drawing = folder / "orders" / "regatta" / "tokens.svg"
    drawing.write_text(tiles(18), encoding="utf-8")
    READERS.ask("", len, "")
    with served(folder) as at:
        yield at


@pytest.fixture
def page(browser: Browser, address: str) -> Page:
    page = Opened(browser, f"{address}/orders/regatta").page
    page.set_default_timeout(60_000)
    page.locator("article.item").nth(1).locator(".stage .part").first.wait_for(state="attached")
    return page


def data_of(page: Page, kind: str) -> list[str]:
    drawn = page.locator("article.item").nth(1).locator(f".stage path.{kind}")
    return [d or "" for d in drawn.evaluate_all("all => all.map(one => one.getAttribute('d'))")]


def told(page: Page) -> dict:  # type: ignore[type-arg]
    """The drawing as the server tells of it."""
    path = "/api/orders/regatta/items/1/drawing"
    return page.evaluate("path => fetch(path).then(answer => answer.json())", path)  # type: ignore[no-any-return]


@pytest.mark.parametrize("kind", ["line", "hit"])
def test_pieces_together_are_all_lines(page: Page, kind: str) -> None:
    pieces = data_of(page, kind)
    (line,) = told(page)["lines"]
    assert len(pieces) > 3
    assert Counter(SUBPATH.findall("".join(pieces))) == Counter(SUBPATH.findall(line["d"]))


def test_each_piece_lies_in_a_part_of_the_picture(page: Page) -> None:
    width, height = told(page)["view"]
    boxes = (
        page.locator("article.item")
        .nth(1)
        .locator(".stage path.line")
        .evaluate_all("all => all.map(one => one.getBBox()).map(box => [box.width, box.height])")
    )
    assert max(box[0] for box in boxes) < 0.7 * width
    assert max(box[1] for box in boxes) < 0.7 * height


def test_a_part_keeps_its_holes(page: Page) -> None:
    """The even-odd rule leaves a hole out only where it stands in one path with its outline."""
    pieces = data_of(page, "part")
    parts = [part["d"] for part in told(page)["parts"]]
    assert len(pieces) > 3
    assert len(parts) == 18 * 18
    for part in parts:
        assert sum(part in piece for piece in pieces) >= 1


def test_a_line_of_any_piece_is_chosen_by_a_click(page: Page) -> None:
    item = page.locator("article.item").nth(1)
    for n in (0, len(data_of(page, "hit")) - 1):
        item.locator(".stage path.hit").nth(n).scroll_into_view_if_needed()
        item.locator("details.rules").evaluate("details => { details.open = false; }")
        at = (
            item.locator(".stage path.hit")
            .nth(n)
            .evaluate(
                """hit => {
              const at = hit.getPointAtLength(0.1).matrixTransform(hit.getScreenCTM());
              return [at.x, at.y];
            }"""
            )
        )
        page.mouse.click(*at)
        expect(item.get_by_role("heading", name="New rule")).to_be_visible()


def test_a_small_drawing_is_one_piece(page: Page) -> None:
    module = "import('/pages/drawn_pieces.js').then(module => module.pieces(d, [80, 50]))"
    assert page.evaluate(f"d => {module}", "M5 5h70v40zM10 10h60") == ["M5 5h70v40zM10 10h60"]
    assert page.evaluate(f"d => {module}", "") == []
