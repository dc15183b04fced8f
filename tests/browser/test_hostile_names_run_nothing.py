"""Words from strangers are shown as words: nothing in them runs, loads or sends anything.

Markup that runs where it is taken for HTML: OWASP XSS Filter Evasion Cheat Sheet. Signs that turn
the order of letters round: Unicode Technical Report 36, section 2 (bidirectional text spoofing).
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import quoteattr

import pytest
from chromium import Opened, served
from playwright.sync_api import Browser, expect

from kerfwright.web import kept
from recorded_runs import a_run
from small_shop import svg
from small_workshop import SLUG, SmallWorkshop

MARKUP = "\"'><img src=x onerror=alert(1)><script>alert(2)</script>{{7*7}}&lt;\u202egvs"

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
        with served(folder) as at:
            yield at


@pytest.mark.parametrize(
    "path",
    ["", f"orders/{SLUG}", "stock", "recipes", "runs", "calibration"]
    + [f"api/orders/{SLUG}/files/{name}.html" for name in ("ticket", "quote", "reckoning")],
)
def test_nothing_in_words_runs_or_asks_elsewhere(browser: Browser, address: str, path: str) -> None:
    opened = Opened(browser, "about:blank")
    page, asked = opened.page, []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{address}/{path}")
    # it is there as words, wherever it is
    expect(page.locator("body")).to_contain_text("onerror=alert(1)")
    expect(page.get_by_text("Reading the drawing")).to_be_hidden(timeout=15_000)
    for closed in page.locator("details:not([open]) > summary").all():
        if closed.is_visible():
            closed.click()
    assert page.locator("img[src='x'], script:not([src]), [onerror], [onclick]").count() == 0
    assert page.locator("a[href^='javascript:']").count() == 0
    assert "\u202e" not in page.evaluate("document.body.textContent")
    assert opened.complaints == []
    assert [url for url in asked if not url.startswith((f"{address}/", "data:", "blob:"))] == []
    page.context.close()
