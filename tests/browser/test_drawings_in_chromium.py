"""Orders are begun from drawings, and drawings looked at and changed, by mouse and by keyboard.

Source of the limits: WCAG 2.2, success criteria 1.4.10 (no sideways scrolling at 320 px) and 2.5.8
(targets of 24 px).
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from kerfwright.shop.files import load_order
from kerfwright.web.example import begin_with_example
from kerfwright.web.reading import READERS
from kerfwright.web.workshop import Workshop

expect.set_options(timeout=15_000)

SIGN = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="50mm" viewBox="0 0 80 50">'
    '<g id="Edge"><path fill="none" stroke="#000" d="M5 5H75V45H5z"/></g>'
    '<g id="Lines"><path fill="none" stroke="#c00000" d="M10 10H70"/>'
    '<path fill="none" stroke="#c00000" d="M10 14H70"/></g></svg>'
)

BOXES = "signs => signs.map(sign => sign.getBoundingClientRect().toJSON())"

NAMED = '"><img src=x onerror=alert(1)>\u202egnp'
"""A name that is markup and turns the order of letters round."""

HOSTILE = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:x="http://www.w3.org/1999/xlink" width="80mm"'
    ' height="50mm" viewBox="0 0 80 50" onload="alert(2)"><script>alert(3)</script>'
    "<style>@import url(http://elsewhere.invalid/a.css);</style>"
    '<image x:href="http://elsewhere.invalid/a.png" width="9" height="9"/>'
    f'<g id="{NAMED.replace("<", "&lt;").replace(chr(34), "&quot;")}">'
    '<a x:href="javascript:alert(4)"><path onclick="alert(5)" fill="none" stroke="#000"'
    ' d="M5 5H75V45H5z"/></a></g></svg>'
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("workshop")
    begin_with_example(Workshop(folder))
    return folder


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    READERS.ask("", len, "")  # the first drawing need not wait for a process to begin
    with served(folder) as at:
        yield at


def begin(page: Page, title: str, *drawings: tuple[str, str]) -> None:
    """Begin an order with drawings as a person would, and wait until they are drawn."""
    files = [
        {"name": name, "mimeType": "image/svg+xml", "buffer": content.encode()}
        for name, content in drawings
    ]
    page.get_by_label("Choose files").set_input_files(files)  # type: ignore[arg-type]
    page.get_by_label("Title").fill(title)
    page.get_by_label("Material").select_option("birch plywood 3 mm")
    page.get_by_role("button", name="Begin the order").click()
    page.locator(".stage .part").nth(len(drawings) - 1).wait_for(state="attached")


def test_an_order_is_begun_and_its_drawing_seen(
    browser: Browser, address: str, folder: Path
) -> None:
    opened = Opened(browser, address)
    page = opened.page
    begin(page, "Quay sign", ("sign.svg", SIGN))
    expect(page.get_by_role("heading", level=1)).to_have_text("Quay sign")
    picture = page.get_by_role("img", name="sign.svg: 80 × 50 mm, 3 shapes, 1 part")
    expect(picture).to_be_visible()
    assert load_order(folder / "orders" / "quay-sign" / "order.toml").items[0].drawing == "sign.svg"
    assert opened.complaints == []


def test_a_field_is_saved_when_it_is_left(browser: Browser, address: str, folder: Path) -> None:
    page = Opened(browser, address).page
    begin(page, "Fields", ("sign.svg", SIGN))
    page.get_by_label("Quantity").fill("7")
    page.get_by_label("Quantity").press("Tab")
    expect(page.get_by_role("heading", name="sign × 7")).to_be_visible()
    page.get_by_label("Due").fill("2026-12-24")
    expect(page.locator("#said")).to_have_text("Saved.")
    page.get_by_label("Title of the order").fill("Fields and meadows")
    page.get_by_label("Title of the order").press("Tab")
    expect(page.get_by_role("heading", level=1)).to_have_text("Fields and meadows")
    item = load_order(folder / "orders" / "fields" / "order.toml").items[0]
    assert (item.quantity, str(item.due)) == (7, "2026-12-24")


def test_what_is_being_typed_is_not_lost(browser: Browser, address: str) -> None:
    page = Opened(browser, address).page
    begin(page, "Typing", ("sign.svg", SIGN))
    page.get_by_label("Quantity").fill("7")
    page.get_by_label("Parts are called").press_sequentially("gull")
    expect(page.locator("#said")).to_have_text("Saved.")
    expect(page.get_by_label("Parts are called")).to_have_value("gull")
    page.get_by_label("Parts are called").press("Tab")
    expect(page.get_by_role("heading", name="gull × 7")).to_be_visible()


def test_drawings_are_dropped(browser: Browser, address: str) -> None:
    page = Opened(browser, address).page
    make = """content => {
      const dropped = new DataTransfer();
      dropped.items.add(new File([content], "gull.svg", {type: "image/svg+xml"}));
      return dropped;
    }"""
    page.get_by_text("Drop drawings here").wait_for()
    dropped = page.evaluate_handle(make, SIGN)
    page.locator(".drop").dispatch_event("drop", {"dataTransfer": dropped})
    expect(page.get_by_label("Title")).to_have_value("Gull")
    expect(page.get_by_text("gull.svg")).to_be_visible()


def test_a_drawing_is_replaced(browser: Browser, address: str) -> None:
    page = Opened(browser, address).page
    begin(page, "Replaced", ("sign.svg", SIGN))
    page.get_by_role("button", name="Replace the file").click()
    wider = {
        "name": "w.svg",
        "mimeType": "image/svg+xml",
        "buffer": SIGN.replace("75", "65").encode(),
    }
    page.get_by_label("Choose a file").set_input_files(wider)  # type: ignore[arg-type]
    page.get_by_role("button", name="Replace", exact=True).click()
    expect(page.locator("li.part")).to_contain_text("60 × 40 mm")
    expect(page.locator("#said")).to_contain_text("orders/replaced/replaced/sign.svg")


def test_a_picture_that_states_no_size_is_given_one(browser: Browser, address: str) -> None:
    page = Opened(browser, address).page
    dots = io.BytesIO()
    Image.new("L", (40, 30), 128).save(dots, "PNG")
    picture = {"name": "gull.png", "mimeType": "image/png", "buffer": dots.getvalue()}
    page.get_by_label("Choose files").set_input_files(picture)  # type: ignore[arg-type]
    page.get_by_role("button", name="Begin the order").click()
    expect(page.get_by_role("alert")).to_contain_text("does not say how large it is")
    width = page.locator("article.item").get_by_label("Width in mm")
    width.fill("80")
    width.press("Tab")
    expect(page.get_by_role("img", name="gull.png: 80 × 60 mm")).to_be_visible()
    expect(page.locator(".stage image")).to_be_attached()


def test_a_sign_leads_to_its_finding_and_back(browser: Browser, address: str) -> None:
    page = Opened(browser, f"{address}/orders/regatta").page
    lantern = page.locator("article.item").nth(2)
    sign = lantern.get_by_role("button", name="Finding 1, Warning")
    sign.click()
    assert page.evaluate("document.activeElement.tagName") == "LI"
    assert "lantern 5" in page.evaluate("document.activeElement.textContent")
    lantern.get_by_role("button", name="Show", exact=True).first.press("Enter")
    assert "Finding 1" in page.evaluate("document.activeElement.getAttribute('aria-label')")


def test_a_picture_grows_by_keys_and_signs_stay_apart(browser: Browser, address: str) -> None:
    page = Opened(browser, f"{address}/orders/regatta").page
    lantern = page.locator("article.item").nth(2)
    window = lantern.get_by_role("group", name="Picture;")
    window.press("+")
    window.press("+")
    expect(lantern.locator(".level")).to_have_text("200 %")
    boxes = lantern.locator(".sign").evaluate_all(BOXES)
    assert len(boxes) > 5
    for n, one in enumerate(boxes):
        assert min(one["width"], one["height"]) >= 24
        for other in boxes[:n]:
            apart = abs(one["x"] - other["x"]), abs(one["y"] - other["y"])
            assert max(apart) >= 18
    window.press("0")
    expect(lantern.locator(".level")).to_have_text("100 %")


def test_a_rule_is_seen_before_it_is_added(browser: Browser, address: str, folder: Path) -> None:
    page = Opened(browser, address).page
    begin(page, "Rules", ("sign.svg", SIGN))
    page.get_by_text("What the beam does with what").click()
    page.get_by_role("button", name="Change what is done to Lines, line #c00000").press("Enter")
    page.get_by_label("Shapes are").select_option("score")
    expect(page.get_by_text("Takes 2 of 3 shapes, now 2 cut.")).to_be_visible()
    assert page.locator("path.caught").first.get_attribute("d")
    page.get_by_role("button", name="Add the rule").click()
    expect(
        page.get_by_text("layer Lines, not filled, line #c00000: score – 2 shapes")
    ).to_be_visible()
    expect(page.locator(".stage path.line.score")).to_be_attached()
    (rule,) = load_order(folder / "orders" / "rules" / "order.toml").items[0].rules
    assert (rule.layer, rule.process) == ("Lines", "score")
    page.get_by_role("button", name="Remove rule 1").click()
    expect(page.get_by_text("(2 kinds of shapes, no rules)")).to_be_visible()


def test_a_removed_drawing_comes_back(browser: Browser, address: str) -> None:
    page = Opened(browser, address).page
    begin(page, "Two signs", ("one.svg", SIGN), ("two.svg", SIGN))
    page.get_by_role("button", name="Remove from the order").first.click()
    expect(page.locator("article.item")).to_have_count(1)
    page.keyboard.press("Enter")  # the focus is on Undo
    expect(page.locator("article.item")).to_have_count(2)


def test_a_part_is_chosen_and_marked_in_its_drawing(browser: Browser, address: str) -> None:
    page = Opened(browser, f"{address}/orders/regatta").page
    page.get_by_role("button", name=re.compile("^Show all [0-9]+$")).click()
    page.get_by_role("button", name="Show lantern 5 in its drawing").click()
    assert page.locator("article.item").nth(2).locator("path.chosen").get_attribute("d")
    expect(page.get_by_role("button", pressed=True)).to_have_count(1)


def test_nothing_in_a_drawing_runs_or_asks(browser: Browser, address: str) -> None:
    opened = Opened(browser, address)
    asked: list[str] = []
    opened.page.on("request", lambda request: asked.append(request.url))
    begin(opened.page, f"Order {NAMED}", (f"{NAMED}.svg", HOSTILE))
    expect(opened.page.locator("table.kinds")).to_contain_text('"><img src=x onerror=alert(1)>')
    assert opened.page.locator("main img, main script, main a[href^='javascript']").count() == 0
    assert "\u202e" not in opened.page.inner_text("body")
    assert opened.complaints == []
    assert {url for url in asked if not url.startswith((address, "data:"))} == set()


@pytest.mark.parametrize("where", ["/", "/orders/regatta"])
def test_never_scrolls_sideways(browser: Browser, address: str, where: str) -> None:
    page = Opened(browser, address + where, viewport={"width": 320, "height": 700}).page
    page.locator(".card, li.part").first.wait_for()
    for details in page.locator("details").all():
        details.evaluate("element => { element.open = true; }")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
