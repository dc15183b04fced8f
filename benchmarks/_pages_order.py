"""The page of an order with a large drawing: how soon it is seen, and how soon it answers a hand.

Hands are real: Playwright sends the browser wheels, pointers, keys and clicks. Each is timed in the
page from the event's own time stamp to the second frame after it, by which time the first one, that
shows the answer, has been handed over to be put on the screen.
"""

from __future__ import annotations

import shutil
import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

from benchmarks._pages_drawing import plates_svg
from benchmarks._pages_served import REGATTA, first_paint_ms
from kerfwright.web.reading import READERS

REACTIONS = """() => {
  window.reactions = [];
  const kinds = ["wheel", "pointermove", "keydown", "click", "change", "toggle", "scroll"];
  window.hearing = "";
  for (const kind of kinds) window.addEventListener(kind, (event) => {
    if (kind !== window.hearing) return;
    const begun = event.timeStamp;
    requestAnimationFrame(() => requestAnimationFrame(() => {
      window.reactions.push(performance.now() - begun);
    }));
  }, { capture: true, passive: true });
  window.longest = 0;
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) window.longest = Math.max(window.longest, one.duration);
  }).observe({ type: "longtask", buffered: true });
}"""

ON_A_WAVE = """() => {
  const svg = document.querySelector(".stage > svg");
  const [x, y] = [...svg.querySelectorAll("path.line:not(.photo)")].at(-1)
    .getAttribute("d").match(/M([-\\d.]+)[ ,]?([-\\d.]+)/).slice(1).map(Number);
  const at = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM());
  return [at.x, at.y];
}"""

RULE_MARKED = """async (process) => {
  const chosen = [...document.querySelectorAll("details.rules select")]
    .find((one) => [...one.options].some((option) => option.value === "engrave"));
  const mark = document.querySelector("path.caught");
  const told = new Promise((done) => {
    const watch = new MutationObserver(() => { watch.disconnect(); done(); });
    watch.observe(mark, { attributes: true });
  });
  const begun = performance.now();
  chosen.value = process;
  chosen.dispatchEvent(new Event("change", { bubbles: true }));
  await told;
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return performance.now() - begun;
}"""

SETTLED_MS = 100.0
"""Between two things that a hand does."""

ORDER = """title = "Quay tokens"
invented = true
machine = "machine.toml"
materials = ["materials/birch-plywood-3.toml"]

[[items]]
drawing = "plates.svg"
material = "birch plywood 3 mm"
quantity = 1

[[stock]]
material = "birch plywood 3 mm"
name = "half sheet"
width_mm = 600
height_mm = 400
count = 4
"""

Hand = Callable[[int], None]


def order_folder(folder: Path, segments: int) -> Path:
    """Make a workshop that knows the regatta's order and one with a large drawing."""
    for name in ("regatta", "quay"):
        shutil.copytree(REGATTA, folder / "orders" / name)
    quay = folder / "orders" / "quay"
    (quay / "plates.svg").write_text(plates_svg(segments), encoding="utf-8")
    (quay / "order.toml").write_text(ORDER, encoding="utf-8")
    return folder


def seen(browser: Browser, address: str, drawing: Path) -> Iterator[dict[str, Any]]:
    """Time from dropping a drawing on an order to seeing it: an ordinary and a large one."""
    READERS.start()
    READERS.ask("", len, "")
    for name, file in (("tokens of the regatta", REGATTA / "tokens.svg"), ("large", drawing)):
        page = _opened(browser, f"{address}/orders/regatta")
        page.locator(".stage .part").nth(3).wait_for(state="attached")
        before = page.locator("article.item").count()
        begun = time.perf_counter()
        page.get_by_label("Choose drawings").set_input_files(str(file))
        page.locator("article.item").nth(before).wait_for(state="attached")
        uploaded_s = time.perf_counter() - begun
        page.locator("article.item").nth(before).locator(".stage .part").first.wait_for(
            state="attached"
        )
        _two_frames(page)
        yield {
            "drawing": name,
            "file, kB": file.stat().st_size / 1e3,
            "in the order, s": uploaded_s,
            "seen with processes and findings, s": time.perf_counter() - begun,
        }
        page.close()


def order_opened(browser: Browser, address: str) -> Iterator[dict[str, Any]]:
    """First paint, and the drawing's appearance when it is read and when it is remembered."""
    for name in ("drawing is read", "drawing is remembered"):
        begun = time.perf_counter()
        page = _opened(browser, f"{address}/orders/quay")
        page.locator(".stage .part").first.wait_for(state="attached")
        _two_frames(page)
        yield {
            "order opened": name,
            "first paint, ms": first_paint_ms(page),
            "drawing seen, s": time.perf_counter() - begun,
        }
        page.close()


def reactions(browser: Browser, address: str, layer: str, times: int) -> Iterator[dict[str, Any]]:
    """What a hand does on an order's page, how soon it is answered, the longest task meanwhile."""
    page = _opened(browser, address)
    page.locator(".stage .part").first.wait_for(state="attached")
    window = page.locator(".window").first
    window.scroll_into_view_if_needed()
    box = window.bounding_box()
    assert box is not None
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def zoom(number: int) -> None:
        window.press("+" if number % 8 < 4 else "-")

    def wheel(number: int) -> None:
        page.keyboard.down("Control")
        page.mouse.wheel(0, -60 if number % 8 < 4 else 60)
        page.keyboard.up("Control")

    def move(number: int) -> None:
        page.mouse.move(middle[0] + 7 * number % 90, middle[1] + 11 * number % 90)

    page.mouse.move(*middle)
    yield _reaction(page, "the picture larger and smaller, by key", "keydown", zoom, times)
    yield _reaction(page, "the picture larger and smaller, by wheel", "wheel", wheel, times)
    window.press("0")
    yield _reaction(page, "pointing at the drawing", "pointermove", move, times)
    for _ in range(6):
        window.press("+")
    yield _reaction(page, "moving the enlarged picture", "scroll", _panned(page), times)
    yield _reaction(page, "pointing at the enlarged drawing", "pointermove", move, times)
    window.press("0")
    yield _reaction(page, "choosing shapes like one", "click", _chosen(page), times)
    yield _rules(page, layer, times)
    yield _reaction(page, "a part shown in its drawing", "click", _part(page), times)
    if page.locator("details.decision").count():
        yield _reaction(page, "a decision opened", "click", _decision(page), times)
    yield _reaction(page, "scrolling the page", "scroll", _scrolled(page), times)
    yield _reaction(page, "a quantity changed", "change", _quantity(page), times)
    page.close()


def _opened(browser: Browser, address: str) -> Page:
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.set_default_timeout(120_000)
    page.add_init_script(f"({REACTIONS})()")
    page.goto(address)
    return page


def _two_frames(page: Page) -> None:
    page.evaluate(
        "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )


def _reaction(page: Page, what: str, event: str, hand: Hand, times: int) -> dict[str, Any]:
    """Do one thing so many times; the first time is done beforehand and not counted."""
    page.evaluate("(kind) => { window.hearing = kind; }", event)
    for number in range(times + 1):
        if number == 1:
            page.evaluate("() => { window.reactions = []; window.longest = 0; }")
        hand(number)
        _two_frames(page)
        page.wait_for_timeout(SETTLED_MS)
    told: list[float] = page.evaluate("() => window.reactions")
    longest: float = page.evaluate("() => window.longest")
    return {
        "hand": what,
        "times": len(told),
        "median, ms": statistics.median(told),
        "worst, ms": max(told),
        "longest task, ms": longest,
    }


def _panned(page: Page) -> Hand:
    def hand(number: int) -> None:
        by = 160 if number % 8 < 4 else -160
        page.locator(".window").first.evaluate("(window, by) => window.scrollBy(by, by)", by)

    return hand


def _scrolled(page: Page) -> Hand:
    def hand(number: int) -> None:
        page.mouse.wheel(0, 700 if number % 10 < 5 else -700)

    return hand


def _chosen(page: Page) -> Hand:
    """Clicks on a scored wave, which begins a rule for all shapes like it."""
    before = page.evaluate("() => window.scrollY")

    def hand(_number: int) -> None:
        # the rule that is begun is scrolled into sight, and the picture out of it
        page.evaluate("(y) => window.scrollTo(0, y)", before)
        _two_frames(page)
        at = page.evaluate(ON_A_WAVE)
        page.mouse.click(*at)

    return hand


def _rules(page: Page, layer: str, times: int) -> dict[str, Any]:
    """From choosing a process to what the rule takes being marked in the picture."""
    page.locator("details.rules").first.evaluate("details => { details.open = true; }")
    page.get_by_label("On the layer").first.fill(layer)
    page.wait_for_timeout(10 * SETTLED_MS)
    told = []
    for number in range(times + 1):
        page.wait_for_timeout(SETTLED_MS)
        if number == 1:
            page.evaluate("() => { window.longest = 0; }")
        told.append(page.evaluate(RULE_MARKED, ["score", "engrave"][number % 2]))
    page.get_by_role("button", name="Clear").first.click()
    return {
        "hand": "a rule for a layer tried: what it takes is marked",
        "times": times,
        "median, ms": statistics.median(told[1:]),
        "worst, ms": max(told[1:]),
        "longest task, ms": page.evaluate("() => window.longest"),
    }


def _part(page: Page) -> Hand:
    def hand(number: int) -> None:
        page.locator("li.part button").nth(number % 6).press("Enter")

    return hand


def _decision(page: Page) -> Hand:
    def hand(number: int) -> None:
        page.locator("details.decision > summary").nth(number % 4).press("Enter")

    return hand


def _quantity(page: Page) -> Hand:
    # by id: asking for a label looks at every element of the page, in the page's own thread
    field = page.locator("#item-0-quantity")

    def hand(number: int) -> None:
        field.fill(str(2 + number))
        field.press("Tab")
        page.locator("article.item h3", has_text=f"× {2 + number},").first.wait_for()

    return hand
