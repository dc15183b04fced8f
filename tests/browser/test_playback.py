"""A sheet is played in a real browser: with WebGL, and with a plain canvas where there is none.

Where the beam is at a moment is checked against the planner's own trace of the toolpath.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from chromium import Opened, served
from playwright.sync_api import Browser, Page, Route, expect

from kerfwright.motion.moments import moments_at
from kerfwright.motion.trace import trace_of
from kerfwright.plan import Plan
from played_order import played_order

WAYS = {"webgl": "?draw=webgl", "canvas": "?draw=plain"}

DRIVER = "[.WebGL"
"""Messages of the software that draws in place of a graphics processor; not the page's."""

TIMES_OF_MOVES = """async ([slug, times]) => {
  const { Moves } = await import("/pages/playback-moves.js");
  const answer = await fetch(`/api/orders/${slug}/sheets/1/moves`);
  const moves = new Moves(await answer.arrayBuffer());
  return times.map((time) => { const at = moves.at(time); return [at.x, at.y, at.speed_mm_s]; });
}"""

INKED = """() => {
  const canvas = document.querySelectorAll(".play-stage canvas")[1];
  const copy = document.createElement("canvas");
  [copy.width, copy.height] = [canvas.width, canvas.height];
  const pen = copy.getContext("2d", { willReadFrequently: true });
  pen.drawImage(canvas, 0, 0);
  const seen = pen.getImageData(0, 0, copy.width, copy.height).data;
  const colours = new Set();
  let inked = 0;
  for (let at = 0; at < seen.length; at += 4) {
    if (seen[at + 3] < 200) continue;
    inked += 1;
    colours.add(`${seen[at] >> 4},${seen[at + 1] >> 4},${seen[at + 2] >> 4}`);
  }
  return [inked, colours.size];
}"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    folder = tmp_path_factory.mktemp("workshop") / "quay"
    folder.mkdir()
    return folder, played_order(folder)[1]


@pytest.fixture(scope="module")
def address(planned: tuple[Path, Plan]) -> Iterator[str]:
    with served(planned[0]) as at:
        yield f"{at}/orders/quay"


def open_play(browser: Browser, address: str, **context: object) -> Opened:
    opened = Opened(browser, address, **context)
    opened.page.locator(".play-stage[data-drawn]").wait_for()
    return opened


def complaints(opened: Opened) -> list[str]:
    return [one for one in opened.complaints if not one.startswith(DRIVER)]


def scrubber(page: Page) -> object:
    return page.get_by_role("slider", name="Time")


def drawn(page: Page) -> int:
    return int(page.locator(".play-stage").first.get_attribute("data-drawn") or -1)


@pytest.mark.parametrize("way", WAYS)
def test_all_is_drawn_at_the_end_and_nothing_at_the_beginning(
    browser: Browser, address: str, planned: tuple[Path, Plan], way: str
) -> None:
    opened = open_play(browser, address + WAYS[way])
    page, count = opened.page, len(planned[1].sheets[0].toolpath)
    assert page.locator(".play-stage").get_attribute("data-drawn-by") == way
    assert drawn(page) == count, "what is not yet played is shown finished"
    scrubber(page).press("Home")
    assert drawn(page) == 0
    scrubber(page).press("End")
    expect(page.locator(".play-stage")).to_have_attribute("data-drawn", str(count))
    at_end, tones = page.evaluate(INKED)
    assert at_end > 500
    expect(page.locator(".play-position")).to_contain_text("3 of 3 parts cut free")
    page.get_by_role("combobox", name="Colour by").select_option("Time")
    expect(page.locator(".play-stage")).to_have_attribute("data-drawn", str(count))
    assert page.evaluate(INKED)[1] > tones + 3
    page.get_by_role("combobox", name="Colour by").select_option("Energy per mm")
    expect(page.locator(".play-key")).to_contain_text("J/mm")
    scrubber(page).press("Home")
    expect(page.locator(".play-stage")).to_have_attribute("data-drawn", "0")
    assert page.evaluate(INKED)[0] == 0
    assert complaints(opened) == []


def test_webgl_in_software_is_left_alone(browser: Browser, address: str) -> None:
    page = open_play(browser, address).page
    assert page.evaluate("() => !!document.createElement('canvas').getContext('webgl2')")
    expect(page.locator(".play-stage")).to_have_attribute("data-drawn-by", "canvas")


def test_a_graphics_processor_that_is_lost_is_replaced(browser: Browser, address: str) -> None:
    page = open_play(browser, address + WAYS["webgl"]).page
    scrubber(page).press("End")
    page.evaluate(
        """() => document.querySelectorAll(".play-stage canvas")[1].getContext("webgl2")
             .getExtension("WEBGL_lose_context").loseContext()"""
    )
    expect(page.locator(".play-stage")).to_have_attribute("data-drawn-by", "canvas")
    expect(page.locator(".play-position")).to_contain_text("finished")
    assert page.evaluate(INKED)[0] > 500


def test_it_plays_and_pauses(browser: Browser, address: str) -> None:
    opened = open_play(browser, address)
    page = opened.page
    page.get_by_role("combobox", name="Speed").select_option("×1")
    page.get_by_role("button", name="Play").press("Enter")
    pause = page.get_by_role("button", name="Pause")
    expect(page.locator(".play-position")).to_contain_text("engrave")
    expect(page.locator(".play-stage")).not_to_have_attribute("data-drawn", "0")
    pause.press("Enter")
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    expect(page.locator("#said")).to_contain_text("Paused at")
    assert complaints(opened) == []


def test_less_motion_still_plays(browser: Browser, address: str) -> None:
    page = open_play(browser, address, reduced_motion="reduce").page
    page.get_by_role("combobox", name="Speed").select_option("×1000")
    page.get_by_role("button", name="Play").click()
    expect(page.locator(".play-position")).to_contain_text("finished")


def test_strokes_are_stepped_and_told(browser: Browser, address: str) -> None:
    page = open_play(browser, address).page
    scrubber(page).press("End")
    page.get_by_role("button", name="Previous stroke").press("Enter")
    expect(page.locator("#said")).to_contain_text("cut; part boards")
    expect(page.locator("#said")).to_contain_text("16 mm/s; power 72 % (43 W)")
    before = page.locator(".play-position").inner_text()
    page.get_by_role("button", name="Previous stroke").press("Enter")
    assert page.locator(".play-position").inner_text() != before
    page.get_by_role("button", name="Next stroke").press("Enter")
    assert page.locator(".play-position").inner_text() == before
    told = scrubber(page).get_attribute("aria-valuetext")
    assert told == before


def test_pointing_tells_what_a_line_is(
    browser: Browser, address: str, planned: tuple[Path, Plan]
) -> None:
    page = open_play(browser, address).page
    (sheet,) = planned[1].sheets
    (score, *_) = [path for mark in sheet.parts[0].scores for path in mark.paths]
    x_mm, y_mm = score.points.mean(axis=0)
    page.locator(".play-stage").scroll_into_view_if_needed()
    box = page.locator(".play-stage").bounding_box()
    assert box is not None
    wide, high = sheet.sheet.width_mm, sheet.sheet.height_mm
    scale = min((box["width"] - 22) / wide, (box["height"] - 22) / high)
    x = box["x"] + box["width"] / 2 + (x_mm - wide / 2) * scale
    y = box["y"] + box["height"] / 2 - (y_mm - high / 2) * scale
    page.mouse.move(x, y)
    detail = page.locator(".play-detail")
    expect(detail).to_contain_text("score")
    expect(detail).to_contain_text("14 % (8.4 W)")
    page.mouse.click(x, y)
    expect(page.locator("#said")).to_contain_text("score; part boards")
    page.get_by_role("button", name="Go to this moment").click()
    expect(page.locator(".play-position")).not_to_contain_text("0.0 s of")


def test_the_beam_is_where_the_machine_has_it(
    browser: Browser, address: str, planned: tuple[Path, Plan]
) -> None:
    page = open_play(browser, address).page
    (sheet,) = planned[1].sheets
    trace = trace_of(sheet.toolpath, planned[1].machine)
    times = np.random.default_rng(5).uniform(0.0, trace.total_s, 300)
    there = moments_at(trace, sheet.toolpath, times)
    shown = np.array(page.evaluate(TIMES_OF_MOVES, ["quay", times.tolist()]))
    assert np.hypot(shown[:, 0] - there.x_mm, shown[:, 1] - there.y_mm).max() < 0.01
    assert np.abs(shown[:, 2] - there.speed_mm_s).max() < 0.5


def worked_out(page: Page, time_s: float) -> list[str]:
    """Have another way worked out at once, which is the plan's own; gives what is asked for it."""
    asked: list[str] = []
    planning = {"state": "planning", "words": "Planning the beam's path", "changes": []}
    ready = {"state": "ready", "sheets": [{"number": 1, "time_s": time_s}], "changes": []}
    coming = [planning, ready]

    def answer(route: Route) -> None:
        asked.append(f"{route.request.method} {route.request.post_data or ''}".strip())
        begun = any(one.startswith("POST") for one in asked)
        of_state = begun and route.request.method == "GET"
        route.fulfill(json=coming.pop(0) if of_state else {"state": "idle", "changes": []})

    page.route("**/what-if", answer)
    page.route(
        "**/what-if/sheets/1/*",
        lambda route: route.continue_(url=route.request.url.replace("/what-if", "")),
    )
    return asked


def test_another_way_is_played_beside_it(
    browser: Browser, address: str, planned: tuple[Path, Plan]
) -> None:
    opened = open_play(browser, address)
    page = opened.page
    asked = worked_out(page, planned[1].sheets[0].times.total_s + 5.0)
    page.get_by_text("Try another way beside it").click()
    page.get_by_role("combobox", name="What").select_option("Order of the work")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".play-what-if")).to_contain_text("Planning the beam's path")
    expect(page.locator(".play-stage")).to_have_count(2)
    change = '{"changes":[{"at":["settings","order_of_work"],"value":"part"}]}'
    assert f"POST {change}" in asked
    expect(page.locator(".play-compared")).to_contain_text("The way tried is 5.0 s slower")
    expect(page.locator(".play-position")).to_contain_text("Otherwise")
    scrubber(page).press("End")
    page.get_by_role("button", name="Put it away").click()
    expect(page.locator(".play-stage")).to_have_count(1)
    assert complaints(opened) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_is_accessible(browser: Browser, address: str, scheme: str) -> None:
    """WCAG 2.2 as far as axe-core checks it."""
    page = open_play(browser, address, color_scheme=scheme, bypass_csp=True).page
    page.get_by_role("button", name="Next stroke").click()
    page.get_by_text("Try another way beside it").click()
    found = Axe().run(page, context=".play").response["violations"]
    assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == []


@pytest.mark.parametrize("width", [320, 360])
def test_nothing_scrolls_sideways_on_a_phone(browser: Browser, address: str, width: int) -> None:
    page = open_play(browser, address, viewport={"width": width, "height": 740}).page
    assert page.evaluate("document.documentElement.scrollWidth") <= width
