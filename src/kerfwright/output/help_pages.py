"""Help pages: the Markdown files of ``docs/help`` as pages that need nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

from kerfwright.errors import KerfwrightError
from kerfwright.output.pages import render

INDEX = "index"

_PACKAGE = Path(__file__).parents[1]

PLACES = (_PACKAGE / "docs" / "help", _PACKAGE.parents[1] / "docs" / "help")
"""Where the pages lie: in an installed package, and in a checkout."""

_PAGE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LINK = re.compile(r"(?P<page>[a-z0-9-]+)\.md(?P<heading>#[a-z0-9-]+)?")


def help_pages() -> list[str]:
    """Names of all help pages, in order of the alphabet."""
    names = {path.stem for path in _folder().glob("*.md")}
    return sorted(name for name in names if _PAGE.fullmatch(name))


def help_text(page: str, heading: str | None = None) -> str:
    """Markdown of a page, or of what stands under one of its ``##`` headings.

    Raises:
        KerfwrightError: there is no such page or heading.
    """
    path = _folder() / f"{page}.md"
    if not _PAGE.fullmatch(page) or not path.is_file():
        raise KerfwrightError(
            "ticket/help-page-missing",
            file=f"docs/help/{page}.md",
            thing="there is no such help page.",
            remedy=f"Known: {', '.join(help_pages())}.",
        )
    text = path.read_text(encoding="utf-8")
    return text if heading is None else _section(page, text, heading)


def _section(page: str, text: str, heading: str) -> str:
    found = re.search(rf"^## {re.escape(heading)}\s*?$.*?(?=^## |\Z)", text, re.M | re.S)
    if found is None:
        known = re.findall(r"^## (.+?)\s*$", text, re.M)
        raise KerfwrightError(
            "ticket/help-page-missing",
            file=f"docs/help/{page}.md",
            thing=f'there is no heading "{heading}".',
            remedy=f"Known: {', '.join(known)}.",
        )
    return found.group().rstrip() + "\n"


def help_html(page: str) -> str:
    """Page as HTML; every ``## slug`` heading can be linked to as ``#slug``.

    Raises:
        KerfwrightError: there is no such page.
    """
    return _html(page, help_text(page))


@cache
def _html(page: str, text: str) -> str:
    """Make a page of its text; done once, as every plan comes with every page."""
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = parser.parse(text)
    title = page
    for i, token in enumerate(tokens):
        if token.type == "heading_open":
            words = tokens[i + 1].content
            token.attrSet("id", heading_id(words))
            if token.tag == "h1":
                title = words
            elif _PAGE.fullmatch(words):
                _set_text(tokens[i + 1], words.replace("-", " ").capitalize())
        elif token.type == "inline":
            _point_links_to_pages(token)
    body = Markup(parser.renderer.render(tokens, parser.options, {}))
    return render("help.html", page=page, title=title, body=body)


def heading_id(words: str) -> str:
    """Anchor of a heading; a code's slug is its own anchor."""
    return "-".join(re.findall(r"[a-z0-9]+", words.lower()))


def write_help(folder: Path | str, pages: Iterable[str] | None = None) -> list[str]:
    """Write pages and the index into a folder; return the names of the files.

    By default that is every page. Pages that those link to are written as well, so that no link
    leads nowhere.

    Raises:
        KerfwrightError: there is no such page.
        OSError: the folder cannot be written to.
    """
    waiting = [INDEX, *(help_pages() if pages is None else pages)]
    texts: dict[str, str] = {}
    while waiting:
        page = waiting.pop()
        if page in texts:
            continue
        texts[page] = help_html(page)
        waiting += re.findall(r'href="([a-z0-9-]+)\.html', texts[page])
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    for page, text in texts.items():
        (target / f"{page}.html").write_text(text, encoding="utf-8")
    return sorted(f"{page}.html" for page in texts)


def _folder() -> Path:
    for place in PLACES:
        if place.is_dir():
            return place
    raise KerfwrightError(
        "ticket/help-page-missing",
        file="docs/help",
        thing="the help pages are not where they were installed.",
        remedy="Install Kerfwright again.",
    )


def _set_text(inline: Token, words: str) -> None:
    for child in inline.children or []:
        if child.type == "text":
            child.content = words
            break


def _point_links_to_pages(inline: Token) -> None:
    for child in inline.children or []:
        if child.type == "link_open":
            link = _LINK.fullmatch(str(child.attrGet("href")))
            if link:
                child.attrSet("href", f"{link['page']}.html{link['heading'] or ''}")
