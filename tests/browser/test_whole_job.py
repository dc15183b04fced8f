"""A whole job on the pages, from a drawing to a recorded run: by mouse, and by the keys alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import Opened, served
from hands import Hands, Keys, Mouse
from playwright.sync_api import Browser, Locator, Page, expect

from kerfwright.shop.files import load_order
from small_shop import TILE, svg
from small_workshop import SmallWorkshop

expect.set_options(timeout=20_000)

PATIENCE_MS = 240_000
"""On a new machine kernels are compiled first."""


@pytest.fixture
def workshop(tmp_path: Path) -> SmallWorkshop:
    return SmallWorkshop(tmp_path)


@pytest.fixture
def address(workshop: SmallWorkshop, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    monkeypatch.setenv("KERFWRIGHT_RECORDS", str(workshop.folder / "records.sqlite"))
    with served(workshop.folder) as at:
        yield at


@pytest.mark.parametrize("way", [pytest.param(Mouse, marks=pytest.mark.thorough), Keys])
def test_a_job_is_done_from_drawing_to_run(
    browser: Browser, workshop: SmallWorkshop, address: str, way: type[Hands]
) -> None:
    folder = workshop.folder / "orders" / "quay-tiles"
    opened = Opened(browser, "about:blank")
    page = opened.page
    hands = way(page)
    page.goto(address)
    begin(hands, "Quay tiles")
    see_the_drawing(page)
    make_four(hands)
    score_the_guide(hands)
    assert load_order(folder / "order.toml").items[0].rules[0].process == "score"
    plan(hands)
    see_the_sheet(page)
    play_the_beam(hands)
    overrule_the_order_of_work(hands)
    assert load_order(folder / "order.toml").settings.order_of_work == "part"
    see_the_price(page)
    take_the_program(hands, folder)
    record_a_run(hands)
    hands.press(page.get_by_role("link", name="Runs", exact=True))
    expect(page.get_by_role("row").filter(has_text="Quay tiles, sheet 1")).to_contain_text("42 s")
    assert opened.complaints == []


def section(page: Page, name: str) -> Locator:
    return page.get_by_role("region", name=name, exact=True)


def begin(hands: Hands, title: str) -> None:
    page = hands.page
    hands.give("tile.svg", "image/svg+xml", svg(TILE))
    hands.write(page.get_by_label("Title"), title)
    for name, size in (("Width in mm", "120"), ("Height in mm", "100")):
        hands.write(page.get_by_label(name), size)
    hands.press(page.get_by_role("button", name="Begin the order"))
    expect(page.get_by_role("heading", level=1)).to_have_text(title)


def see_the_drawing(page: Page) -> None:
    picture = page.get_by_role("img", name=re.compile("^tile.svg: 42 × 32 mm"))
    expect(picture.locator("path.line.cut")).not_to_have_count(0)
    expect(picture.locator("path.line.guide")).not_to_have_count(0)


def make_four(hands: Hands) -> None:
    drawings = section(hands.page, "Drawings")
    hands.write(drawings.get_by_label("Quantity"), "4")
    hands.page.keyboard.press("Tab")
    expect(drawings.get_by_role("heading", name="tile × 4, tile.svg")).to_be_visible()


def score_the_guide(hands: Hands) -> None:
    page = hands.page
    drawings = section(page, "Drawings")
    hands.press(drawings.locator(".rules > summary"))
    hands.press(drawings.get_by_role("button", name=re.compile("^Change what is done to Guides")))
    hands.choose(drawings.get_by_label("Shapes are"), "score")
    expect(drawings.get_by_text(re.compile("^Takes 1 of"))).to_be_visible()
    hands.press(drawings.get_by_role("button", name="Add the rule"))
    expect(drawings.locator("path.line.guide")).to_have_count(0)


def state(page: Page, words: str) -> None:
    expect(page.locator("#planning-state")).to_contain_text(words, timeout=PATIENCE_MS)


def plan(hands: Hands) -> None:
    hands.press(hands.page.get_by_role("button", name="Plan", exact=True))
    state(hands.page, "Planned in")


def see_the_sheet(page: Page) -> None:
    expect(
        page.get_by_role("group", name=re.compile("^Sheet 1, 120 mm by 100 mm, 4 parts$"))
    ).to_be_visible()


def play_the_beam(hands: Hands) -> None:
    beam = section(hands.page, "Beam order")
    expect(beam.locator(".play-position")).to_contain_text("finished. 4 of 4 parts cut free")
    hands.press(beam.get_by_role("button", name="Play"))
    expect(beam.locator(".play-position")).not_to_contain_text("finished")
    hands.press(beam.get_by_role("button", name=re.compile("^(Pause|Play)$")))
    hands.press(beam.get_by_role("button", name="Next stroke"))
    expect(beam.locator(".play-detail")).to_contain_text("Speed")


def overrule_the_order_of_work(hands: Hands) -> None:
    about = hands.page.get_by_role("article", name="order of the work, sheet 1")
    taken = about.get_by_role("row").filter(has_text="(taken)")
    expect(taken).to_contain_text("process by process")
    hands.press(about.get_by_role("button", name="Take this way: part by part"))
    expect(taken).to_contain_text("part by part", timeout=PATIENCE_MS)
    state(hands.page, "Planned in")


def see_the_price(page: Page) -> None:
    expect(section(page, "Price")).to_contain_text(re.compile(r"To be paid\s*\d+\.\d\d EUR"))


def take_the_program(hands: Hands, folder: Path) -> None:
    run = section(hands.page, "Run")
    with hands.page.expect_download() as taken:
        hands.press(run.get_by_role("link", name=re.compile("^Program")))
    planned = folder / "plan" / taken.value.suggested_filename
    assert taken.value.path().read_bytes() == planned.read_bytes()


def record_a_run(hands: Hands) -> None:
    run = section(hands.page, "Run")
    hands.press(run.get_by_text("Record what it took"))
    hands.write(run.get_by_label("It took"), "0:42")
    hands.press(run.get_by_role("button", name="Record the run"))
    told = run.locator("details").filter(has_text="Record what it took").get_by_role("status")
    expect(told).to_contain_text("took 42 s")
