"""Words from strangers are shown as words: nothing in them runs, loads or sends anything.

Markup that runs where it is taken for HTML: OWASP XSS Filter Evasion Cheat Sheet. Signs that turn
the order of letters round: Unicode Technical Report 36, section 2 (bidirectional text spoofing).
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote
from xml.sax.saxutils import quoteattr

import pypdfium2 as pdfium
import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, expect

from kerfwright.web import kept
from recorded_runs import a_run
from small_shop import svg
from small_workshop import SLUG, SmallWorkshop

MARKUP = "\"'><img src=x onerror=alert(1)><script>alert(2)</script>{{7*7}}&lt;\u202egvs"

SEEN = "onerror=alert(1)"
"""Of the markup, where it is shown as words."""

FILE = "'><img src=x onerror=alert(1)>&amp;.svg"

LINK = "javascript:alert(3)"

DRAWING = f"""
<script>alert(4)</script>
<title>{"".join(f"&#{ord(sign)};" for sign in MARKUP)}</title>
<g id="Outline" fill="none" stroke="black" onclick="alert(5)">
<a href="{LINK}"><rect id={quoteattr(MARKUP.replace(chr(0x202E), ""))} x="1" y="1" width="40"
 height="30" onload="alert(6)"/></a></g>
<g id={quoteattr(MARKUP)} fill="none" stroke="red"><path d="M 6,26 H 36"/></g>
<foreignObject><img xmlns="http://www.w3.org/1999/xhtml" src="x" onerror="alert(7)"/>
</foreignObject>
<image href="http://eiderwick.example/x.png" width="9" height="9"/>
<style>@import url(http://eiderwick.example/x.css);</style>
"""


FOB = '<g id="Engrave"><rect id="qr:{berth}" x="1" y="1" width="16" height="16"/></g>'

BOARD_OF_FOBS = """
[[items]]
name = NAME
drawing = "fob.svg"
material = NAME
fixture = NAME
fit = "centre"
batch = {rows = "names.csv"}

[[fixtures]]
name = NAME
width_mm = 110
height_mm = 60

[fixtures.grid]
columns = 2
rows = 2
first_mm = [30, 15]
pitch_mm = [50, 30]
width_mm = 40
height_mm = 18
"""
"""Blanks in a fixture, one for each row of a table."""

WATCHED = (
    "addEventListener('securitypolicyviolation', (one) => console.error(one.violatedDirective))"
)

READ_OUT = """() => [...document.querySelectorAll("[aria-label], [aria-valuetext], [title], [alt]")]
  .flatMap((one) => ["aria-label", "aria-valuetext", "title", "alt"]
    .map((name) => one.getAttribute(name) ?? ""))"""
"""Attributes that are read out, or shown to whoever points."""

QUIET_TRIES = 3
"""Looks, a tenth of a second apart, after which nothing more is taken to come."""

FAILED = {"state": "failed", "words": MARKUP, "remedy": MARKUP, "changes": []}
"""Another way, planned beside the order, that came to nothing."""

COMPARED = {
    "state": "ready",
    "words": "",
    "asked": {},
    "lines": [
        {"way": MARKUP, "net": "", "total": "", "items": [], "why_not": MARKUP},
        {
            "way": f"{MARKUP} dearer",
            "net": "1.00",
            "total": "1.20",
            "currency": MARKUP,
            "items": [{"name": MARKUP, "net": "1.00"}],
            "beam_s": 9.0,
            "sheets": 1,
            "why_not": "",
        },
    ],
}


class HostileWorkshop(SmallWorkshop):
    """The small workshop with words of strangers wherever words can be."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        word = json.dumps(MARKUP, ensure_ascii=False)
        self._change(self.folder / "machine.toml", '"trial machine"', word)
        board = self.folder / "materials" / "board.toml"
        self._change(board, '"trial machine"', word)
        self._change(board, '"board"', word)
        self._change(self.folder / "rates.toml", '"board"', word)
        self._change(self.folder / "rates.toml", '"Eiderwick harbour workshop"', word)
        order = self.order / "order.toml"
        for said in ('"Small order"', '"board"', '"offcut"'):
            self._change(order, said, word)
        self._change(order, '"tile.svg"', json.dumps(FILE))
        self._change(order, "quantity = 4", f"quantity = 2\nname = {word}")
        rule = f'\n[[items.rules]]\nlayer = {word}\nprocess = "score"\n\n[[stock]]'
        self._change(order, "\n[[stock]]", rule)
        with order.open("a", encoding="utf-8") as more:
            more.write(BOARD_OF_FOBS.replace("NAME", word))
        (self.order / "fob.svg").write_text(svg(FOB, 40, 18), encoding="utf-8")
        with (self.order / "names.csv").open("w", encoding="utf-8", newline="") as table:
            csv.writer(table).writerows([[MARKUP, "berth"], [MARKUP, 1], [f"{MARKUP} two", 2]])
        (self.order / "tile.svg").unlink()
        (self.order / FILE).write_text(svg(DRAWING), encoding="utf-8")

    def _change(self, file: Path, old: str, new: str) -> None:
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("hostile")
    made = HostileWorkshop(folder)
    made.plan()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KERFWRIGHT_RECORDS", str(folder / "records.sqlite"))
        asking = made.client()
        sheets = {"material": MARKUP, "size": "600x400", "location": MARKUP, "note": MARKUP}
        assert asking.post("/api/stock", json=sheets).status_code == 201
        assert asking.put(f"/api/orders/{SLUG}/on-record").status_code == 200
        with kept.runs(made.workshop) as records:
            records.record([a_run(order=MARKUP, machine=MARKUP, material=MARKUP, note=MARKUP)])
        piece = {"kind": "kerf", "machine": "machine.toml", "material": "materials/board.toml"}
        assert asking.post("/api/calibration", json=piece).status_code == 201
        for n in range(2):  # so that pages need not wait for them
            assert asking.get(f"/api/orders/{SLUG}/items/{n}/drawing").status_code == 200
        with served(folder) as at:
            yield at


class Visited:
    """A page that is watched: what it asks for, what it complains of, what it holds."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.address = address
        self.opened = Opened(browser, "about:blank")
        self.page = self.opened.page
        self.asked: list[str] = []
        self.page.add_init_script(WATCHED)
        self.page.on("request", lambda request: self.asked.append(request.url))

    def go(self, path: str) -> None:
        self.page.goto(f"{self.address}/{path}")

    def open_all(self) -> None:
        """Open whatever can be opened, and what is in that."""
        closed = self.page.locator("details:not([open])")
        quiet = 0
        for _ in range(20):  # what is opened may be filled only then
            found = closed.evaluate_all(
                "(all) => { for (const one of all) one.open = true; return all.length; }"
            )
            quiet = 0 if found else quiet + 1
            if quiet > QUIET_TRIES:
                break
            self.page.wait_for_timeout(100)

    def close(self) -> None:
        """See that nothing ran, nothing was asked for elsewhere, and no order of letters turns."""
        page = self.page
        assert page.locator("img[src='x'], script:not([src]), [onerror], [onclick]").count() == 0
        assert page.locator("a[href^='javascript:']").count() == 0
        assert "\u202e" not in page.evaluate("document.body.textContent")
        assert not [words for words in page.evaluate(READ_OUT) if "\u202e" in words]
        assert self.opened.complaints == []
        own = (f"{self.address}/", "data:", "blob:")
        assert [url for url in self.asked if not url.startswith(own)] == []
        page.context.close()


@pytest.fixture
def visited(browser: Browser, address: str) -> Visited:
    return Visited(browser, address)


@pytest.mark.parametrize(
    "path",
    ["", f"orders/{SLUG}", "stock", "recipes", "quotes", "runs", "calibration"]
    + [f"api/orders/{SLUG}/files/{name}.html" for name in ("ticket", "quote", "reckoning")],
)
def test_nothing_in_words_runs_or_asks_elsewhere(visited: Visited, path: str) -> None:
    visited.go(path)
    # it is there as words, wherever it is
    expect(visited.page.locator("body")).to_contain_text(SEEN)
    for reading in visited.page.get_by_text("Reading the drawing").all():
        expect(reading).to_be_hidden(timeout=15_000)
    visited.open_all()
    visited.close()


@pytest.mark.parametrize("path", ["help/order", "help/pages", f"api/orders/{SLUG}/files/x.html"])
def test_pages_without_words_of_others_are_as_quiet(visited: Visited, path: str) -> None:
    visited.go(f"{path}?q={quote(MARKUP)}#{quote(MARKUP)}")
    assert SEEN not in visited.page.locator("body").inner_text()
    visited.opened.complaints = [one for one in visited.opened.complaints if "404" not in one]
    visited.close()


def test_each_part_of_an_order_shows_them_as_words(visited: Visited) -> None:
    page = visited.page
    page.route("**/what-if", lambda route: route.fulfill(json=FAILED))
    page.route("**/price/comparison", lambda route: route.fulfill(json=COMPARED))
    visited.go(f"orders/{SLUG}")
    page.locator(".play-stage[data-drawn]").first.wait_for()
    visited.open_all()
    places = {
        "the batch's table": ".batch table td",
        "the heading of its column": ".batch table th",
        "the item in its fixture": ".in-fixture summary",
        "the fixture": ".fixture-card h4",
        "its load": "#sheets .card h3",
        "another way that failed": ".play-what-if .problem",
        "prices compared": "#price details table",
        "decisions and findings": "#beam",
        "the form for a run": "#run details[open] .spoilt",
        "the reservation, runs and programs": "#run",
    }
    for what, place in places.items():
        found = page.locator(place).filter(has_text=SEEN)
        expect(found.first, what).to_be_attached()
    visited.close()


def test_what_is_pointed_at_in_a_playback_is_told_as_words(visited: Visited) -> None:
    page = visited.page
    visited.go(f"orders/{SLUG}")
    page.locator(".play-stage[data-drawn]").first.wait_for()
    page.get_by_role("slider", name="Time").press("End")
    page.get_by_role("button", name="Previous stroke").press("Enter")
    expect(page.locator("#said")).to_contain_text(SEEN)
    stage = page.locator(".play-stage").first
    stage.scroll_into_view_if_needed()
    box = stage.bounding_box()
    assert box is not None
    detail = page.locator(".play-detail")
    for n in range(400):
        if SEEN in detail.inner_text():
            break
        x, y = box["x"] + box["width"] * (n % 20) / 20, box["y"] + box["height"] * (n // 20) / 20
        page.mouse.move(x, y)
    expect(detail).to_contain_text(SEEN)
    visited.close()


def test_labels_of_stock_are_printed_with_them(visited: Visited) -> None:
    page = visited.page
    visited.go("stock")
    expect(page.locator("body")).to_contain_text(SEEN)
    page.get_by_role("checkbox", name="Label of S-001").check()
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Labels for the ticked pieces").click()
    labels = pdfium.PdfDocument(waiting.value.path())
    assert "onerror" in labels[0].get_textpage().get_text_bounded()
    visited.close()


def test_a_trial_piece_is_opened_with_them(visited: Visited) -> None:
    visited.go("calibration")
    expect(visited.page.get_by_text("materials/board.toml").first).to_be_visible()
    visited.open_all()
    sheet = visited.page.locator("a[href$='sheet.html']").first
    expect(sheet).to_be_visible()
    visited.page.goto(f"{visited.address}{sheet.get_attribute('href')}")
    expect(visited.page.locator("body")).to_contain_text(SEEN)
    visited.close()
