"""The ticket in a real browser: from a file, without a network, on a phone, in the dark, on paper.

Source of the limits: WCAG 2.2, success criteria 1.4.3 (contrast of text 4.5 to 1) and 1.4.10
(no sideways scrolling).
"""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

import planned_order
from kerfwright.output.help_pages import write_help
from kerfwright.output.ticket import ticket_html
from kerfwright.plan import Plan

CONTRASTS = """() => {
  const canvas = document.createElement("canvas").getContext("2d", {willReadFrequently: true});
  const rgba = colour => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = colour;
    canvas.fillRect(0, 0, 1, 1);
    return [...canvas.getImageData(0, 0, 1, 1).data];
  };
  const luminance = ([r, g, b]) => {
    const [x, y, z] = [r, g, b].map(
      c => c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
    return 0.2126 * x + 0.7152 * y + 0.0722 * z;
  };
  const behind = element => {
    for (let e = element; e; e = e.parentElement) {
      const colour = rgba(getComputedStyle(e).backgroundColor);
      if (colour[3] === 255) return colour;
    }
    return [255, 255, 255, 255];
  };
  const found = [];
  for (const element of document.querySelectorAll("body *:not(svg):not(svg *)")) {
    const own = [...element.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!own) continue;
    const [a, b] = [rgba(getComputedStyle(element).color), behind(element)]
      .map(luminance).sort((p, q) => q - p);
    found.push([element.textContent.trim().slice(0, 40), (a + 0.05) / (b + 0.05)]);
  }
  return found;
}"""


def write_ticket(folder: Path, plan: Plan) -> Path:
    ticket = folder / "ticket.html"
    ticket.write_text(ticket_html(plan, planned_order.files_of(plan)), encoding="utf-8")
    write_help(folder / "help")
    return ticket


@pytest.fixture(scope="module", params=["", planned_order.HOSTILE], ids=["plain", "hostile"])
def ticket(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_ticket(tmp_path_factory.mktemp("ticket"), planned_order.order(request.param))


class Opened:
    """A page that remembers what it asked for and what it complained of."""

    def __init__(self, browser: Browser, file: Path, **context: object) -> None:
        self.page: Page = browser.new_context(**context).new_page()  # type: ignore[arg-type]
        self.page.set_default_timeout(5000)
        self.complaints: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("dialog", lambda dialog: self.complaints.append(dialog.message))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(file.as_uri())


def phone(width: int = 360) -> dict[str, object]:
    return {"viewport": {"width": width, "height": 740}}


def test_opens_from_a_file_without_network_or_complaint(browser: Browser, ticket: Path) -> None:
    opened = Opened(browser, ticket, offline=True)
    assert opened.page.title().startswith("Regatta")
    assert opened.complaints == []
    assert opened.asked == [ticket.as_uri()]


@pytest.mark.parametrize("width", [320, 360, 1000])
def test_never_scrolls_sideways(browser: Browser, ticket: Path, width: int) -> None:
    page = Opened(browser, ticket, **phone(width)).page
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_pictures_are_seen(browser: Browser, ticket: Path) -> None:
    page = Opened(browser, ticket, **phone()).page
    pictures = page.get_by_role("img")
    assert pictures.count() == 4
    for number in range(4):
        box = pictures.nth(number).bounding_box()
        assert box is not None
        assert box["width"] > 300
        assert box["height"] > 200


def test_headings_are_in_order(browser: Browser, ticket: Path) -> None:
    page = Opened(browser, ticket).page
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4')].map(h => +h.tagName[1])")
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert page.locator("main").count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("where", ["ticket", "help"])
def test_text_is_readable(browser: Browser, ticket: Path, scheme: str, where: str) -> None:
    file = ticket if where == "ticket" else ticket.parent / "help" / "order.html"
    page = Opened(browser, file, color_scheme=scheme).page
    contrasts = page.evaluate(CONTRASTS)
    assert len(contrasts) > 20
    assert [entry for entry in contrasts if entry[1] < 4.5] == []


def test_dark_scheme_is_dark(browser: Browser, ticket: Path) -> None:
    page = Opened(browser, ticket, color_scheme="dark").page
    colour = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(colour) == "rgb(22, 22, 21)"
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate(colour) == "rgb(255, 255, 255)", "paper is white"


def test_help_link_works_offline(browser: Browser, ticket: Path) -> None:
    opened = Opened(browser, ticket, offline=True)
    opened.page.get_by_role("link", name="layer says two").click()
    assert opened.page.url.endswith("help/parts.html#layer-says-two")
    assert opened.page.locator(":target").text_content() == "Layer says two"
    assert opened.complaints == []


def test_can_be_worked_by_keyboard(browser: Browser, ticket: Path) -> None:
    page = Opened(browser, ticket).page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the work"
    tick = page.get_by_role("checkbox").first
    tick.focus()
    page.keyboard.press("Space")
    assert tick.is_checked()
    reached = page.evaluate("document.activeElement.tabIndex")
    assert reached == 0


def test_every_sheet_starts_a_page_of_its_own(browser: Browser, ticket: Path) -> None:
    page = Opened(browser, ticket).page
    page.emulate_media(media="print")
    breaks = page.evaluate(
        "[...document.querySelectorAll('section.sheet')].map(s => getComputedStyle(s).breakBefore)"
    )
    assert breaks == ["page", "page"]
    assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
