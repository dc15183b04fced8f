"""Recipes, runs, prices and labels as somebody in the shop works with them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, Route, expect

from kerfwright.recipe_book import note_shop
from kerfwright.shop.database import Database
from kerfwright.shop.files import load_shop
from kerfwright.shop.recipe_history import Described, RecipeHistory
from kerfwright.shop.recipe_versions import Noting
from small_shop import BOARD
from small_workshop import SLUG, SmallWorkshop

TESTED = BOARD.replace("invented = true", 'invented = true\nkind = "board"').replace(
    "kerf_mm = 0.2", 'kerf_mm = 0.2\nstatus = "tested"\ntested_on = 2026-05-04\ntested_by = "Ea"'
)

THICKER = 'name = "board 4 mm"\nthickness_mm = 4\nkind = "board"\ninvented = true\n'


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SmallWorkshop, str]]:
    folder: Path = tmp_path_factory.mktemp("shop")
    made = SmallWorkshop(folder)
    materials = folder / "materials"
    (materials / "board.toml").write_text(TESTED, encoding="utf-8")
    (materials / "board-4.toml").write_text(THICKER, encoding="utf-8")
    made.plan()
    records = str(folder / "records.sqlite")
    database = Database(records)
    before = load_shop(made.order / "order.toml")
    slower = before.materials[0].model_copy(
        update={"recipes": (before.materials[0].recipes[0].model_copy(update={"speed_mm_s": 9.0}),)}
    )
    RecipeHistory(database).note([Described(slower, Noting("keeper", "file", "board.toml"))])
    note_shop(database, before, by="keeper")
    database.close()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KERFWRIGHT_RECORDS", records)
        with served(folder) as address:
            yield made, address


def test_an_earlier_version_is_brought_back_and_stands_in_the_file(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    made, address = shop
    opened = Opened(browser, f"{address}/recipes")
    page = opened.page
    page.get_by_text("cut on trial machine: 2 versions on record").click()
    expect(page.get_by_text("9 → 16 mm/s")).to_be_visible()
    page.get_by_role("button", name="Bring it back version 1").click()
    page.get_by_role("dialog").get_by_role("button", name="Bring it back").click()
    expect(page.get_by_text("cut on trial machine: 3 versions on record")).to_be_visible()
    written = (made.folder / "materials" / "board.toml").read_text(encoding="utf-8")
    assert "speed_mm_s = 9" in written
    assert opened.complaints == []


def test_a_start_at_a_neighbouring_thickness_fills_in_the_trial_piece(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    page = Opened(browser, f"{shop[1]}/recipes").page
    card = page.get_by_role("article").filter(has_text="board 4 mm")
    card.get_by_text("No recipe for").click()
    card.get_by_role("button", name="Look for a start").click()
    expect(card.get_by_text("not a setting to work with").first).to_be_visible()
    link = card.get_by_role("link", name="Begin the trial piece")
    link.click()
    expect(page.locator("select[name=material]")).to_have_value("materials/board-4.toml")
    expect(page.locator("select[name=kind]")).to_have_value("power")
    assert float(page.locator("[name='speeds.0']").input_value()) > 0.0


def test_a_start_is_written_as_untested_once_that_is_confirmed(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    made, address = shop
    file = made.folder / "materials" / "board-4.toml"
    before = file.read_bytes()
    opened = Opened(browser, f"{address}/recipes")
    card = opened.page.get_by_role("article").filter(has_text="board 4 mm")
    card.get_by_text("No recipe for").click()
    card.get_by_role("button", name="Look for a start").click()
    card.get_by_role("button", name="Write it as untested").click()
    asked = opened.page.get_by_role("dialog")
    expect(asked).to_contain_text("catch fire")
    expect(asked).to_contain_text("J/mm")
    asked.get_by_role("button", name="Cancel").click()
    assert file.read_bytes() == before
    card.get_by_role("button", name="Write it as untested").click()
    asked.get_by_role("button", name="Write it as untested").click()
    expect(card.get_by_role("row", name="trial machine")).to_contain_text("untested")
    assert b"untested" in file.read_bytes()
    file.write_bytes(before)
    assert opened.complaints == []


def test_customer_and_day_are_put_right_and_lateness_is_told_in_words(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    opened = Opened(browser, f"{shop[1]}/orders/{SLUG}")
    page = opened.page
    page.get_by_role("button", name="Put on the list of work").click()
    expect(page.get_by_text("On record as order")).to_be_visible()
    page.goto(f"{shop[1]}/runs")
    page.get_by_role("button", name="Customer, due of Small order").click()
    page.get_by_label("Customer, in your own words").fill("harbour office")
    page.get_by_label("Due", exact=True).fill("2026-01-05")
    page.get_by_role("button", name="Save", exact=True).click()
    row = page.get_by_role("region", name="Orders on record").get_by_role("row", name="Small order")
    expect(row).to_contain_text("harbour office")
    expect(row).to_contain_text("2026-01-05")
    waiting = page.get_by_role("region", name="Waiting for the machine")
    expect(waiting.get_by_role("row", name="Small order")).to_contain_text("late by")
    expect(waiting).to_contain_text("Small order will be late by")
    assert opened.complaints == []


def test_spoilt_parts_are_ticked_and_made_again(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    opened = Opened(browser, f"{shop[1]}/orders/{SLUG}")
    page = opened.page
    run = page.locator("#run")
    run.get_by_role("button", name="Put on the list of work").click()
    expect(run.get_by_text("On record as order")).to_be_visible()
    run.get_by_text("Record what it took").click()
    run.get_by_label("It took").fill("0:30")
    run.get_by_label("Sure, although it looks unlikely").check()
    run.get_by_text("Parts no good: none").click()
    run.get_by_role("checkbox", name="tile#2").check()
    expect(run.get_by_text("Parts no good: 1")).to_be_visible()
    run.get_by_role("button", name="Record the run").click()
    run.get_by_role("button", name="Make tile#2 again").click()
    expect(run.get_by_text("read back and proven")).to_be_visible()
    page.goto(f"{shop[1]}/runs")
    expect(page.get_by_role("region", name="What orders came to")).to_contain_text("Small order")
    assert opened.complaints == []


def test_a_change_to_the_order_leaves_alone_what_it_does_not_reach(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    """What is typed about a run stays, and neither the layout nor the beam's moves come again."""
    made, address = shop
    file = made.order / "order.toml"
    before = file.read_bytes()
    opened = Opened(browser, f"{address}/orders/{SLUG}")
    page = opened.page
    run = page.locator("#run")
    expect(page.locator(".play-stage[data-drawn]")).to_be_visible()
    run.get_by_text("Record what it took").click()
    run.get_by_label("It took").fill("0:31")
    run.get_by_text("Parts no good: none").click()
    run.get_by_role("checkbox", name="tile#2").check()
    # the answer to the page's first question must not be taken for one to a later
    expect(page.locator("#price").get_by_text("To be paid").first).to_be_visible()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url.rsplit("/", 1)[-1]))
    quantity = page.locator("#item-0-quantity")
    quantity.fill("7")
    with page.expect_response("**/price"):
        quantity.press("Tab")
    expect(run.get_by_text("these programs are those of the earlier plan")).to_be_visible()
    expect(page.locator("#price").get_by_text("the price of the earlier plan")).to_be_visible()
    expect(run.get_by_label("It took")).to_have_value("0:31")
    expect(run.get_by_role("checkbox", name="tile#2")).to_be_checked()
    assert "price" in asked
    assert not {"moves", "playback", "sheets"} & set(asked)
    file.write_bytes(before)
    assert opened.complaints == []


def test_prices_of_other_numbers_stand_beside_the_orders(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    """What the process answers is put in by hand: it is tested where it needs no browser."""
    opened = Opened(browser, f"{shop[1]}/orders/{SLUG}")
    asked: list[object] = []
    line = {"way": "9 × everything", "why_not": "3 parts found no place.", "items": []}

    def answer(route: Route) -> None:
        if route.request.method == "POST":
            asked.append(route.request.post_data_json)
        state = {"state": "ready", "words": "", "remedy": "", "asked": {}, "lines": [line]}
        idle = {"state": "idle", "lines": []}
        route.fulfill(json=state if asked else idle)

    opened.page.route("**/price/comparison", answer)
    price = opened.page.locator("#price")
    price.get_by_text("Compare with other numbers and materials").click()
    price.get_by_label("So many times everything").fill("9, 1, 4")
    price.get_by_role("button", name="Work out the prices").click()
    expect(price.get_by_role("row", name="9 × everything")).to_contain_text("Not possible")
    as_planned = re.compile("as ordered|as it was planned")
    expect(price.get_by_role("row", name=as_planned)).to_contain_text("EUR")
    assert asked == [{"times": [9, 4], "materials": []}]
    price.get_by_role("button", name="Put it away").click()
    expect(price.get_by_role("row", name="9 × everything")).to_have_count(0)
    assert opened.complaints == []


def test_labels_of_ticked_pieces_are_saved(
    browser: Browser, shop: tuple[SmallWorkshop, str]
) -> None:
    opened = Opened(browser, f"{shop[1]}/stock")
    page = opened.page
    page.get_by_text("Put sheets or an offcut into stock").click()
    page.get_by_label("Material, as its file names it").fill("board")
    page.get_by_label("Size in mm").fill("600x400")
    page.get_by_role("button", name="Put into stock", exact=True).click()
    page.get_by_label("Label of S-001").check()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Labels for the ticked pieces").click()
    assert Path(saved.value.path()).read_bytes().startswith(b"%PDF")
    assert opened.complaints == []


@pytest.mark.parametrize(
    ("path", "loaded"),
    [
        ("recipes", "article"),
        ("runs", "section p.soft, section table"),
        ("stock", "code:has-text('records')"),
        (f"orders/{SLUG}", "#price .facts"),
    ],
)
def test_nothing_scrolls_sideways_on_a_narrow_page(
    browser: Browser, shop: tuple[SmallWorkshop, str], path: str, loaded: str
) -> None:
    opened = Opened(browser, f"{shop[1]}/{path}", viewport={"width": 320, "height": 700})
    page = opened.page
    page.locator(loaded).first.wait_for()
    page.locator("details").evaluate_all("all => all.forEach((one) => { one.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert opened.complaints == []
