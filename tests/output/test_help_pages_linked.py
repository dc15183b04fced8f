"""Help pages: every page can be shown, every link leads somewhere, every code has its heading."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from lxml import html

from kerfwright.errors import KerfwrightError
from kerfwright.output import help_pages
from kerfwright.output.help_pages import help_html, help_text, write_help

SOURCE = Path(help_pages.__file__).parents[1]


def headings_and_links(text: str) -> tuple[list[str], list[str]]:
    root = html.document_fromstring(text)
    return root.xpath("//h1/@id|//h2/@id|//h3/@id"), root.xpath("//a/@href")


@pytest.mark.parametrize("page", help_pages.help_pages())
def test_page_is_whole_and_starts_with_its_title(page: str) -> None:
    root = html.document_fromstring(help_html(page))
    assert len(root.xpath("//h1")) == 1
    assert root.get("lang") == "en"
    ids = root.xpath("//@id")
    assert len(ids) == len(set(ids))


def test_headings_are_found_by_their_codes() -> None:
    root = html.document_fromstring(help_html("order"))
    heading = root.xpath("//h2[@id='unknown-key']")[0]
    assert heading.text_content() == "Unknown key"


def test_every_link_between_pages_leads_somewhere(tmp_path: Path) -> None:
    written = write_help(tmp_path)
    pages = {name: headings_and_links((tmp_path / name).read_text("utf-8")) for name in written}
    assert set(pages) == {path.name for path in tmp_path.iterdir()}
    for name, (_, links) in pages.items():
        for link in links:
            target, _, heading = link.partition("#")
            assert target in pages, f"{name} links to {link}"
            assert not heading or heading in pages[target][0], f"{name} links to {link}"


def test_index_lists_every_page() -> None:
    _, links = headings_and_links(help_html("index"))
    assert sorted(links) == sorted(
        f"{page}.html" for page in help_pages.help_pages() if page != "index"
    )


def test_asking_for_one_page_brings_those_that_it_links_to(tmp_path: Path) -> None:
    assert {"ticket.html", "index.html"} <= set(write_help(tmp_path, ["ticket"]))


def test_text_of_one_heading() -> None:
    text = help_text("order", "unknown-key")
    assert text.startswith("## unknown-key\n")
    assert text.count("## ") == 1


@pytest.mark.parametrize("page", ["no-such-page", "../schema/order", "", "ORDER", "order\n"])
def test_missing_page_is_one_clear_error(page: str) -> None:
    with pytest.raises(KerfwrightError) as caught:
        help_html(page)
    assert caught.value.code == "ticket/help-page-missing"
    assert "order" in caught.value.remedy
    assert help_text(*caught.value.code.split("/"))


def test_missing_heading_is_one_clear_error() -> None:
    with pytest.raises(KerfwrightError, match="no-such-heading"):
        help_text("order", "no-such-heading")


def test_html_in_a_page_is_shown_not_obeyed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "odd.md").write_text("# Odd\n\n<script>alert(1)</script>\n\n[x](javascript:y)\n")
    monkeypatch.setattr(help_pages, "PLACES", (tmp_path,))
    root = html.document_fromstring(help_html("odd"))
    assert not root.xpath("//script")
    assert not [link for link in root.xpath("//a/@href") if link.startswith("javascript")]


def test_pages_missing_from_the_installation_are_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(help_pages, "PLACES", (tmp_path / "nowhere",))
    with pytest.raises(KerfwrightError, match="Install"):
        help_text("order")


def test_every_code_in_the_source_has_its_heading() -> None:
    """Codes written out as page/slug, for the pages that exist."""
    pages = "|".join(page for page in help_pages.help_pages() if page != "index")
    code = re.compile(rf'"({pages})/([a-z0-9]+(?:-[a-z0-9]+)*)"')
    missing = []
    for path in sorted(SOURCE.rglob("*.py")):
        for page, slug in code.findall(path.read_text(encoding="utf-8")):
            if f"\n## {slug}\n" not in help_text(page):
                missing.append(f"{path.name}: {page}/{slug}")
    assert not missing
